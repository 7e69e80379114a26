"""Every way two hubs can stand. The independent route puts both machines, as bodies, on one number line."""

import math
from dataclasses import dataclass
from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from couplings.engineering.orientations import Element, Hub, Rules, Running, orientations, placements, ranges, split
from couplings.engineering.placement import PlacementError, engagement_mm

STEADY = settings(max_examples=60, derandomize=True, deadline=None, database=None)
FREE = Running()


@dataclass
class Body:
    """A hub as a thing: its two faces and its flange plane, in one direction, to be turned and pushed about."""

    back: float
    front: float
    plane: float

    @classmethod
    def made(cls, hub):
        """As drawn: flange side to the right."""
        return cls(0.0, hub.bore_length_mm, hub.bore_length_mm - hub.flange_mm)

    def turned(self):
        return Body(-self.front, -self.back, -self.plane)

    def pushed(self, by):
        return Body(self.back + by, self.front + by, self.plane + by)

    def on_shaft(self, start, end):
        return max(0.0, min(self.front, end) - max(self.back, start))


def number_line(hubs, dbse, placed):
    """Both hubs where the placement has them: machine 1 ends at 0 from the left, machine 2 at DBSE from the right."""
    one, other = (Body.made(hub) for hub in hubs)
    one = one.turned() if placed.seats[0].reversed else one
    other = other if placed.seats[1].reversed else other.turned()
    return (
        one.pushed(placed.seats[0].overhang_mm - one.front),
        other.pushed(dbse - placed.seats[1].overhang_mm - other.back),
    )


lengths = st.integers(20, 120)
some_hub = st.builds(
    Hub,
    bore_length_mm=lengths,
    flange_mm=st.integers(-10, 30),
    shaft_length_mm=st.one_of(st.none(), st.integers(10, 150)),
    protrusion_mm=st.one_of(st.none(), st.integers(0, 40)),
)
two_hubs = st.tuples(some_hub, some_hub)


@STEADY
@given(hubs=two_hubs, dbse=st.integers(0, 300), length=st.integers(0, 300))
def test_bodies_on_a_number_line_have_the_same_planes_gap_and_engagement(hubs, dbse, length):
    found = placements(hubs, dbse, [Element("element", length)], Rules(), FREE)
    assert {tuple(seat.reversed for seat in one.seats) for one in found} == set(orientations(hubs))
    for placed in found:
        one, other = number_line(hubs, dbse, placed)
        assert other.plane - one.plane == pytest.approx(length, abs=1e-9)
        assert other.back - one.front == pytest.approx(placed.gap_mm, abs=1e-9)
        shafts = [
            (-math.inf if hubs[0].shaft_length_mm is None else -hubs[0].shaft_length_mm, 0.0),
            (dbse, math.inf if hubs[1].shaft_length_mm is None else dbse + hubs[1].shaft_length_mm),
        ]
        for body, shaft, seat, hub in zip((one, other), shafts, placed.seats, hubs, strict=True):
            assert body.on_shaft(*shaft) == pytest.approx(seat.engagement_mm, abs=1e-9)
            assert seat.share == pytest.approx(seat.engagement_mm / hub.bore_length_mm, abs=1e-12)
        past = [shafts[0][0] - one.back, other.front - shafts[1][1]]
        assert [seat.beyond_mm for seat in placed.seats] == pytest.approx([max(0.0, p) for p in past], abs=1e-9)


@STEADY
@given(hubs=two_hubs, overhangs=st.integers(-120, 200))
def test_no_other_split_gives_the_worse_side_more(hubs, overhangs):
    grid = np.linspace(-250, 450, 2801)

    def shares(p1):
        """The shaft's and the bore's stretches of the line, laid over each other."""
        both = []
        for hub, p in zip(hubs, (p1, overhangs - p1), strict=True):
            start = -math.inf if hub.shaft_length_mm is None else -hub.shaft_length_mm
            covered = np.minimum(p, 0) - np.maximum(p - hub.bore_length_mm, start)
            both.append(np.maximum(covered, 0) / hub.bore_length_mm)
        return np.array(both)

    p1, p2 = split(hubs, overhangs)
    assert p1 + p2 == pytest.approx(overhangs, abs=1e-9)
    lows = [-math.inf if hub.protrusion_mm is None else -hub.protrusion_mm for hub in hubs]
    if overhangs - lows[1] >= lows[0]:
        assert p1 >= lows[0] - 1e-9
        assert p2 >= lows[1] - 1e-9
        grid = grid[(grid >= lows[0]) & (grid <= overhangs - lows[1])]
    best, others = shares(np.array([p1]))[:, 0], shares(grid)
    worse = others.min(axis=0)
    assert (worse <= best.min() + 1e-9).all()
    assert (others.sum(axis=0)[worse > best.min() - 1e-12] <= best.sum() + 1e-9).all()


