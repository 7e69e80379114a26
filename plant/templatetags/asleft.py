"""What templates print: quantities, verdicts, dates and drawings. No arithmetic or rounding in a template."""

import re
from collections.abc import Mapping
from datetime import date
from math import isfinite
from typing import Any

from django import template
from django.forms import BoundField
from django.utils.html import conditional_escape, format_html
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _

from plant import drawings, units, words
from plant.drawings.marks import UNKNOWN

register = template.Library()

# What a limit bounds: the words of the row and the kind of quantity it is printed as.
LIMITED = {
    "offset": ("Offset at the coupling’s centre", "gap"),
    "angularity": ("Angularity", "slope"),
    "flex-angle": ("Larger angle of the two flex planes", "slope"),
    "flex-angle-a": ("Angle at flex plane A", "slope"),
    "flex-angle-b": ("Angle at flex plane B", "slope"),
    "axial": ("Axial position", "gap"),
    "combined": ("Sum of the shares", "share"),
    "run-out": ("Run-out", "gap"),
}
FAMILIES = {"sheet": "data sheet", "grade": "speed grade"}
NO_BREAK = "\u00a0"
_UNIT = r"(?:mm/m|mrad|thou/inch|thou|mm|inch|N·m|lbf·ft|lbf·in|rpm|kW|hp|MPa|psi|%|°C|°F)"
_MEASURED = re.compile(rf"[±+−-]?\d+(?:[.,]\d+)*[ \u00a0]{_UNIT}(?![\w/])")
_TAG = re.compile(r"(?<![\w-])[A-Z]{1,6}(?:-[A-Z0-9]{1,6})*-\d{1,5}[A-Z]?(?![\w-])")


@register.simple_tag(takes_context=True)
def q(context: Mapping[str, Any], value: float | None, kind: str, signed: bool = False) -> str:
    """Print a base value with its unit in the site's system: {% q move.up_mm "gap" signed=True %}."""
    return units.written(value, kind, context.get("system") or "metric", signed=signed)


@register.simple_tag(takes_context=True)
def unit_of(context: Mapping[str, Any], kind: str) -> str:
    """Print the unit in which a bare number would be taken, for the space beside a field."""
    return units.label_of(kind, context.get("system") or "metric")


@register.simple_tag
def state(verdict: str | None, extra: str = "") -> SafeString:
    """The state mark and its word, never one without the other; nothing judged is "not known"."""
    word = verdict or UNKNOWN
    mark = mark_safe(drawings.state_mark(word))
    return format_html('<span class="state">{}<span>{}{}</span></span>', mark, word, extra)


@register.simple_tag
def state_mark(verdict: str | None) -> SafeString:
    """The mark alone, for a heading that carries the word itself."""
    return mark_safe(drawings.state_mark(verdict or UNKNOWN))


@register.simple_tag
def limit_line(share: float | None, share_u: float | None, verdict: str | None) -> SafeString:
    """The limit line; share and its half width as parts of the limit (1 = the limit)."""
    return mark_safe(drawings.limit_line(share, share_u, verdict or UNKNOWN))


@register.inclusion_tag("plant/fragments/limit_row.html")
def limit_row(line: Any, system: str, why: str = "") -> dict[str, Any]:
    """One limit with its value, line, state, share and source: a judgement's LimitLine in the site's units.

    What stands behind ± is the whisker's half width, the reach at the decision's confidence: number and drawing agree.
    """
    name, kind = LIMITED.get(line.quantity, (str(line.quantity).replace("-", " ").capitalize(), "gap"))
    if plane := getattr(line, "plane", ""):
        name = f"{name}, {plane}"
    if line.quantity == "combined":
        source = ""
    else:
        family = getattr(line, "family", "")
        source = getattr(line, "source", "") or FAMILIES.get(family, family)

    def bare(value: float) -> str:
        return units.written(value, kind, system).removesuffix(NO_BREAK + units.label_of(kind, system))

    known = line.share is not None and isfinite(line.share)
    reach = known and line.share_u is not None and isfinite(line.share_u)
    return {
        "line": line,
        "name": name,
        "source": source,
        "known": known,
        "value": bare(line.value) if known else "",
        "half_width": bare(line.share_u * line.limit) if reach else "",
        "limit": units.written(line.limit, kind, system),
        "share": units.written(line.share, "share", system) if known else "",
        "why": why,
    }


