"""Pages of the work: start, coupling, visit, due."""
