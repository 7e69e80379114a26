"""What the page of a train shows of each of its couplings: plain values and drawings for its template."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from math import isfinite, sqrt
from typing import Any

from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _

from couplings.models import Coupling, Fit
from couplings.selectors.limits import limits_of_each
from inspections.drift_words import feet_sentences, looked_sentence
from inspections.models import DriftState, Leg
from inspections.pages.history_lines import large_lines, reached
from inspections.reasons import check_sentence, flag_sentence
from inspections.selectors.drift import DriftView, drift_views, feet_in, looked_on
from inspections.selectors.flags import open_flags
from inspections.selectors.histories import Past, Was, pasts_of
from inspections.selectors.train_drift import (
    NINE_IN_TEN,
    FootPlane,
    behind_legs,
    components_of,
    planes_of,
    tried_move,
)
from inspections.selectors.whatif import TRAVEL_MM
from inspections.train_words import (
    NAMES,
    basis_rows,
    behind_words,
    component_row,
    forecast_sentences,
    leg_sentence,
    stands_sentence,
)
from plant import units
from plant.drawings import Ahead, LegLine, component_plot
from plant.models import Person
from plant.words import day, span

AHEAD_DAYS = 366
FARTHEST_DAYS = 1826  # five years: as far as a stored forecast reaches
WAYS = {"up": (1.0, 0.0), "down": (-1.0, 0.0), "right": (0.0, 1.0), "left": (0.0, -1.0)}


@dataclass
class Part:
    """One coupling on the page of its train."""

    coupling: Coupling
    fit: Fit | None
    view: DriftView
    past: Past
    stands: str
    forecast: list[str]
    why: str
    basis: list[tuple[str, str]]
    narrow: SafeString
    wide: SafeString
    components: list[dict[str, Any]]
    feet: list[str]
    legs: list[dict[str, Any]]
    jumps: list[dict[str, Any]]
    rows: list[Was]
    limits: Sequence[Any]
    targets: list[Any]
    flags: list[tuple[Any, str]]
    planes: list[FootPlane]
    look: dict[str, Any] = field(default_factory=dict)
    trial: dict[str, Any] = field(default_factory=dict)


def parts_of(person: Person, couplings: list[Coupling], given: Mapping[str, str], today: date) -> list[Part]:
    """Every coupling of one train; as many questions for five as for one."""
    views = drift_views(couplings, today)
    pasts = pasts_of(couplings, today, fan=False)
    fits = {
        fit.coupling_id: fit
        for fit in Fit.objects.filter(coupling__in=couplings, removed_on__isnull=True)
        .select_related("sheet_version__sheet__family")
        .prefetch_related("sheet_version__limits")
    }
    held = [(one, fits[one.pk].sheet_version) for one in couplings if one.pk in fits]
    limits = limits_of_each(held) if held else {}
    behind = behind_legs([leg for view in views.values() for leg in view.legs])
    flags: dict[int, list[tuple[Any, str]]] = {}
    for flag in open_flags(person=person, coupling__in=couplings):
        flags.setdefault(flag.coupling_id, []).append((flag, flag_sentence(flag, flag.site.units)))
    parts = []
    for coupling in couplings:
        view, past, fit = views[coupling.pk], pasts[coupling.pk], fits.get(coupling.pk)
        system, state = coupling.site.units, view.state
        for leg in view.legs:
            leg.coupling = coupling
        narrow, wide = large_lines(coupling, past, today, view.fan)
        part = Part(
            coupling=coupling,
            fit=fit,
            view=view,
            past=past,
            stands=stands_sentence(past, view),
            forecast=forecast_sentences(state, past.check, today),
            why=check_sentence(past.check, system) if past.check is not None else "",
            basis=basis_rows(view),
            narrow=narrow,
            wide=wide,
            components=_components(coupling, view, today, system),
            feet=feet_sentences(view.feet, system, names=_names(coupling)),
            legs=[_leg(leg, behind[leg.pk], system) for leg in reversed(view.legs)],
            jumps=[_jump(leg, fit, system) for leg in reversed(view.legs) if leg.jump and leg.used],
            rows=list(reversed(past.visits)),
            limits=limits[coupling.pk].limits if coupling.pk in limits else (),
            targets=list(coupling.target_parts.all()),
            flags=flags.get(coupling.pk, []),
            planes=planes_of(coupling, fit),
        )
        if given.get("of") == str(coupling.uuid):
            part.look = _looked(state, given, today)
            part.trial = _tried(part, given, today, system)
        parts.append(part)
    return parts


def _components(coupling: Coupling, view: DriftView, today: date, system: str) -> list[dict[str, Any]]:
    """Four rows and four small plots, in the site's units."""
    legs = [leg for leg in view.legs if leg.start and leg.end and leg.from_on is not None and reached(leg)]
    begin = min((leg.from_on for leg in legs if leg.from_on is not None), default=None)
    left_on = view.state.left_on if view.state is not None else None
    if begin is None:
        begin = left_on
    if begin is None:
        return []
    shown_days = (begin - timedelta(days=30), max(today, left_on or today) + timedelta(days=AHEAD_DAYS))
    rows = []
    for place, one in enumerate(components_of(view.state, view.group, shown_days[1])):
        unit = units.unit_of(one.kind, system)

        def shown(value: float, kind: str = one.kind, unit: str = unit) -> float:
            return units.in_unit(value, kind, unit)

        lines = [drawn for leg in legs if (drawn := _line(leg, place, shown)) is not None]
        ahead = [Ahead(on, shown(low), shown(middle), shown(high)) for on, low, middle, high in one.ahead]
        row: dict[str, Any] = component_row(one, coupling, system)
        label = _("%(name)s of %(tag)s over time") % {"name": NAMES[one.key], "tag": coupling.tag}
        says = _("A year: %(rate)s, plus or minus %(u)s; %(words)s.") % row
        row["plot"] = mark_safe(component_plot(lines, ahead, shown_days, label, says, today)) if lines or ahead else ""
        row["unit"] = units.label_of(one.kind, system)
        rows.append(row)
    return rows