@register.simple_tag
def governing(lines: Any, system: str) -> SafeString | str:
    """The figure nearest to its limit, or farthest beyond it, as a sentence; nothing where none is known."""
    known = [line for line in lines if line.share is not None and line.quantity in LIMITED]
    if not known:
        return ""
    line = max(known, key=lambda one: one.share)
    name, kind = LIMITED[line.quantity]
    words = _("%(name)s: %(value)s where the %(family)s allows %(limit)s.") % {
        "name": name,
        "value": units.written(line.value, kind, system),
        "family": _("data sheet") if line.family == "sheet" else _("speed grade"),
        "limit": units.written(line.limit, kind, system),
    }
    return sentence(words)


@register.inclusion_tag("plant/fragments/shaft_picture.html")
def shaft_picture(picture: drawings.ShaftPicture) -> dict[str, Any]:
    """Both views of the shafts with captions and scale; put the table of moves after it."""
    views = drawings.shaft_picture(picture)
    return {
        "side": views.side and mark_safe(views.side),
        "above": views.above and mark_safe(views.above),
        "views": views,
    }


@register.simple_tag
def clock_ring(readings_mm: Mapping[float, float], active: float | None = None) -> SafeString:
    """The ring inside the clock face; degrees clockwise from 12 -> reading with the sag taken out."""
    return mark_safe(drawings.clock_ring(readings_mm, active))


@register.inclusion_tag("plant/fragments/field.html")
def form_field(field: BoundField, unit: str = "") -> dict[str, Any]:
    """A form's field as a ruled line: label above, unit beside, error next to it, what was typed kept as typed."""
    kind = field.widget_type
    return {
        "field": field,
        "unit": unit or getattr(field.field, "unit", ""),
        "one": kind in {"checkbox"},
        "several": kind in {"radioselect", "checkboxselectmultiple"},
        "bare": kind in {"select", "selectmultiple", "textarea", "clearablefile", "file", "nullbooleanselect"},
        "figures": kind == "number" or field.field.widget.attrs.get("inputmode") in {"decimal", "numeric"},
    }


@register.filter
def day(on: date | None, form: str = "") -> str:
    """Sunday 14 March 2027; {{ d|day:"short" }} 14 March 2027; {{ d|day:"near" }} 14 March."""
    if on is None:
        return "not known"
    return words.day(on, weekday=not form, year=form != "near")


@register.filter
def away(on: date | None, today: date) -> str:
    """In 2 weeks, today, 3 weeks over: against the site's own day, never the server's."""
    return "not known" if on is None else words.away(on, today)


@register.filter
def overdue(on: date | None, today: date) -> bool:
    """Whether the day is past, to underline it doubly."""
    return on is not None and on < today


@register.filter
def chance(probability: float | None) -> str:
    """One chance in fifty, ninety-four in a hundred."""
    return words.chance(probability)


@register.filter(is_safe=True)
def tag(name: object) -> SafeString:
    """A tag that never breaks at its hyphen."""
    return format_html('<span class="tag">{}</span>', name)


@register.filter(is_safe=True)
def sentence(said: str) -> SafeString:
    """A reason sentence: escaped first, then its quantities made bold and its tags unbreakable."""
    text = str(conditional_escape(said or ""))
    text = _MEASURED.sub(lambda m: f"<b>{m[0].replace(' ', NO_BREAK)}</b>", text)
    return mark_safe(_TAG.sub(lambda m: f'<span class="tag">{m[0]}</span>', text))


@register.filter
def of(rows: Mapping[str, Any], name: str) -> Any:
    """The value under a name that is only known while printing."""
    return rows.get(name, "")


@register.filter
def at(rows: Any, number: int) -> Any:
    """The row of that number, for two lists that run side by side."""
    return rows[number]
