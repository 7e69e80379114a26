"""Memory lines for pages: what the selector knows of a coupling, drawn and said in the reader's words."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from django.urls import reverse
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _

from couplings.models import Coupling
from inspections.models import Flag, Leg
from inspections.selectors.drift import FanPoint
from inspections.selectors.histories import Past, Was, list_span, pasts_of
from plant.drawings.history import (
    COUNTED,
    JUMP,
    LIST,
    NARROW,
    STRUCK,
    WIDE,
    Ahead,
    History,
    Visited,
    Words,
    memory_line,
    years_of,
)
from plant.words import day

# Flags whose evidence stands on the page of a train, and in which of its parts; flags that a history says more of.
AT_THE_HISTORY = {Flag.Kind.JUMP: "jumps", Flag.Kind.FAST: "coupling", Flag.Kind.FORECAST_OUT: "coupling"}
ABOUT_ALIGNMENT = frozenset({*AT_THE_HISTORY, Flag.Kind.OUT, Flag.Kind.LEFT_SO, Flag.Kind.READINGS})
NARROW_DAYS = 731  # a phone shows about two years back


def small_lines(couplings: Iterable[Coupling], today: date) -> dict[int, SafeString]:
    """One small line for each coupling of a list, by its id, all over the same days on the same scale."""
    rows = {one.pk: one for one in couplings}
    span = list_span(today)
    return {
        pk: _safe(memory_line(drawn(past, today), span, _label(rows[pk]), LIST, says=said(past)))
        for pk, past in pasts_of(rows.values(), today).items()
    }


def large_lines(coupling: Coupling, past: Past, today: date, fan: Iterable[FanPoint]) -> tuple[SafeString, SafeString]:
    """The line of its own page, for a phone and for a desk; the phone's shows about two years back."""
    history = drawn(past, today, fan)
    whole = years_of(history)
    near = (max(whole[0], date.fromordinal(today.toordinal() - NARROW_DAYS)), whole[1])
    words = Words(_("today"), _("next check"), _("jump"))
    label, sentence = _label(coupling), said(past)
    return (
        _safe(memory_line(history, near, label, NARROW, words, sentence)),
        _safe(memory_line(history, whole, label, WIDE, words, sentence)),
    )


def history_of(kind: str, coupling: Coupling) -> str:
    """Where the evidence of a flag about drift stands; empty for others. The coupling comes with its train."""
    part = AT_THE_HISTORY.get(Flag.Kind(kind))
    return f"{reverse('train', args=[coupling.train.uuid])}#{part}-{coupling.uuid}" if part else ""


def drawn(past: Past, today: date, fan: Iterable[FanPoint] | None = None) -> History:
    """The plain values of a drawing; `fan` in place of the past's own."""
    points = past.ahead if fan is None else fan
    check = past.check
    return History(
        visits=[_visited(one, past.legs.get(one.visit.pk)) for one in past.visits],
        ahead=[Ahead(one.on, one.low, one.middle, one.high) for one in points],
        today=today,
        due_on=check.due_on if check is not None else None,
        due_says=day(check.due_on, weekday=False, year=False) if check is not None else "",
        other_on=check.runner_up_on if check is not None else None,
        elements=[(on, _("element %(n)s") % {"n": number}) for number, (on, _part) in enumerate(past.elements, 1)],
    )


def _visited(was: Was, leg: Leg | None) -> Visited:
    return Visited(
        was.visit.on,
        found=was.found.used if was.found is not None else None,
        left=was.left.used if was.left is not None else None,
        reached=reached(leg),
        says=_("jump: %(cause)s") % {"cause": leg.get_cause_display()} if leg is not None and leg.cause else "",
        stated=was.stated and was.found is None and was.left is None,
    )


def reached(leg: Leg | None) -> str:
    """How the line leads to the visit a leg ends in."""
    if leg is None:
        return ""
    if leg.why_not == Leg.WhyNot.LEFT_OUT:
        return STRUCK
    return "" if leg.why_not else JUMP if leg.jump else COUNTED


def said(past: Past) -> str:
    """What a screen reader says is on a line: the last position, what is forecast for the check, and its date."""
    words = []
    if (last := past.last) is not None:
        taken = last.left or last.found
        assert taken is not None
        share = f"{100 * taken.used:.0f} %" if taken.used is not None else _("not judged")
        template = _("Left on %(day)s at %(share)s of the limit") if last.left else _("Found on %(day)s at %(share)s")
        words.append(template % {"day": day(last.visit.on, weekday=False), "share": share})
    else:
        words.append(_("Not measured yet"))
    if past.check is not None:
        words.append(_("next alignment check %(day)s") % {"day": day(past.check.due_on, weekday=False)})
    return "; ".join(words) + "."


def _label(coupling: Coupling) -> str:
    return _("History of %(tag)s: tolerance used, visit by visit") % {"tag": coupling.tag}


def _safe(svg: str) -> SafeString:
    """Drawings escape what people typed; see plant/drawings/svg.py."""
    return mark_safe(svg)
