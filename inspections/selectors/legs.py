"""Legs of couplings from their signed surveys: what the records say, as rows and as arrays for computing with.

A number of queries that does not grow with the couplings; all of one site or of several.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from itertools import pairwise
from typing import Any

import numpy as np

from couplings.engineering.conformity import Limits
from couplings.models import Coupling, Fit
from couplings.selectors import flex_planes_of, limits_of_each, target_of
from inspections.forecasting.envelope import Envelope, envelope
from inspections.forecasting.legs import LEGACY_U, Legs, Spells, Standing, Surveys, legs_of, surveys
from inspections.forecasting.running import Running, counted, readings
from inspections.models import Leg, SoftFoot, StatedValues, Survey, SurveyResult, Visit
from plant.models import MeterReading, ServiceSpell, Train, UnitStay
from plant.sitetime import zone_of

VARIANCES = (0, 4, 7, 9)  # of the ten numbers of a covariance, by rows of its upper triangle
LATE = 0.999
INSTANT = 1e-6  # [day], about a tenth of a second


@dataclass(frozen=True)
class Taken:
    """One row of `Surveys` and where it stands in the record; `survey` is None for an old card's figures."""

    visit: int
    survey: int | None
    on: date
    corrected: bool
    legacy: bool


@dataclass(eq=False)
class Records:
    """What the records of some couplings say, couplings numbered as in `couplings`."""

    couplings: list[Coupling]
    rows: Surveys
    taken: list[Taken]
    spells: Spells
    target: Any
    limits: Envelope
    fits: dict[int, Fit]
    running: dict[int, Running]
    struck: dict[int, set[int]] = field(default_factory=dict)

    def running_of(self, place: int) -> Running:
        """The hour meter of the coupling's train."""
        return self.running.get(self.couplings[place].train_id, Running())


@dataclass(frozen=True)
class Ended:
    """One end of a leg: places among the surveys, why it was not used, and its place among the legs used."""

    coupling: int
    start: int | None
    end: int
    why_not: str
    used: int | None


def records_of(couplings: Sequence[Coupling]) -> Records:
    """Read the records of some couplings, which come with their train, site, machines and grade."""
    couplings = list(couplings)
    places = {coupling.pk: number for number, coupling in enumerate(couplings)}
    # Whose limits govern now, and since when each fit was there.
    since: dict[int, list[date]] = defaultdict(list)
    fits: dict[int, Fit] = {}
    rows = Fit.objects.filter(coupling_id__in=places).select_related("sheet_version__sheet__family")
    for fit in rows.prefetch_related("sheet_version__limits").order_by("pk"):
        since[fit.coupling_id].append(fit.fitted_on)
        if fit.removed_on is None:
            fits[fit.coupling_id] = fit
    running = running_of_trains({coupling.train_id: zone_of(coupling.site) for coupling in couplings})
    found, taken, opened = _surveys(couplings, places, running)
    return Records(
        couplings, found, taken, _spells(couplings, places, since, opened),
        np.array([target_of(one) for one in couplings]).reshape(-1, 4), _limits(couplings, fits), fits, running,
        _struck(places),
    )  # fmt: skip


def _struck(places: dict[int, int]) -> dict[int, set[int]]:
    """Ends of legs that a person left out, by coupling's place."""
    found: dict[int, set[int]] = defaultdict(set)
    rows = Leg.objects.filter(coupling_id__in=places, left_out_at__isnull=False)
    for coupling_id, visit_id in rows.values_list("coupling_id", "to_visit_id"):
        found[places[coupling_id]].add(visit_id)
    return found