@STEADY
@given(
    hubs=two_hubs,
    length=st.integers(20, 250),
    growth=st.integers(0, 2),
    clearance=st.one_of(st.none(), st.integers(0, 5)),
    gap=st.one_of(st.none(), st.integers(0, 5)),
    one_diameter=st.booleans(),
)
def test_the_range_of_dbse_is_where_a_placement_holds(hubs, length, growth, clearance, gap, one_diameter):
    """At the ends of every range, just within and without, and between; the placements themselves are the judge."""
    hubs = tuple(Hub(h.bore_length_mm, h.flange_mm, h.shaft_length_mm, 30.0, h.protrusion_mm) for h in hubs)
    rules = Rules(0.8, clearance, gap, one_diameter)
    running = Running(growth, growth / 2, 1.0)
    element = Element("element", length)
    served = {one.reversed: one for one in ranges(hubs, [element], rules, running)}
    ends = {end for row in served.values() for end in (row.from_mm, row.to_mm) if end is not None}
    near = {end + by for end in ends for by in (-0.001, 0.0, 0.001)}
    for dbse in sorted({*near, *range(0, 420, 35)}):
        for placed in placements(hubs, dbse, [element], rules, running):
            row = served[tuple(seat.reversed for seat in placed.seats)]
            inside = row.from_mm is not None and row.from_mm - 1e-6 <= dbse <= row.to_mm + 1e-6
            if row.touching and abs(dbse - row.from_mm) < 1e-6:
                inside = False
            assert placed.holds == inside, (dbse, placed, row)


def test_those_that_hold_come_first_and_the_better_engaged_before_the_others():
    hubs = (Hub(60, 8, 110), Hub(75, 12, 110))
    spacer = [Element("short", 90), Element("middle", 100), Element("long", 140)]
    found = placements(hubs, 80, spacer, Rules(), FREE)
    assert len(found) == 12
    broken = [len(one.broken) for one in found]
    assert broken == sorted(broken)
    holding = [one.least_share for one in found if one.holds]
    assert holding == sorted(holding, reverse=True)
    assert holding
    assert len(holding) < len(found)


@pytest.mark.parametrize(
    "hub, ways",
    [(Hub(60, 8), 2), (Hub(60, 30), 1), (Hub(60, 8, reversible=False), 1)],  # a middle plane looks the same both ways
)
def test_only_orientations_that_can_be_told_apart_are_tried(hub, ways):
    assert len(list(orientations((hub, hub)))) == ways**2


def test_each_rule_is_named_where_it_is_broken():
    def broken(dbse, length, rules=Rules(), running=FREE, **more):  # noqa: B008 - frozen
        hub = Hub(60, 0, reversible=False, **more)
        (one,) = placements((hub, hub), dbse, [Element("element", length)], rules, running)
        return one.broken

    assert broken(10, 10) == ()
    assert broken(50, 10) == ("engagement",)
    assert broken(30, 10, Rules(one_diameter=True), diameter_mm=55.0) == ("diameter",)
    assert broken(10, 60, protrusion_mm=5.0) == ("protrusion",)
    assert broken(3, 3, Rules(clearance_mm=2.0), Running(0.5, 0.4, 0.3)) == ("clearance",)
    assert broken(3, 3, Rules(gap_mm=4.0)) == ("gap",)
    assert broken(3, 3, running=Running(1.0, 1.0, 1.0)) == ("clearance", "running-gap")
    assert broken(0, 0) == ("clearance", "gap", "running-gap")


@pytest.mark.parametrize(
    "hubs, elements, rules, field",
    [
        ((Hub(0), Hub(60)), [Element("", 10)], Rules(), "hubs.0.bore_length"),
        ((Hub(60), Hub(60, math.nan)), [Element("", 10)], Rules(), "hubs.1.flange"),
        ((Hub(60), Hub(60)), [], Rules(), "elements"),
        ((Hub(60), Hub(60)), [Element("", 10), Element("", -1)], Rules(), "elements.1.length"),
        ((Hub(60), Hub(60)), [Element("", 10)], Rules(one_diameter=True), "hubs.0.diameter"),
        ((Hub(60), Hub(60)), [Element("", 10)], Rules(1.5), "share"),
    ],
)
def test_what_cannot_be_placed_is_refused(hubs, elements, rules, field):
    with pytest.raises(PlacementError) as refusal:
        placements(hubs, 50, elements, rules, FREE)
    assert refusal.value.field == field


def test_counting_covered_millimetres_agrees_where_the_shaft_has_no_end():
    for bore, overhang in product((20, 60), (-80, -5, 0, 5, 59, 70)):
        covered = sum(1 for mm in range(-500, 0) if overhang - bore <= mm < overhang)
        assert engagement_mm(bore, overhang) == covered
