"""Whether a meter says other run hours now than legs and forecasts were made with."""

from __future__ import annotations

from collections.abc import Sequence

from inspections.forecasting.running import Running, counted, rate
from inspections.models import DriftState, Leg
from inspections.selectors.beliefs import plain
from inspections.selectors.legs import LATE, day_taken, running_of_trains
from plant.sitetime import zone_of


def hours_apart(legs: Sequence[Leg], states: Sequence[DriftState]) -> list[int]:
    """Ids of couplings whose legs or forecasts do not agree with the meter any more.

    They come with their coupling, its train and site; legs with their surveys too.
    """
    if not legs and not states:
        return []
    couplings = [leg.coupling for leg in legs] + [state.coupling for state in states]
    running = running_of_trains({one.train_id: zone_of(one.site) for one in couplings})
    apart = {leg.coupling_id for leg in legs if _hours(leg, running.get(leg.coupling.train_id)) != leg.hours}
    for state in states:
        mine = running.get(state.coupling.train_id, Running())
        if state.hours_per_day is not None and plain(_pace(mine)) != state.hours_per_day:
            apart.add(state.coupling_id)
    return sorted(apart)


def _hours(leg: Leg, running: Running | None) -> float | None:
    """As `records_of` and `legs_from` count them."""
    if running is None or leg.from_on is None:
        return None
    zone = zone_of(leg.coupling.site)
    begin = leg.from_on.toordinal() + LATE if leg.from_survey is None else day_taken(leg.from_survey, leg.from_on, zone)
    first, last = counted(running, begin), counted(running, day_taken(leg.to_survey, leg.to_on, zone))
    return plain(last - first) if first is not None and last is not None and last >= first else None


def _pace(running: Running) -> float:
    per_day = rate(running)
    return 24.0 if per_day is None else per_day
