"""Signing: what still stands against it, and the one act that turns a draft into a record."""
