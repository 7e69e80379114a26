"""Moves and shims in words: which way, how much, how sure. Never a bare plus or minus for a direction."""

import math
from collections.abc import Mapping
from typing import Any

from django import template
from django.utils.html import format_html
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _

from plant import units

register = template.Library()
TWO = 2.0  # two standard deviations, about 95 in 100


@register.simple_tag(takes_context=True)
def up_down(context: Mapping[str, Any], move_mm: float | None, u_mm: float | None) -> SafeString | str:
    """A vertical move: "down 0.07 mm ± 0.02"."""
    return _move(context, move_mm, u_mm, _("up"), _("down"))


@register.simple_tag(takes_context=True)
def sideways(context: Mapping[str, Any], move_mm: float | None, u_mm: float | None) -> SafeString | str:
    """A horizontal move: "right 0.12 mm ± 0.05", as seen from behind the movable machine."""
    return _move(context, move_mm, u_mm, _("right"), _("left"))


@register.simple_tag(takes_context=True)
def shims(context: Mapping[str, Any], shim_mm: float | None) -> SafeString | str:
    """What the shim stock can do: "take out 0.20 mm", "put in 0.05 mm"."""
    if shim_mm is None:
        return _("not known")
    if shim_mm == 0:
        return _("leave them")
    size = units.written(abs(shim_mm), "gap", _system(context))
    return format_html("{} <b>{}</b>", _("put in") if shim_mm > 0 else _("take out"), size)


def _move(
    context: Mapping[str, Any], move_mm: float | None, u_mm: float | None, plus: str, minus: str
) -> SafeString | str:
    if move_mm is None or not math.isfinite(move_mm):
        return _("not measured in this plane")
    system = _system(context)
    size = units.written(abs(move_mm), "gap", system)
    spread = ""
    if u_mm is not None and math.isfinite(u_mm):
        spread = f" ± {units.figures(units.in_unit(TWO * u_mm, 'gap', units.unit_of('gap', system)), 'gap', system)}"
    return format_html("{} <b>{}</b>{}", plus if move_mm >= 0 else minus, size, spread)


def _system(context: Mapping[str, Any]) -> str:
    return str(context.get("system") or units.METRIC)
