"""What the crew and the planner do. The only place that changes the record of visits; always inside `recording()`."""
