"""Questions to the register, each with a name."""
