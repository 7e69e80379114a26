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


@register.simple_tag(takes_context=True)
def not_there(context: Mapping[str, Any], short_mm: float) -> SafeString:
    """What should come out and does not lie there: the machine cannot come down so far."""
    return format_html(
        _("<b>{}</b> more should come out and is not there: raise the other feet or the other machine instead."),
        units.written(short_mm, "gap", _system(context)),
    )


@register.simple_tag(takes_context=True)
def under_foot(context: Mapping[str, Any], pack: Any) -> SafeString:
    """One foot's shims: what to take out, then what to put in, and how many there are then at the least."""
    system, change = _system(context), pack.change

    def size(mm: float) -> str:
        return units.written(mm, "gap", system)

    acts = [_("take out %s") % " + ".join(size(mm) for mm in change.take_out_mm)] if change.take_out_mm else []
    acts += [_("put in %s") % size(change.put_in_mm)] if change.put_in_mm else []
    count = _("%(count)d of at most %(most)d shims") % {"count": change.count, "most": pack.most}
    over = _("; too many: make the height of fewer, thicker ones") if pack.too_many else ""
    return format_html(
        "{}: {} ({}, {}{})",
        pack.foot.capitalize(),
        _(", then ").join(acts) or _("leave %s") % size(pack.total_mm),
        pack.whence,
        count,
        over,
    )


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