def _line(leg: Leg, place: int, shown: Any) -> LegLine | None:
    given = [leg.start[place], leg.end[place], leg.start_variance[place], leg.end_variance[place]]
    if any(one is None for one in given) or leg.from_on is None:
        return None
    start, end, before, after = given
    return LegLine(
        leg.from_on, leg.to_on, shown(start), shown(end),
        shown(NINE_IN_TEN * sqrt(before)), shown(NINE_IN_TEN * sqrt(after)), reached(leg),
    )  # fmt: skip


def _leg(leg: Leg, behind: tuple[Any, Any], system: str) -> dict[str, Any]:
    return {
        "leg": leg,
        "moves": [
            (leg.move_offset_v_mm, "gap"),
            (leg.move_offset_h_mm, "gap"),
            (leg.move_slope_v_mrad, "slope"),
            (leg.move_slope_h_mrad, "slope"),
        ],
        "lasted": span(round(leg.days)) if leg.days is not None else "",
        "struck": leg.why_not == Leg.WhyNot.LEFT_OUT,
        "before": behind_words(behind[0], system),
        "after": behind_words(behind[1], system),
    }


def _jump(leg: Leg, fit: Fit | None, system: str) -> dict[str, Any]:
    feet = feet_sentences(feet_in(leg, fit), system, yearly=False, names=_names(leg.coupling))
    return {"leg": leg, "said": leg_sentence(leg), "feet": feet}


def _names(coupling: Coupling) -> dict[str, str]:
    return {"driver": coupling.driver_machine.name, "driven": coupling.driven_machine.name}


def _looked(state: DriftState | None, given: Mapping[str, str], today: date) -> dict[str, Any]:
    """The answer to "if I look on that day instead?", or what is wrong with the day."""
    typed = given.get("look")
    if typed is None:
        return {}
    try:
        on = date.fromisoformat(typed.strip())
    except ValueError:
        return {"typed": typed, "error": _("Write the day as 2026-10-12.")}
    if on < today:
        return {"typed": typed, "error": _("This day is past: choose today or a later one.")}
    if state is None or state.left_on is None or not state.curve:
        return {"typed": typed, "error": _("There is no forecast here yet, so nothing can be said of that day.")}
    last = state.left_on + timedelta(days=FARTHEST_DAYS)
    if on > last:
        words = _("The forecast reaches to %(day)s: choose a day up to then.")
        return {"typed": typed, "error": words % {"day": day(last, weekday=False)}}
    found = looked_on(state, on)
    return {"typed": typed, "said": looked_sentence(found) if found is not None else ""}


def _tried(part: Part, given: Mapping[str, str], today: date, system: str) -> dict[str, Any]:
    """The answer to "what if these feet move by so much?", or what is wrong with the question."""
    if "plane" not in given:
        return {}
    asked: dict[str, Any] = {name: given.get(name, "") for name in ("plane", "by", "way")}
    plane = next((one for one in part.planes if one.key == asked["plane"]), None)
    if plane is None or asked["way"] not in WAYS:
        return asked | {"error": _("Choose the feet and the way they go.")}
    try:
        by = units.parse(asked["by"], "gap", system)
    except units.UnitError as error:
        return asked | {"error": str(error)}
    if not isfinite(by) or by < 0:
        return asked | {"error": _("Say how far as a size of nought or more; the way says which side.")}
    if by > TRAVEL_MM:
        words = _("This is more than %s: is the unit right?")
        return asked | {"error": words % units.written(TRAVEL_MM, "gap", system)}
    if part.view.state is None or part.fit is None:
        return asked | {"error": _("There is no forecast here yet to start from.")}
    up, right = (by * share for share in WAYS[asked["way"]])
    found = tried_move(part.view.state, part.coupling, part.fit, plane, up, right, today)
    if found is None:
        return asked | {"error": _("There is no forecast here yet to start from.")}
    words = _("With the %(feet)s feet of the %(machine)s moved %(way)s by %(by)s")
    ways = {"up": _("up"), "down": _("down"), "right": _("right"), "left": _("left")}
    said = words % {
        "feet": plane.name, "machine": plane.machine, "way": ways[asked["way"]], "by": units.written(by, "gap", system),
    }  # fmt: skip
    return asked | {"found": found, "said": said}
