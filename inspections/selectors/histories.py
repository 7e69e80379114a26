"""What a memory line shows of many couplings: every signed visit with how it found and left them, and what comes next.

A number of questions that does not grow with the couplings. Shares are those of the signed results: each visit stands
against the limits it was judged by.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta

from django.db.models import F

from couplings.models import Coupling, Element
from inspections.models import Check, CheckKind, DriftState, Leg, StatedValues, Survey, Visit
from inspections.selectors.drift import FanPoint, fan_points

# A list shows this much on both sides of its today: the same for every row of every list.
BEFORE_DAYS, AFTER_DAYS = 731, 366
LIST_POINTS = 6


@dataclass(frozen=True)
class Taken:
    """One survey of a visit: tolerance used, None where it was not judged, and its verdict."""

    used: float | None
    verdict: str


@dataclass(frozen=True)
class Was:
    """One signed visit. `stated`: an old card's figures, without readings."""

    visit: Visit
    found: Taken | None = None
    left: Taken | None = None
    stated: bool = False


@dataclass
class Past:
    """One coupling's history, oldest first, and what is known of what comes.

    `legs` by the id of the visit they end in; `elements` are days and part numbers, once for each part; `check` is its
    open alignment check.
    """

    visits: list[Was] = field(default_factory=list)
    legs: dict[int, Leg] = field(default_factory=dict)
    elements: list[tuple[date, str]] = field(default_factory=list)
    check: Check | None = None
    ahead: Sequence[FanPoint] = ()

    @property
    def last(self) -> Was | None:
        """The last visit that measured."""
        return next((one for one in reversed(self.visits) if (one.left or one.found) is not None), None)


def list_span(today: date) -> tuple[date, date]:
    """The days that every small memory line shows."""
    return today - timedelta(days=BEFORE_DAYS), today + timedelta(days=AFTER_DAYS)


def pasts_of(couplings: Iterable[Coupling | int], today: date, *, fan: bool = True) -> dict[int, Past]:
    """Histories by the ids of couplings; with `fan` the forecast over the span of a list."""
    ids = {one if isinstance(one, int) else one.pk for one in couplings}
    found = {pk: Past() for pk in ids}
    if not ids:
        return found
    _visits(ids, found)
    for leg in Leg.objects.filter(coupling_id__in=ids):
        found[leg.coupling_id].legs[leg.to_visit_id] = leg
    # A part moved from one fit to another is one element.
    elements = Element.objects.filter(fit__coupling_id__in=ids, continues__isnull=True).order_by("fitted_on", "pk")
    for pk, on, part in elements.values_list("fit__coupling_id", "fitted_on", "part_number"):
        found[pk].elements.append((on, part))
    for check in Check.objects.filter(coupling_id__in=ids, settled_on__isnull=True, kind=CheckKind.ALIGNMENT):
        found[check.coupling_id].check = check
    if fan:
        for pk, points in _fans(ids, today).items():
            found[pk].ahead = points
    return found


def _visits(ids: Collection[int], found: dict[int, Past]) -> None:
    """Signed visits, each with the surveys of the text that feeds the dates now."""
    taken: dict[int, dict[str, Taken]] = defaultdict(dict)
    surveys = Survey.objects.filter(
        visit__coupling_id__in=ids, visit__state=Visit.State.SIGNED, record=F("visit__record")
    ).exclude(as_left=False, as_found=False)
    rows = surveys.values_list("visit_id", "as_found", "as_left", "result__tolerance_used", "result__verdict")
    for visit_id, as_found, as_left, used, verdict in rows:
        one = Taken(used, verdict or "not known")
        if as_found:
            taken[visit_id]["found"] = one
        if as_left:
            taken[visit_id]["left"] = one
    cards = StatedValues.objects.filter(visit__coupling_id__in=ids, record=F("visit__record"))
    stated = set(cards.values_list("visit_id", flat=True))
    visits = Visit.objects.filter(coupling_id__in=ids, state=Visit.State.SIGNED).select_related("taken_by")
    for visit in visits.order_by("on", "pk"):
        mine = taken.get(visit.pk, {})
        found[visit.coupling_id].visits.append(Was(visit, mine.get("found"), mine.get("left"), visit.pk in stated))


def _fans(ids: Collection[int], today: date) -> dict[int, list[FanPoint]]:
    """A few points of each forecast to the end of a list's span, closer together where it widens fastest."""
    end = list_span(today)[1]
    states = [
        state
        for state in DriftState.objects.filter(coupling_id__in=ids, left_on__isnull=False).select_related("fit")
        if state.curve and state.left_on is not None and state.left_on < end
    ]
    days = {
        state.coupling_id: [
            state.left_on + (end - state.left_on) * (number**2 / LIST_POINTS**2) for number in range(LIST_POINTS + 1)
        ]
        for state in states
        if state.left_on is not None
    }
    return fan_points(states, days)
