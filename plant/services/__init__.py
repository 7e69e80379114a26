"""What the keepers of the register do, one function each."""
