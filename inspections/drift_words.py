"""Drift in sentences: how many legs and whose, which feet moved, what a jump was, for whoever reads it."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as lazily
from django.utils.translation import ngettext

from inspections.forecasting.feet import BOTH, FootMove
from inspections.models import DriftState
from inspections.selectors.drift import DriftView, Looked
from plant import units
from plant.words import chance, day

NBSP = "\u00a0"
LIKELY = 0.05  # an explanation whose misfit is rarer is not said
COMPONENTS: dict[str, Any] = {
    "offset.vertical": lazily("the vertical offset"),
    "offset.horizontal": lazily("the horizontal offset"),
    "slope.vertical": lazily("the vertical slope"),
    "slope.horizontal": lazily("the horizontal slope"),
}


def basis_sentences(view: DriftView) -> list[str]:
    """What the forecast rests on: how many legs, whose they are, what it can't know."""
    state = view.state
    if state is None:
        return [_("Nothing was measured here yet, so there is no forecast.")]
    if state.why_not:
        return [_why_not(state)]
    count = ngettext("%(n)s leg of its own", "%(n)s legs of its own", state.legs) % {"n": state.legs}
    said = []
    if view.group is not None and state.own_share is not None:
        words = _("%(legs)s: %(own)s of its pace is its own, the rest is what %(others)s couplings of %(group)s do.")
        said.append(
            words
            % {
                "legs": count,
                "own": _percent(state.own_share),
                "others": view.others,
                "group": group_words(view.group.level),
            }
        )
    if state.hours_per_day is not None:
        words = _("Counted by run hours, at %(hours)s a day.")
        said.append(words % {"hours": f"{state.hours_per_day:.1f}{NBSP}h"})
        if state.hours_guessed:
            said.append(_("Not every hour was read off the meter: some are taken as running all the time."))
    if state.extrapolated:
        said.append(_("Its next date lies past twice its longest leg: nobody has seen it run that long untouched."))
    said.append(_("The doubt of the readings widens the interval; it does not say that the machine moves."))
    return said


def group_words(level: str) -> str:
    """Who a coupling learns from."""
    return {"kind": _("its kind"), "site": _("this site"), "all": _("all sites")}[level]


def feet_sentences(
    feet: tuple[FootMove, ...],
    system: str = "metric",
    *,
    yearly: bool = True,
    names: Mapping[str, str] | None = None,
) -> list[str]:
    """Which feet moved, the likeliest first in each plane, and what cannot be told apart from it.

    `names` are what the machines on the sides "driver" and "driven" are called.
    """
    called = {"driver": _("driver-side machine"), "driven": _("driven-side machine")} | dict(names or {})
    said = []
    for plane in ("vertical", "horizontal"):
        ways = [one for one in feet if one.plane == plane]
        if not ways:
            continue
        likely = [one for one in ways if one.probability >= LIKELY]
        title = _("Up and down") if plane == "vertical" else _("Sideways")
        if not likely:
            said.append(_("%(plane)s: no single foot plane explains it; more than one moved.") % {"plane": title})
            continue
        sentence = _("%(plane)s: most like %(way)s") % {"plane": title, "way": _way(likely[0], system, yearly, called)}
        if len(likely) > 1:
            others = "; ".join(_way(one, system, yearly, called) for one in likely[1:3])
            sentence += _("; as far as the readings tell also %(ways)s") % {"ways": others}
        said.append(sentence + ".")
    return said


def _way(one: FootMove, system: str, yearly: bool, called: Mapping[str, str]) -> str:
    size = units.written(abs(one.move), "gap", system)
    if one.plane == "vertical":
        went = _("rising") if one.move > 0 else _("sinking")
    else:
        went = (
            _("going right, seen from the driver end,") if one.move > 0 else _("going left, seen from the driver end,")
        )
    who = _("the whole %(machine)s") if one.kind == BOTH else _("the %(feet)s feet of the %(machine)s")
    who = who % {"machine": called[one.machine], "feet": ", ".join(one.feet)}
    words = _("%(who)s %(went)s by %(size)s a year") if yearly else _("%(who)s %(went)s by %(size)s")
    return words % {"who": who, "went": went, "size": size}


def jump_sentence(jump: dict[str, Any]) -> str:
    """One leg that its history does not explain, with what speaks for it."""
    words = _("Between %(begin)s and %(end)s it moved through %(share)s of the tolerance, most in %(component)s")
    sentence = words % {
        "begin": _day(jump["from"]),
        "end": _day(jump["on"]),
        "share": _percent(jump["moved_share"]) if jump.get("moved_share") is not None else _("an unknown part"),
        "component": COMPONENTS[jump["component"]],
    }
    return sentence + _("; its own history and its group explain that once in %(times)s times.") % {
        "times": _once_in(jump["probability"])
    }


def looked_sentence(looked: Looked) -> str:
    """What a look on another day would mean, beside what is accepted and the plain straight line."""
    words = _(
        "By %(date)s %(chance)s that it is out of tolerance; %(risk)s is accepted. It then uses %(middle)s of the "
        "tolerance, nine times in ten between %(low)s and %(high)s."
    )
    said = words % {
        "date": day(looked.on, weekday=False),
        "chance": chance(looked.chance),
        "risk": chance(looked.risk),
        "middle": _percent(looked.middle),
        "low": _percent(looked.low),
        "high": _percent(looked.high),
    }
    if looked.straight_on is not None:
        line = _("A straight line through its movements reaches 70\u00a0%% of the tolerance on %(date)s.")
        said += " " + line % {"date": day(looked.straight_on, weekday=False)}
    if looked.extrapolated:
        said += " " + _("That is further ahead than twice its longest leg.")
    return said


def _once_in(probability: float) -> str:
    if probability < 1e-6:
        return _("more than a million")
    return f"{round(1 / probability):,}".replace(",", NBSP)


def _why_not(state: DriftState) -> str:
    return {
        DriftState.Why.NO_SURVEY.value: _("How it stands now was not measured, so there is no forecast."),
        DriftState.Why.NO_LIMITS.value: _("No limits are set here, so nothing can be forecast."),
        DriftState.Why.NO_FIT.value: _("The group it learns from has not been fitted yet; that happens each week."),
    }[state.why_not]


def _percent(share: float) -> str:
    return f"{share * 100:.0f}{NBSP}%"


def _day(text: str) -> str:
    return day(date.fromisoformat(text), weekday=False)