def _surveys(
    couplings: list[Coupling], places: dict[int, int], running: dict[int, Running]
) -> tuple[Surveys, list[Taken], list[tuple[int, float]]]:
    """As-found and as-left surveys of the texts in force, old cards' figures, and when feet were loosened."""
    zones = {coupling.pk: zone_of(coupling.site) for coupling in couplings}
    signed = {"visit__coupling_id__in": places, "visit__state": Visit.State.SIGNED, "record__feeds__isnull": False}
    rises = dict.fromkeys(
        SoftFoot.objects.filter(**signed, kind=SoftFoot.Kind.RISE).values_list("record_id", flat=True).distinct()
    )
    columns: list[tuple[Any, ...]] = []
    taken: list[Taken] = []
    opened: list[tuple[int, float]] = []
    rows = Survey.objects.filter(**signed).exclude(as_found=False, as_left=False).select_related("result", "visit")
    for survey in rows.order_by("visit__on", "visit_id", "number"):
        visit, result = survey.visit, getattr(survey, "result", None)
        both = survey.as_found and survey.as_left
        zone = zones[visit.coupling_id]
        day = day_taken(survey, visit.on, zone)
        loosened = survey.loosened_at is not None and (survey.taken_at is None or survey.taken_at > survey.loosened_at)
        if survey.loosened_at is not None:
            opened.append((places[visit.coupling_id], max(day_of(survey.loosened_at.astimezone(zone)), day + INSTANT)))
        elif both and survey.record_id in rises:
            # Each foot was loosened in turn after it was found: how it was left is not what was read.
            opened.append((places[visit.coupling_id], day + INSTANT))
        position, variance = _numbers(result)
        columns.append(
            (places[visit.coupling_id], day, position, variance, survey.as_found, survey.as_left, loosened, False)
        )
        correction = result.correction if result is not None else None
        taken.append(Taken(visit.pk, survey.pk, visit.on, bool(correction and correction.get("applied")), False))
    _old_cards(couplings, places, signed, columns, taken)
    if not columns:
        empty = np.zeros((0, 4))
        return surveys([], [], empty, empty, [], []), [], opened
    which, days, positions, variances, found, left, late, legacy = (list(one) for one in zip(*columns, strict=True))
    hours = [
        counted(running.get(couplings[at].train_id, Running()), when) for at, when in zip(which, days, strict=True)
    ]
    return (
        surveys(
            which, days, np.array(positions), np.array(variances), found, left,
            loosened=late, legacy=legacy, hours=[np.nan if one is None else one for one in hours],
        ),
        taken,
        opened,
    )  # fmt: skip


def day_taken(survey: Survey, on: date, zone: Any) -> float:
    """When it was taken; by its role where nobody wrote the time down: found first, left last. [day]"""
    if survey.taken_at is not None:
        return day_of(survey.taken_at.astimezone(zone))
    both = survey.as_found and survey.as_left
    return on.toordinal() + (0.5 if both else 0.0 if survey.as_found else LATE)


def _numbers(result: SurveyResult | None) -> tuple[list[float], list[float]]:
    """Position at the reference temperature, and its variances; nan where a plane was not read."""
    if result is None:
        return [np.nan] * 4, [np.nan] * 4
    given = (result.offset_v_mm, result.offset_h_mm, result.slope_v_mrad, result.slope_h_mrad)
    position = [np.nan if one is None else one for one in given]
    spread = [result.covariance[place] for place in VARIANCES]
    # A figure whose doubt nobody stated counts like one copied from an old sheet.
    variance = [u * u if one is None else one for one, u in zip(spread, LEGACY_U, strict=True)]
    return position, variance


def _old_cards(
    couplings: list[Coupling], places: dict[int, int], signed: dict[str, Any], columns: list[Any], taken: list[Taken]
) -> None:
    """How an old card says it was left: so far from the target, nobody knows in which direction.

    Each direction is as likely, so every component is nought with half the square of the length as its variance,
    besides the large doubt of a figure without readings.
    """
    rows = StatedValues.objects.filter(**signed).exclude(offset_mm=None, slope_mrad=None).select_related("visit")
    targets = {coupling.pk: target_of(coupling) for coupling in couplings}
    for row in rows.order_by("visit__on", "visit_id"):
        far = (row.offset_mm, row.offset_mm, row.slope_mrad, row.slope_mrad)
        target = targets[row.visit.coupling_id]
        position = [np.nan if one is None else at for one, at in zip(far, target, strict=True)]
        variance = [np.nan if one is None else one**2 / 2 + u * u for one, u in zip(far, LEGACY_U, strict=True)]
        place = places[row.visit.coupling_id]
        columns.append((place, row.visit.on.toordinal() + LATE, position, variance, False, True, False, True))
        taken.append(Taken(row.visit_id, None, row.visit.on, False, True))


