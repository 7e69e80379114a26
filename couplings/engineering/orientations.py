"""Which way round two hubs can stand, and where: every orientation with every element, ranked; the DBSE each serves.

The gap between the hubs' faces with an element in place is ``E - o1 - o2`` whatever the DBSE: moving the machines apart
pulls the hubs along their shafts, not away from the element. What the DBSE decides is how much shaft is in each bore.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise, product

from couplings.engineering.placement import (
    PlacementError,
    engaged_share,
    engagement_mm,
    flange_behind_gap_face_mm,
    hub_face_gap_mm,
    most_overhang_mm,
    overhangs_needed_mm,
    running_clearance_mm,
)

STARTER_SHARE = 0.8  # common practice: no public source that is not a maker's was found
DUST_MM = 1e-9  # below it two lengths are the same
# What can stand against a placement, in the order in which it is told.
BROKEN = ("engagement", "diameter", "protrusion", "clearance", "gap", "running-gap")


@dataclass(frozen=True)
class Hub:
    """One hub on its shaft. [mm]

    `flange_mm`: u, the flange plane behind the flange-side face. `shaft_length_mm`: S, straight length from the shaft's
    end; None: longer than any bore. `diameter_mm`: the shaft's, for the rule "engaged one diameter". `protrusion_mm`:
    how far the shaft may stand proud of the gap face; None: as far as it likes.
    """

    bore_length_mm: float
    flange_mm: float = 0.0
    shaft_length_mm: float | None = None
    diameter_mm: float | None = None
    protrusion_mm: float | None = None
    reversible: bool = True


@dataclass(frozen=True)
class Rules:
    """What a placement must hold. `clearance_mm` and `gap_mm` None: shaft ends and hub faces must not touch. [1, mm]"""

    share: float = STARTER_SHARE
    clearance_mm: float | None = None
    gap_mm: float | None = None
    one_diameter: bool = False


@dataclass(frozen=True)
class Running:
    """What brings the shaft ends together in service, from cold. [mm]"""

    growth_1_mm: float = 0.0
    growth_2_mm: float = 0.0
    float_in_mm: float = 0.0

    @property
    def total_mm(self) -> float:
        return self.growth_1_mm + self.growth_2_mm + self.float_in_mm


@dataclass(frozen=True)
class Element:
    """An element, or a spacer in one of its positions: its length from flange plane to flange plane. [mm]"""

    name: str
    length_mm: float


@dataclass(frozen=True)
class Seat:
    """One hub as placed. `beyond_mm`: how far its back face reaches past the straight length of the shaft. [mm, 1]"""

    reversed: bool
    overhang_mm: float
    behind_mm: float
    engagement_mm: float
    share: float
    beyond_mm: float


@dataclass(frozen=True)
class Placement:
    """Both hubs as placed with one element; `broken` are words of BROKEN, none where every rule holds. [mm]"""

    element: Element
    seats: tuple[Seat, Seat]
    overhangs_mm: float
    gap_mm: float
    running_gap_mm: float
    clearance_mm: float
    broken: tuple[str, ...]

    @property
    def holds(self) -> bool:
        return not self.broken

    @property
    def least_share(self) -> float:
        return min(seat.share for seat in self.seats)


@dataclass(frozen=True)
class Range:
    """The DBSE that one orientation with one element can serve; both None where it can serve none. [mm]

    `touching`: at the lower end itself the shaft ends would touch, so the DBSE must be above it.
    """

    element: Element
    reversed: tuple[bool, bool]
    gap_mm: float
    from_mm: float | None
    to_mm: float | None
    touching: bool = False


def placements(
    hubs: tuple[Hub, Hub], dbse_mm: float, elements: Sequence[Element], rules: Rules, running: Running
) -> tuple[Placement, ...]:
    """Every orientation of both hubs with every element, best first.

    Parameters
    ----------
    hubs : two of Hub
        Side 1 and side 2. [mm]
    dbse_mm : float
        Distance between the shaft ends, cold. [mm]
    elements : sequence of Element
        The element's width, or each of a spacer's positions. [mm]
    rules : Rules
        What must hold.
    running : Running
        Growths and inward float. [mm]

    Returns
    -------
    tuple of Placement
        Ranked: fewest rules broken, then the larger of the smaller engaged share, then of the sum of both, then the
        larger gap; then the order in which they were given. The split of the overhangs is `split`.

    Raises
    ------
    PlacementError
        A length that is missing, not finite or not above zero where it must be; no element.

    References
    ----------
    Interval geometry along the shafts; the rules are common practice.
    """
    _check(hubs, elements, rules)
    found = [
        _placed(hubs, turned, dbse_mm, element, rules, running) for element in elements for turned in orientations(hubs)
    ]
    return tuple(sorted(found, key=_rank))


def ranges(hubs: tuple[Hub, Hub], elements: Sequence[Element], rules: Rules, running: Running) -> tuple[Range, ...]:
    """The DBSE that each orientation with each element can serve with every rule held, for the data sheet.

    Parameters
    ----------
    hubs, elements, rules, running
        As for `placements`.

    Returns
    -------
    tuple of Range
        In the order of the elements, flanges facing in first. [mm]

    Raises
    ------
    PlacementError
        As `placements`.

    References
    ----------
    Each overhang lies between two bounds, so their sum and with it the DBSE does: ``DBSE = p1 + p2 + E - o1 - o2``.
    """
    _check(hubs, elements, rules)
    return tuple(_range(hubs, turned, element, rules, running) for element in elements for turned in orientations(hubs))


def orientations(hubs: tuple[Hub, Hub]) -> Iterator[tuple[bool, bool]]:
    """Every pair of directions that can be told apart, flanges facing in first; True is reversed.

    Parameters
    ----------
    hubs : (Hub, Hub)
        [mm]

    Returns
    -------
    iterator of (bool, bool)
        Whether each hub is reversed; a hub that is the same both ways is not turned.

    References
    ----------
    Enumeration; common practice has flanges facing in.
    """
    ways = [
        (False, True) if hub.reversible and abs(hub.bore_length_mm - 2 * hub.flange_mm) > DUST_MM else (False,)
        for hub in hubs
    ]
    yield from product(*ways)


def split(hubs: tuple[Hub, Hub], overhangs_mm: float, rules: Rules | None = None) -> tuple[float, float]:
    """Share an overhang between two hubs so that both have most engagement.

    Parameters
    ----------
    hubs : two of Hub
        Bores, straight lengths and how far each shaft may stand proud. [mm]
    overhangs_mm : float
        p1 + p2. [mm]
    rules : Rules, optional
        What must hold; only the engagement and how far a shaft stands proud depend on the split.

    Returns
    -------
    tuple of 2 floats
        p1 and p2: largest smaller share; among those the largest sum of both shares; among those nearest to half each.
        Where some split holds the rules, only such splits count; else those that keep the shafts from standing too
        proud; else any. [mm]

    Raises
    ------
    PlacementError
        A length that cannot be used.

    References
    ----------
    Both shares are piecewise linear and concave in p1 where they are not zero, so the best lies at a bend, a bound, a
    crossing, or at half each where a stretch is equally good.
    """
    low, high = _room(hubs, overhangs_mm, rules)
    half = overhangs_mm / 2
    bends = sorted({*_bends(hubs[0]), *(overhangs_mm - bend for bend in _bends(hubs[1])), half, low, high})
    points = [min(max(bend, low), high) for bend in bends if math.isfinite(bend)]
    points += list(_crossings(hubs, overhangs_mm, points))

    def worth(p1: float) -> tuple[float, float, float]:
        shares = [_share(hubs[0], p1), _share(hubs[1], overhangs_mm - p1)]
        return round(min(shares), 12), round(sum(shares), 12), -round(abs(p1 - half), 9)

    best = max(points, key=worth)
    return best, overhangs_mm - best


def _check(hubs: tuple[Hub, Hub], elements: Sequence[Element], rules: Rules) -> None:
    """Raise PlacementError for lengths that cannot be meant; its field begins with the hub or element."""
    for number, hub in enumerate(hubs):
        try:
            engagement_mm(hub.bore_length_mm, 0.0, hub.shaft_length_mm)
            flange_behind_gap_face_mm(hub.bore_length_mm, hub.flange_mm, False)
        except PlacementError as error:
            raise PlacementError(f"hubs.{number}.{error.field}", error.message) from None
        if rules.one_diameter and hub.diameter_mm is None:
            raise PlacementError(f"hubs.{number}.diameter", "The rule of one diameter needs the shaft's diameter.")
    if not 0 <= rules.share <= 1:
        raise PlacementError("share", "A share between 0 and 1 is expected.")
    if not elements:
        raise PlacementError("elements", "Give the element's length, or one of the spacer's positions.")
    for number, element in enumerate(elements):
        if not (math.isfinite(element.length_mm) and element.length_mm >= 0):
            raise PlacementError(f"elements.{number}.length", "This length is missing, not finite or below zero.")


def _rank(placed: Placement) -> tuple[float, ...]:
    shares = [seat.share for seat in placed.seats]
    return (len(placed.broken), -round(min(shares), 9), -round(sum(shares), 9), -round(placed.gap_mm, 6))


def _placed(
    hubs: tuple[Hub, Hub],
    turned: tuple[bool, bool],
    dbse_mm: float,
    element: Element,
    rules: Rules,
    running: Running,
) -> Placement:
    o1, o2 = _behind(hubs, turned)
    needed = overhangs_needed_mm(dbse_mm, element.length_mm, o1, o2)
    overhangs = split(hubs, needed, rules)
    seats = tuple(
        Seat(
            reversed=way,
            overhang_mm=p,
            behind_mm=o,
            engagement_mm=engagement_mm(hub.bore_length_mm, p, hub.shaft_length_mm),
            share=_share(hub, p),
            beyond_mm=0.0 if hub.shaft_length_mm is None else max(0.0, hub.bore_length_mm - p - hub.shaft_length_mm),
        )
        for hub, way, p, o in zip(hubs, turned, overhangs, (o1, o2), strict=True)
    )
    gap = hub_face_gap_mm(dbse_mm, *overhangs)
    moved = (running.growth_1_mm, running.growth_2_mm, running.float_in_mm)
    running_gap, clearance = running_clearance_mm(gap, *moved), running_clearance_mm(dbse_mm, *moved)
    broken = {
        "engagement": any(seat.share < rules.share - DUST_MM for seat in seats),
        "diameter": rules.one_diameter
        and any(seat.engagement_mm < (hub.diameter_mm or 0.0) - DUST_MM for hub, seat in zip(hubs, seats, strict=True)),
        "protrusion": any(
            hub.protrusion_mm is not None and -seat.overhang_mm > hub.protrusion_mm + DUST_MM
            for hub, seat in zip(hubs, seats, strict=True)
        ),
        "clearance": _too_near(clearance, rules.clearance_mm),
        "gap": _too_near(gap, rules.gap_mm),
        "running-gap": running_gap <= DUST_MM,
    }
    return Placement(
        element=element,
        seats=(seats[0], seats[1]),
        overhangs_mm=needed,
        gap_mm=gap,
        running_gap_mm=running_gap,
        clearance_mm=clearance,
        broken=tuple(name for name in BROKEN if broken[name]),
    )


def _range(hubs: tuple[Hub, Hub], turned: tuple[bool, bool], element: Element, rules: Rules, running: Running) -> Range:
    o1, o2 = _behind(hubs, turned)
    gap = element.length_mm - o1 - o2
    none = Range(element, turned, gap, None, None)
    bounds = [_overhangs(hub, rules) for hub in hubs]
    if any(low > high + DUST_MM for low, high in bounds):
        return none
    if _too_near(gap, rules.gap_mm) or gap - running.total_mm <= DUST_MM:
        return none
    by_shafts = running.total_mm + (rules.clearance_mm or 0.0)
    low = max(sum(low for low, _high in bounds) + gap, by_shafts, 0.0)
    high = sum(high for _low, high in bounds) + gap
    touching = rules.clearance_mm is None and low <= by_shafts
    if high < low - DUST_MM or (touching and high <= low + DUST_MM):
        return none
    return Range(element, turned, gap, low, max(low, high), touching)


def _overhangs(hub: Hub, rules: Rules) -> tuple[float, float]:
    """Least and most overhang with which this hub holds its rules. [mm]"""
    diameter = hub.diameter_mm or 0.0 if rules.one_diameter else 0.0
    wanted = max(rules.share * hub.bore_length_mm, diameter)
    there = min(hub.bore_length_mm, math.inf if hub.shaft_length_mm is None else hub.shaft_length_mm)
    if wanted > there + DUST_MM:
        return math.inf, -math.inf
    low = -math.inf if hub.shaft_length_mm is None else wanted - hub.shaft_length_mm
    if hub.protrusion_mm is not None:
        low = max(low, -hub.protrusion_mm)
    return low, most_overhang_mm(hub.bore_length_mm, rules.share, diameter)


def _room(hubs: tuple[Hub, Hub], overhangs_mm: float, rules: Rules | None) -> tuple[float, float]:
    """Least and most overhang of side 1 among which the split is chosen. [mm]"""
    proud = [(-math.inf if hub.protrusion_mm is None else -hub.protrusion_mm, math.inf) for hub in hubs]
    for one, other in ([_overhangs(hub, rules) for hub in hubs] if rules else proud, proud):
        low, high = max(one[0], overhangs_mm - other[1]), min(one[1], overhangs_mm - other[0])
        if low <= high + DUST_MM:
            return low, max(low, high)
    return -math.inf, math.inf


def _behind(hubs: tuple[Hub, Hub], turned: tuple[bool, bool]) -> tuple[float, float]:
    one, other = (
        flange_behind_gap_face_mm(hub.bore_length_mm, hub.flange_mm, way) for hub, way in zip(hubs, turned, strict=True)
    )
    return one, other


def _share(hub: Hub, overhang_mm: float) -> float:
    return engaged_share(hub.bore_length_mm, overhang_mm, hub.shaft_length_mm)


def _bends(hub: Hub) -> list[float]:
    """Overhangs at which the engagement changes its slope. [mm]"""
    length, shaft = hub.bore_length_mm, hub.shaft_length_mm
    return [0.0, length] if shaft is None else [-shaft, 0.0, length - shaft, length]


def _crossings(hubs: tuple[Hub, Hub], overhangs_mm: float, points: Sequence[float]) -> Iterator[float]:
    """Overhangs of side 1 at which both shares are equal, between neighbouring bends."""
    for a, b in pairwise(points):
        at_a, at_b = (_share(hubs[0], p) - _share(hubs[1], overhangs_mm - p) for p in (a, b))
        if at_a * at_b < 0:
            yield a + (b - a) * at_a / (at_a - at_b)


def _too_near(distance_mm: float, least_mm: float | None) -> bool:
    return distance_mm <= DUST_MM if least_mm is None else distance_mm < least_mm - DUST_MM
