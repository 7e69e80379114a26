"""The pure core: numbers and frozen dataclasses in, the same out.

numpy and scipy only; no Django, no clock, no settings.
"""
