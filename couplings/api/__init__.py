"""The API of couplings and what they are made of."""
