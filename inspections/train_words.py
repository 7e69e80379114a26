"""What the page of a train says in sentences: its heading, the forecast, components, stretches between visits."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as lazily
from django.utils.translation import ngettext

from couplings.models import Coupling
from inspections.drift_words import LIKELY, group_words, jump_sentence
from inspections.forecasting.feet import BOTH, FootMove
from inspections.forecasting.forecast import STRAIGHT_LINE_TO
from inspections.forecasting.outlook import BY_LONGEST, BY_SHORTEST
from inspections.models import Check, DriftState, Leg
from inspections.selectors.drift import DriftView, chance_on
from inspections.selectors.histories import Past
from inspections.selectors.train_drift import COMPONENTS, Behind, Component
from plant import units
from plant.words import chance, day, span

NBSP = "\u00a0"
SURE = 0.995  # no later day says more
NAMES: dict[str, Any] = {
    "offset.vertical": lazily("Offset, vertical"),
    "offset.horizontal": lazily("Offset, sideways"),
    "slope.vertical": lazily("Angularity, vertical"),
    "slope.horizontal": lazily("Angularity, sideways"),
}
_CLEARLY: dict[str, tuple[Any, Any]] = {
    "offset.vertical": (lazily("%(driver)s rises against %(driven)s"), lazily("%(driver)s sinks against %(driven)s")),
    "offset.horizontal": (lazily("%(driver)s goes right"), lazily("%(driver)s goes left")),
    "slope.vertical": (lazily("far end of %(driver)s rises"), lazily("far end of %(driver)s sinks")),
    "slope.horizontal": (lazily("far end of %(driver)s goes right"), lazily("far end of %(driver)s goes left")),
}


def percent(share: float) -> str:
    return f"{100 * share:.0f}{NBSP}%"


def heading(tag: str, told: Sequence[tuple[DriftView, Past]]) -> str:
    """The answer first: what moves, what jumped, or that nothing is known."""
    unexplained = [leg for view, _past in told for leg in view.legs if leg.used and leg.jump and not leg.cause]
    if unexplained:
        last = max(unexplained, key=lambda leg: leg.to_on)
        return _("%(tag)s jumped before %(day)s, and nobody has said why") % {
            "tag": tag,
            "day": day(last.to_on, weekday=False),
        }
    fastest = max(
        (view for view, _past in told if view.state is not None and view.state.pace_share is not None),
        key=lambda view: (bool(view.feet), view.state.pace_share if view.state else 0.0),
        default=None,
    )
    if fastest is not None:
        if fastest.feet and (way := _clearest(fastest.feet)) is not None:
            return _moves_at(tag, fastest.coupling, way)
        if all(view.state is not None and not view.state.why_not for view, _past in told):
            return _("%(tag)s shows no movement one could be sure of") % {"tag": tag}
    if any(past.last is not None for _view, past in told):
        return _("%(tag)s is measured, but not forecast yet") % {"tag": tag}
    return _("How %(tag)s stands was never measured") % {"tag": tag}


def _clearest(feet: Sequence[FootMove]) -> FootMove | None:
    """The likeliest way of that plane in which the movement stands out most."""
    firsts: dict[str, FootMove] = {}
    for one in feet:
        firsts.setdefault(one.plane, one)
    known = [one for one in firsts.values() if one.probability >= LIKELY and one.u > 0]
    return max(known, key=lambda one: abs(one.move) / one.u, default=None)


def _moves_at(tag: str, coupling: Coupling, way: FootMove) -> str:
    machine = coupling.driver_machine if way.machine == "driver" else coupling.driven_machine
    where = _("with the whole %(machine)s") if way.kind == BOTH else _("at the %(feet)s feet of the %(machine)s")
    where = where % {"machine": machine.name, "feet": ", ".join(way.feet)}
    words = _("%(tag)s moves sideways %(where)s") if way.plane == "horizontal" else _("%(tag)s %(goes)s %(where)s")
    return words % {"tag": tag, "where": where, "goes": _("rises") if way.move > 0 else _("sinks")}


def stands_sentence(past: Past, view: DriftView) -> str:
    """What was measured, and what is expected today; the two are never mixed."""
    last = past.last
    if last is None:
        return _("No signed visit has measured it yet.")
    taken = last.left or last.found
    assert taken is not None
    template = (
        _("Left %(verdict)s on %(day)s at %(share)s of the limit (measured).")
        if last.left is not None
        else _("Found %(verdict)s on %(day)s at %(share)s of the limit (measured).")
    )
    share = percent(taken.used) if taken.used is not None else _("an unknown part")
    said = template % {"verdict": taken.verdict, "day": day(last.visit.on, weekday=False), "share": share}
    if view.now is not None and view.now.middle == view.now.middle:
        words = _("Today about %(middle)s, nine chances in ten between %(low)s and %(high)s (expected).")
        said += " " + words % {
            "middle": percent(view.now.middle),
            "low": percent(view.now.low),
            "high": percent(view.now.high),
        }
    return said


def forecast_sentences(state: DriftState | None, check: Check | None, today: date) -> list[str]:
    """By when with which chance; what is accepted; what the runner-up would mean."""
    if state is None or not state.curve:
        return []
    said = []
    days = []
    if check is not None and check.due_on < today:
        days.append((today, _("today")))
    if check is not None:
        days.append((check.due_on, _("the next check")))
        if check.runner_up_on is not None and check.runner_up_on != check.due_on:
            days.append((check.runner_up_on, _("the other date")))
    elif state.due_on is not None:
        days.append((state.due_on, _("the day its drift asks for a check")))
    for on, what in sorted(days, key=lambda one: one[0]):
        if (risk := chance_on(state, on)) is not None:
            words = _("By %(day)s, %(what)s: %(chance)s that it has been out of tolerance.")
            said.append(words % {"day": day(on, weekday=False), "what": what, "chance": chance(risk)})
            if risk > SURE:
                break
    if state.risk is not None:
        said.append(_("Accepted here: %(chance)s.") % {"chance": chance(state.risk)})
    if state.due_on is not None:
        by = {
            BY_SHORTEST: _("Drift asks for the check on %(day)s, the site’s shortest interval."),
            BY_LONGEST: _("Drift would let the check wait until %(day)s, the longest interval allowed."),
        }.get(state.due_by, _("Drift asks for the check by %(day)s."))
        said.append(by % {"day": day(state.due_on, weekday=False)})
    return said


def basis_rows(view: DriftView) -> list[tuple[str, str]]:
    """What the forecast rests on, row by row."""
    state, group = view.state, view.group
    if state is None:
        return []
    count = ngettext("%(n)s stretch between visits", "%(n)s stretches between visits", state.legs) % {"n": state.legs}
    if state.legs:
        count += "; " + _("the longest %(span)s") % {"span": span(round(state.longest_days))}
    rows = [(_("Rests on"), count)]
    if group is not None and state.own_share is not None:
        others = ngettext("%(n)s other coupling", "%(n)s other couplings", view.others) % {"n": view.others}
        words = _("%(own)s its own, %(rest)s from %(others)s of %(group)s")
        rows.append(
            (
                _("Whose pace"),
                words
                % {
                    "own": percent(state.own_share),
                    "rest": percent(1 - state.own_share),
                    "others": others,
                    "group": group_words(group.level),
                },
            )
        )
        rows.append((_("Counts by"), _clock(state)))
    if state.used_left:
        words = _("as left %(middle)s, between %(low)s and %(high)s by the readings alone: they widen the forecast")
        rows.append((_("Reading noise"), words % _shares(state.used_left)))
    if state.used_due and state.due_on is not None:
        words = _("about %(middle)s by %(day)s, nine chances in ten between %(low)s and %(high)s")
        rows.append(
            (_("When drift asks"), words % {**_shares(state.used_due), "day": day(state.due_on, weekday=False)})
        )
    if state.curve:
        if state.straight_on is not None:
            straight = _("%(share)s of the tolerance on %(day)s, by a line that allows nothing for chance")
        else:
            straight = _("reaches no %(share)s of the tolerance within twenty years")
        on = day(state.straight_on, weekday=False) if state.straight_on is not None else ""
        straight = straight % {"share": percent(STRAIGHT_LINE_TO), "day": on}
        rows.append((_("Straight line"), straight))
    if state.extrapolated:
        rows.append(
            (
                _("Looks far"),
                _("past twice the longest stretch seen: nobody has seen it run so long untouched"),
            )
        )
    return rows


def _shares(three: Sequence[float]) -> dict[str, str]:
    return dict(zip(("middle", "low", "high"), (percent(one) for one in three), strict=True))


def _clock(state: DriftState) -> str:
    if state.hours_per_day is None:
        return _("the calendar")
    said = _("run hours, at %(hours)s a day") % {"hours": f"{state.hours_per_day:.1f}{NBSP}h"}
    if state.hours_guessed:
        said += "; " + _("where no meter says, as if it ran all the time")
    return said


def component_row(one: Component, coupling: Coupling, system: str) -> dict[str, str]:
    """A component's rate in figures and words."""

    def figure(value: float | None, signed: bool = True) -> str:
        if value is None:
            return _("not known")
        places = units.KINDS[one.kind]
        decimals = (places.us if system == units.US else places.metric)[1] + 1
        return units.written(value, one.kind, system, signed=signed, decimals=decimals)

    words = _("not known")
    if one.rate is not None:
        names = {"driver": coupling.driver_machine.name, "driven": coupling.driven_machine.name}
        words = str(_CLEARLY[one.key][0 if one.rate > 0 else 1]) % names if one.clear else _("no clear direction")
    return {
        "name": str(NAMES[one.key]),
        "rate": figure(one.rate),
        "u": figure(one.rate_u, signed=False),
        "group": figure(one.group_rate),
        "words": words,
    }


def leg_sentence(leg: Leg) -> str:
    """What speaks for a jump, made from the row, whether its cause is known or not."""
    z = [abs(one) if one is not None else 0.0 for one in leg.z] or [0.0] * 4
    return jump_sentence(
        {
            "from": leg.from_on.isoformat() if leg.from_on else leg.to_on.isoformat(),
            "on": leg.to_on.isoformat(),
            "moved_share": leg.moved_share,
            "probability": leg.probability or 0.0,
            "component": COMPONENTS[z.index(max(z))],
        }
    )


def behind_words(one: Behind | None, system: str) -> str:
    """Method, instruments and temperatures of one end."""
    if one is None:
        return _("an old card, without readings")
    said = [one.method.replace("-", " ")]
    said.append(", ".join(one.instruments) if one.instruments else _("no instrument named"))
    heat = [
        f"{name} {units.written(degrees, 'temperature', system)}"
        for name, degrees in ((_("driver"), one.driver_degc), (_("driven"), one.driven_degc))
        if degrees is not None
    ]
    said.append(", ".join(heat) if heat else _("no temperatures written down"))
    if one.corrected:
        said.append(_("brought to the reference temperature"))
    return "; ".join(said)
