"""Starter rows that a site can edit: each with its source mark."""
