"""A coupling's drift for the engineer: component by component, what lies behind each leg, and a move tried on paper."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date
from math import sqrt
from typing import Any
from uuid import UUID

import numpy as np
from django.db.models import F

from couplings.engineering.alignment import Misalignment
from couplings.engineering.moves import MoveError, after_moves
from couplings.models import Coupling, Fit
from couplings.selectors import feet_of
from couplings.selectors.couplings import PRINTED, couplings_visible_to
from inspections.forecasting.forecast import tolerance_used
from inspections.forecasting.legs import YEAR_DAYS
from inspections.forecasting.outlook import HORIZON_YEARS, UNKNOWN, longest_interval, next_check
from inspections.forecasting.passage import exceedance
from inspections.models import DriftState, GroupFit, Leg, ReadingSet
from inspections.selectors.beliefs import beliefs_from, days_after, limits_from, shared_draws
from inspections.selectors.drift_due import bounds_of, clock_years, policies_for
from plant.models import Area, Person, Site, Train
from plant.models.roots import reach
from plant.refusals import Missing

NINE_IN_TEN = 1.6449  # standard deviations on both sides (NIST/SEMATECH e-Handbook 1.3.6.7.1, from memory)
COMPONENTS = ("offset.vertical", "offset.horizontal", "slope.vertical", "slope.horizontal")
POINTS = 8


def trains_to_read(person: Person) -> Any:
    """Trains of sites the person reads as a whole: a forecast is made from all that the site has on record."""
    return Train.objects.visible_to(person).filter(reach(DriftState, person)).select_related("site", "area")


def train_for(person: Person, uuid: UUID | str) -> Train:
    """The train of this id, if the person may read its site as a whole; otherwise there is none."""
    train: Train | None = trains_to_read(person).filter(uuid=uuid).first()
    if train is None:
        raise Missing()
    return train


def couplings_on(person: Person, train: Train) -> list[Coupling]:
    """Couplings that stand on a train, from the driver end, as its page prints them."""
    rows = couplings_visible_to(person).filter(train=train, retired_on__isnull=True)
    return list(
        rows.prefetch_related("driver_machine__foot_planes", "driven_machine__foot_planes").order_by(
            "driver_machine__position", "tag"
        )
    )


def couplings_to_read(person: Person, site: Site, area: Area | None = None, order: str = "") -> Any:
    """Couplings in place at a site that the person reads as a whole, each with its drift, for a list.

    `order` "pace": those first that use most of their tolerance in a year; "due": by the day drift asks for; otherwise
    by area and train.
    """
    rows = couplings_visible_to(person).filter(reach(DriftState, person), site=site, retired_on__isnull=True)
    if area is not None:
        rows = rows.filter(train__area=area)
    by = {
        "pace": (F("drift_state__pace_share").desc(nulls_last=True), "tag"),
        "due": (F("drift_state__due_on").asc(nulls_last=True), "tag"),
    }.get(order, ("train__area__name", "train__tag", "driver_machine__position", "tag"))
    return rows.select_related(*PRINTED, "drift_state").order_by(*by)


@dataclass(frozen=True)
class Behind:
    """What one end of a leg was read with."""

    method: str
    instruments: tuple[str, ...]
    driver_degc: float | None
    driven_degc: float | None
    corrected: bool


def behind_legs(legs: Iterable[Leg]) -> dict[int, tuple[Behind | None, Behind | None]]:
    """Instruments and temperatures at both ends of legs, by leg id; in one question. None where an old card says it."""
    legs = list(legs)
    ids = {one for leg in legs for one in (leg.from_survey_id, leg.to_survey_id) if one is not None}
    names: dict[int, list[str]] = defaultdict(list)
    rows = ReadingSet.objects.filter(survey_id__in=ids, instrument__isnull=False).order_by("survey_id", "number")
    for survey_id, name in rows.values_list("survey_id", "instrument__name"):
        if name not in names[survey_id]:
            names[survey_id].append(name)

    def end(survey: Any, corrected: bool) -> Behind | None:
        if survey is None:
            return None
        return Behind(
            survey.method, tuple(names[survey.pk]), survey.driver_support_degc, survey.driven_support_degc, corrected
        )

    return {leg.pk: (end(leg.from_survey, leg.from_corrected), end(leg.to_survey, leg.to_corrected)) for leg in legs}


@dataclass(frozen=True)
class Component:
    """One of the four: rate a year of the clock with half of its 90 % interval, and its group's mean.

    `ahead` are days with low, middle and high of the position less the target. [mm, mm/year] or [mrad, mrad/year]
    """

    key: str
    rate: float | None
    rate_u: float | None
    group_rate: float | None
    ahead: tuple[tuple[date, float, float, float], ...]

    @property
    def kind(self) -> str:
        return "gap" if self.key.startswith("offset") else "slope"

    @property
    def clear(self) -> bool:
        """Whether the interval leaves out that it stands still."""
        return self.rate is not None and self.rate_u is not None and abs(self.rate) > self.rate_u


def components_of(state: DriftState | None, group: GroupFit | None, until: date) -> tuple[Component, ...]:
    """The four components; rates are missing before a group is fitted. Jumps are not counted in `ahead`."""
    belief = state.belief if state is not None else {}
    found = []
    for place, key in enumerate(COMPONENTS):
        given = {
            name: belief[name][place] if belief.get(name) else None
            for name in ("position", "position_variance", "rate", "rate_variance", "together", "diffusion")
        }
        rate, variance = given["rate"], given["rate_variance"]
        found.append(
            Component(
                key,
                rate,
                NINE_IN_TEN * sqrt(variance) if variance is not None else None,
                group.rate[place] if group is not None else None,
                _ahead(state, given, until) if state is not None else (),
            )
        )
    return tuple(found)


def _ahead(state: DriftState, given: dict[str, Any], until: date) -> tuple[tuple[date, float, float, float], ...]:
    if state.left_on is None or until <= state.left_on or any(one is None for one in given.values()):
        return ()
    points = []
    for number in range(POINTS + 1):
        on = state.left_on + (until - state.left_on) * (number**2 / POINTS**2)
        years = float(clock_years([state], [(on - state.left_on).days])[0])
        middle = given["position"] + given["rate"] * years
        spread = (
            given["position_variance"] + 2 * years * given["together"]
            + years**2 * given["rate_variance"] + years * given["diffusion"]
        )  # fmt: skip
        half = NINE_IN_TEN * sqrt(max(spread, 0.0))
        points.append((on, middle - half, middle, middle + half))
    return tuple(points)


@dataclass(frozen=True)
class FootPlane:
    """A foot plane that may be moved on paper; `key` names it in an address."""

    key: str
    side: str
    machine: str
    name: str


def planes_of(coupling: Coupling, fit: Fit | None) -> list[FootPlane]:
    """Foot planes of both machines, where their places on the axis are known."""
    if fit is None:
        return []
    return [
        FootPlane(f"{side}-{number}", side, machine.name, name)
        for side, machine in (("driver", coupling.driver_machine), ("driven", coupling.driven_machine))
        if len(feet := feet_of(coupling, side, fit)) >= 2
        for number, (name, _x) in enumerate(feet)
    ]


@dataclass(frozen=True)
class TriedMove:
    """What one foot plane's move would leave: tolerance used (middle, low, high) [1], and the next date."""

    used: tuple[float, float, float]
    due_on: date | None
    by: str


