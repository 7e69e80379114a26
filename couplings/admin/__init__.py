"""Couplings in Django's administration: for what has no page of its own."""

from couplings.admin import couplings, growth, sheets, stock, tables, wear

__all__ = ["couplings", "growth", "sheets", "stock", "tables", "wear"]
