"""Couplings in Django's administration: for what has no page of its own."""

from couplings.admin import couplings, sheets, wear

__all__ = ["couplings", "sheets", "wear"]