def _spells(
    couplings: list[Coupling],
    places: dict[int, int],
    since: dict[int, list[date]],
    opened: list[tuple[int, float]],
) -> Spells:
    """Times through which nothing can be compared: uncoupled, another fit, another machine, feet opened."""
    found = [(place, at, at) for place, at in opened]
    for coupling_id, days in since.items():
        found += [(places[coupling_id], float(on.toordinal()), float(on.toordinal())) for on in days]
    by_train: dict[int, list[Coupling]] = defaultdict(list)
    by_machine: dict[int, list[Coupling]] = defaultdict(list)
    for coupling in couplings:
        by_train[coupling.train_id].append(coupling)
        for machine in (coupling.driver_machine_id, coupling.driven_machine_id):
            by_machine[machine].append(coupling)
    apart = ServiceSpell.objects.filter(train_id__in=by_train, state=Train.Service.UNCOUPLED)
    for train_id, begins, ends in apart.order_by("pk").values_list("train_id", "from_at", "until_at"):
        for coupling in by_train[train_id]:
            zone = zone_of(coupling.site)
            first = day_of(begins.astimezone(zone)) if begins is not None else 0.0
            last = day_of(ends.astimezone(zone)) if ends is not None else np.inf
            found.append((places[coupling.pk], first, last))
    stays = UnitStay.objects.filter(machine_id__in=by_machine).order_by("pk")
    for machine_id, begins, ends in stays.values_list("machine_id", "from_at", "until_at"):
        for coupling in by_machine[machine_id]:
            zone = zone_of(coupling.site)
            moments = [day_of(one.astimezone(zone)) for one in (begins, ends) if one is not None]
            found += [(places[coupling.pk], at, at) for at in moments]
    which, begins_on, ends_on = zip(*found, strict=True) if found else ((), (), ())
    return Spells(np.array(which, dtype=np.int64), np.array(begins_on, dtype=float), np.array(ends_on, dtype=float))


def _limits(couplings: list[Coupling], fits: dict[int, Fit]) -> Envelope:
    """Limits in force now, as numbers; of none where nothing is fitted."""
    held = [(one, fits[one.pk].sheet_version) for one in couplings if one.pk in fits]
    known = limits_of_each(held) if held else {}
    limits: list[Limits | None] = []
    planes: list[tuple[float, float] | None] = []
    for coupling in couplings:
        fit = fits.get(coupling.pk)
        apart = flex_planes_of(fit.sheet_version) if fit is not None else None
        mine = known.get(coupling.pk)
        if mine is not None and apart is None:
            # An angle at flex planes that nobody knows the place of cannot be held against a position.
            mine = replace(mine, limits=tuple(one for one in mine.limits if one.quantity in ("offset", "angularity")))
        limits.append(mine)
        planes.append(apart)
    return envelope(limits, planes)


def running_of_trains(zones: dict[int, Any]) -> dict[int, Running]:
    """Hour meters of trains, each in its site's time zone, by train id, in one query."""
    shown: dict[int, list[tuple[float, float]]] = defaultdict(list)
    rows = MeterReading.objects.counted().filter(meter__train_id__in=zones)
    for train_id, at, hours, offset in rows.values_list("meter__train_id", "at", "hours", "offset_hours"):
        shown[train_id].append((day_of(at.astimezone(zones[train_id])), hours + offset))
    return {train_id: readings(pairs) for train_id, pairs in shown.items()}


def day_of(local: datetime) -> float:
    """A local time as a proleptic ordinal with its fraction. [day]"""
    return local.toordinal() + (local.hour * 3600 + local.minute * 60 + local.second) / 86400


def legs_from(records: Records) -> tuple[Legs, Standing, list[Ended]]:
    """Legs used, how each coupling was last left, and every end with why it was not used.

    Parameters
    ----------
    records : Records

    Returns
    -------
    legs, standing
        As `inspections.forecasting.legs.legs_of`. [mm, mm, mrad, mrad], [day]
    ended : list of Ended
        By coupling and in order of time; the first survey of a coupling ends nothing and is not among them.
    """
    rows, taken, total = records.rows, records.taken, len(records.couplings)
    order = np.lexsort((~rows.as_found, rows.day, rows.coupling)) if len(taken) else np.zeros(0, dtype=np.int64)
    pairs = [
        (int(first) if rows.coupling[first] == rows.coupling[second] else None, int(second))
        for first, second in pairwise(order)
        if rows.as_found[second]
    ]
    pairs = [(first, second) for first, second in pairs if first is not None]
    struck = [
        (int(rows.coupling[second]), (rows.day[first] + rows.day[second]) / 2)
        for first, second in pairs
        if taken[second].visit in records.struck.get(int(rows.coupling[second]), ())
    ]
    spells = records.spells
    if struck:
        which, at = (np.array(column) for column in zip(*struck, strict=True))
        spells = Spells(np.append(spells.coupling, which), np.append(spells.begins, at), np.append(spells.ends, at))
    legs, standing, reasons = legs_of(rows, records.target if total else 0.0, spells, total)
    used = {int(row): number for number, row in enumerate(legs.end_row)}
    ended = []
    for first, second in pairs:
        assert first is not None
        place, why = int(rows.coupling[second]), str(reasons[second])
        if taken[second].visit in records.struck.get(place, ()):
            why = Leg.WhyNot.LEFT_OUT.value
        ended.append(Ended(place, first if rows.as_left[first] else None, second, why, used.get(second)))
    return legs, standing, ended
