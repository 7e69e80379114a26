"""Diameters, keys and clearances as a page prints them: to the thousandths in which fits are measured."""

from collections.abc import Mapping
from typing import Any

from django import template

from couplings.calculations.figures import fine as written

register = template.Library()


@register.simple_tag(takes_context=True)
def fine(context: Mapping[str, Any], base: float | None, kind: str) -> str:
    """Print a length in the site's system to a micrometre or a ten-thousandth of an inch."""
    return written(base, kind, context.get("system") or "metric")
