"""Why drift sets a date, in a sentence with its numbers; the numbers are those of `asked_by_drift`."""

from __future__ import annotations

from datetime import date
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from plant.words import chance, day


def drift_why(numbers: dict[str, Any]) -> str:
    """The reason behind a date by drift, and what it is worth."""
    # Where the risk sets the day it is the accepted one; the day itself is a whole one, so a little less.
    said = chance(numbers["drift_risk"] if numbers["drift_by"] == "risk" else numbers["drift_chance"])
    if numbers["drift_by"] == "shortest":
        words = _(
            "at this train's pace %(chance)s that it is out of tolerance by then, more than is accepted, and the site "
            "looks no sooner than %(days)s after it was left"
        )
        sentence = words % {"chance": said, "days": _days(numbers["shortest_days"])}
    elif numbers.get("drift_waits"):
        words = _(
            "at this train's pace %(chance)s that it is out of tolerance by then; %(legs)s let it wait longer than the "
            "regular interval"
        )
        sentence = words % {"chance": said, "legs": _legs(numbers["drift_legs"])}
    else:
        sentence = _("at this train's pace %(chance)s that it is out of tolerance by then") % {"chance": said}
    if numbers["drift_extrapolated"]:
        sentence += _(" (further ahead than twice its longest leg)")
    return sentence


def drift_runner_up(on: date, numbers: dict[str, Any]) -> str:
    """What drift would have said."""
    words = _("at this train's pace drift would say %(date)s")
    return words % {"date": day(on, weekday=False)}


def _days(count: int) -> str:
    return ngettext("%(n)s\u00a0day", "%(n)s\u00a0days", count) % {"n": count}


def _legs(count: int) -> str:
    return ngettext("%(n)s leg of its own", "%(n)s legs of its own", count) % {"n": count}
