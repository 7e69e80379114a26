"""What the crew and the engineers do with couplings: the only place that changes their record."""
