"""Visits and what follows from them in the administration: read, since crews and planners have pages to write on."""

from inspections.admin import checks, drift, lives, visits

__all__ = ["checks", "drift", "lives", "visits"]
