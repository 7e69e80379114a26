"""The work over the API: orders, visits and their entries, what was signed, checks, flags and policies."""