def tried_move(
    state: DriftState, coupling: Coupling, fit: Fit, plane: FootPlane, up_mm: float, right_mm: float, today: date
) -> TriedMove | None:
    """Move one foot plane on paper today, from where the shafts are expected now, and read again as well as before.

    The other planes of that machine stay and it turns about them as one rigid body; right is seen from the driver end.
    None where there is no forecast to start from. The coupling comes with its train and feet.

    Raises
    ------
    MoveError
        Feet at one place.
    """
    if not state.curve or state.left_on is None:
        return None
    feet = feet_of(coupling, plane.side, fit)
    place = int(plane.key.rpartition("-")[2])
    ups, rights = ([move if n == place else 0.0 for n in range(len(feet))] for move in (up_mm, right_mm))
    nought = Misalignment.of((0.0, 0.0, 0.0, 0.0), np.zeros((4, 4)))
    change = np.array(after_moves(nought, feet, ups, rights).mean)
    if plane.side == "driven":
        # x runs towards the machine that moves, and what the driven side gains the driver side loses.
        change *= np.array([-1.0, -1.0, 1.0, 1.0])
    belief, limits = beliefs_from([state]), limits_from([state.limits])
    since = float(clock_years([state], [max(0, (today - state.left_on).days)])[0])
    belief = replace(
        belief,
        position=belief.position + belief.rate * since + change[:, None],
        together=np.zeros_like(belief.together),
    )
    used = tolerance_used(belief, limits, np.zeros(1), shared_draws())[0]
    clock = float(clock_years([state], [YEAR_DAYS])[0])
    times, chance = exceedance(belief, limits, np.array([HORIZON_YEARS * clock]), shared_draws())
    bounds = bounds_of(policies_for([coupling])[coupling.pk], coupling.train.criticality)
    longest, _grows = longest_interval(bounds.every, bounds.longest, state.legs, state.longest_days)
    days, by = next_check(
        times[0] / clock * YEAR_DAYS, chance[0], bounds.risk, min(bounds.shortest, longest), longest
    )  # fmt: skip
    due = days_after(today, days) if by != UNKNOWN else None
    return TriedMove((float(used[0]), float(used[1]), float(used[2])), due, by)


__all__ = [
    "COMPONENTS", "Behind", "Component", "FootPlane", "MoveError", "TriedMove", "behind_legs", "components_of",
    "couplings_on", "couplings_to_read", "planes_of", "train_for", "trains_to_read", "tried_move",
]  # fmt: skip
