"""Trains for tests: made from where shafts stand, turned end for end, and solved a second time in another way.

The second way shares nothing with the engineering room but its dataclasses: its unknowns are height and slope of each
machine's move about the datum's origin and both signs of every foot's move, and it is solved as a mixed-integer
programme without whole numbers.
"""

from __future__ import annotations

import math

import numpy as np
from scipy import optimize

from couplings.engineering.alignment import Misalignment
from couplings.engineering.alignment.frames import swapped, swapped_planes
from couplings.engineering.conformity import Limit, Limits
from couplings.engineering.trains import SIDES, FootPlane, Train, TrainCoupling, TrainMachine

NONE = (math.nan, math.nan)


def standing(feet, couplings, vertical=None, horizontal=None, *, bounds=None, limits=None, fixed=()):
    """A train whose shafts stand at these positions over its feet (one list of X per machine), couplings at X.

    What a survey would read at each coupling is taken from the two lines themselves, at two places 1 m apart.
    """
    made = [[], []]
    for plane, rows in enumerate((vertical, horizontal)):
        for machine, xs in enumerate(feet):
            made[plane].append(None if rows is None else np.polyfit(xs, rows[machine], 1))
    found = []
    for place, x in enumerate(couplings):
        numbers = []
        for lines in made:
            if lines[place] is None:
                numbers.append(NONE)
                continue
            driver, driven = (np.poly1d(line) for line in lines[place : place + 2])
            # x of the record runs towards the driver: one metre on is X less 1,000 mm.
            here, there = (float(driver(at) - driven(at)) for at in (x, x - 1000.0))
            numbers.append((here, there - here))
        (v, sv), (h, sh) = numbers
        found.append(TrainCoupling(x, (v, h, sv, sh), limits=limits))
    machines = tuple(
        TrainMachine(
            f"machine {place + 1}",
            tuple(
                FootPlane(f"foot {number + 1}", x, **(bounds[place][number] if bounds else {}))
                for number, x in enumerate(xs)
            ),
            place in fixed,
        )
        for place, xs in enumerate(feet)
    )
    return Train(machines, tuple(found))


def end_for_end(train):
    """The same train with its ends named the other way round: the record's exchange at every coupling."""
    couplings = []
    for coupling in reversed(train.couplings):
        now, wanted = (
            swapped(Misalignment.of(numbers, np.zeros((4, 4)))).mean
            for numbers in (coupling.misalignment, coupling.target)
        )
        planes = coupling.flex_planes_mm
        couplings.append(
            TrainCoupling(-coupling.x_mm, now, wanted, coupling.limits, swapped_planes(planes) if planes else None)
        )
    machines = tuple(
        TrainMachine(
            machine.name,
            tuple(
                FootPlane(f.name, -f.x_mm, f.down_mm, f.up_mm, left_mm=f.right_mm, right_mm=f.left_mm)
                for f in reversed(machine.feet)
            ),
            machine.fixed,
        )
        for machine in reversed(train.machines)
    )
    return Train(machines, tuple(couplings))


def random_train(rng, machines=3, bounded=0.3):
    """A horizontal train of invented proportions, both planes, short and spacer couplings, some feet bound."""
    x, feet, centres = 0.0, [], []
    for _ in range(machines):
        width = rng.uniform(250.0, 1200.0)
        xs = [x + 150.0, x + 150.0 + width]
        if rng.random() < 0.25:
            xs.insert(1, xs[0] + width * rng.uniform(0.3, 0.7))
        feet.append(xs)
        x = xs[-1] + rng.uniform(150.0, 500.0)
        centres.append(x)
    built = []
    for xs in feet:
        rows = []
        for place in xs:
            bound = rng.random(3) < bounded
            side = float(rng.uniform(0.1, 1.5)) if bound[0] else math.inf
            down = float(rng.uniform(0.0, 0.8)) if bound[1] else math.inf
            rows.append(FootPlane(f"{place:.0f}", place, down, math.inf, side, side))
        built.append(TrainMachine("m", tuple(rows), bool(rng.random() < 0.2)))
    couplings = []
    for centre in centres[:-1]:
        spacer = rng.random() < 0.5
        half = float(rng.uniform(50.0, 140.0))
        short = (Limit("offset", float(rng.uniform(0.03, 0.1))), Limit("angularity", float(rng.uniform(0.3, 1.0))))
        limits = (Limit("flex-angle", float(rng.uniform(0.3, 1.0))),) if spacer else short
        rule = "vector" if rng.random() < 0.7 else "per-plane"
        numbers = (*rng.uniform(-0.5, 0.5, 2), *rng.uniform(-0.8, 0.8, 2))
        wanted = (*rng.uniform(-0.1, 0.1, 2), *rng.uniform(-0.1, 0.1, 2))
        couplings.append(
            TrainCoupling(
                centre,
                tuple(float(n) for n in numbers),
                tuple(float(n) for n in wanted),
                Limits(limits, rule),
                (-half, half) if spacer else None,
            )
        )
    return Train(tuple(built), tuple(couplings))


def left_by(train, moves):
    """Largest ratio to a limit after the moves, by the shafts' own lines: nothing of the programme is used."""
    worst = 0.0
    start = [np.zeros(2), np.zeros(2)]  # height at X = 0 and slope per mm of the first shaft, in each plane
    shafts = [start]
    for coupling in train.couplings:
        row = []
        for plane in (0, 1):
            offset, slope = coupling.misalignment[plane], coupling.misalignment[plane + 2] / 1000.0
            driver = shafts[-1][plane]
            row.append(driver + np.array([-offset - slope * coupling.x_mm, slope]))
        shafts.append(row)
    for place, machine in enumerate(train.machines):
        rows = [move for move in moves if move.machine == place]
        for plane in (0, 1):
            made = [(move.up_mm, move.right_mm)[plane] for move in rows]
            slope, height = np.polyfit([foot.x_mm for foot in machine.feet], made, 1)
            xs = np.array([foot.x_mm for foot in machine.feet])
            assert np.allclose(height + slope * xs, made, atol=1e-6), "a rigid machine moves along a straight line"
            shafts[place][plane] = shafts[place][plane] + np.array([height, slope])
    for place, coupling in enumerate(train.couplings):
        numbers = np.zeros(4)
        for plane in (0, 1):
            driver, driven = shafts[place][plane], shafts[place + 1][plane]
            here, there = (
                (driver[0] + driver[1] * at) - (driven[0] + driven[1] * at)
                for at in (coupling.x_mm, coupling.x_mm - 1000.0)
            )
            numbers[plane], numbers[plane + 2] = here, there - here
        worst = max(worst, *ratios(coupling, numbers - np.array(coupling.target)))
    return worst


def ratios(coupling, deviation):
    """Every figure of a coupling over its limit."""
    offset, slope = deviation[:2], deviation[2:]
    found = []
    for limit in coupling.limits.limits:
        vectors = {"offset": [offset], "angularity": [slope]}.get(limit.quantity)
        if vectors is None:
            (xa, xb), long = coupling.flex_planes_mm, coupling.flex_planes_mm[1] - coupling.flex_planes_mm[0]
            vectors = [(1000 * offset + slope * xb) / long, -(1000 * offset + slope * xa) / long]
        for vector in vectors:
            parts = [np.hypot(*vector)] if coupling.limits.rule == "vector" else np.abs(vector)
            found += [float(part) / limit.value for part in parts]
    return found


def solved_again(train, share=1.0, *, largest=False, held=()):
    """The least sum of moves (or the least largest), in other unknowns; None where there is none.

    `held` are the feet, counted from the driver end, that must stay.
    """
    feet = [(place, foot) for place, machine in enumerate(train.machines) for foot in machine.feet]
    many, lines = len(feet), len(train.machines)
    width = 4 * lines + 4 * many + 1
    rows, low, high = [], [], []

    def line(place, plane, x, by=1.0):
        row = np.zeros(width)
        row[4 * place + 2 * plane] = by
        row[4 * place + 2 * plane + 1] = by * x / 1000.0
        return row

    def add(row, lowest, highest):
        rows.append(row)
        low.append(lowest)
        high.append(highest)

    bounds_low, bounds_high = np.zeros(width), np.full(width, np.inf)
    bounds_low[: 4 * lines] = -np.inf
    for number, (place, foot) in enumerate(feet):
        for plane in (0, 1):
            plus = 4 * lines + 4 * number + 2 * plane
            row = line(place, plane, foot.x_mm)
            row[plus], row[plus + 1] = -1.0, 1.0
            add(row, 0.0, 0.0)
            minus_most, plus_most = ((foot.down_mm, foot.up_mm), (foot.left_mm, foot.right_mm))[plane]
            stays = train.machines[place].fixed or number in held
            bounds_high[plus], bounds_high[plus + 1] = (0.0, 0.0) if stays else (plus_most, minus_most)
            if largest:
                top = np.zeros(width)
                top[plus], top[plus + 1], top[-1] = 1.0, 1.0, -1.0
                add(top, -np.inf, 0.0)
    for place, coupling in enumerate(train.couplings):
        for limit in coupling.limits.limits:
            if limit.quantity == "offset":
                places = [(coupling.x_mm, limit.value, 1.0)]
            elif limit.quantity == "angularity":
                places = [(None, limit.value, 1.0)]
            else:
                (xa, xb), long = coupling.flex_planes_mm, coupling.flex_planes_mm[1] - coupling.flex_planes_mm[0]
                # An angle of so much at one plane is a distance between the lines at the other.
                places = [(coupling.x_mm - x, limit.value * long / 1000.0, 1.0) for x in (xb, xa)]
            for x, allowed, _one in places:
                parts = []
                for plane in (0, 1):
                    offset, slope = (
                        np.array(coupling.misalignment)[[plane, plane + 2]]
                        - np.array(coupling.target)[[plane, plane + 2]]
                    )
                    if x is None:
                        row = line(place, plane, 0.0, 0.0) + line(place + 1, plane, 0.0, 0.0)
                        row[4 * place + 2 * plane + 1], row[4 * (place + 1) + 2 * plane + 1] = -1.0, 1.0
                        parts.append((row, slope))
                    else:
                        row = line(place, plane, x) - line(place + 1, plane, x)
                        parts.append((row, offset + slope * (coupling.x_mm - x) / 1000.0))
                if coupling.limits.rule == "per-plane":
                    for row, now in parts:
                        add(row, -share * allowed - now, share * allowed - now)
                    continue
                for k in range(SIDES):
                    way = np.array([math.cos(a := math.pi * (2 * k + 1) / SIDES), math.sin(a)])
                    row = way[0] * parts[0][0] + way[1] * parts[1][0]
                    now = way[0] * parts[0][1] + way[1] * parts[1][1]
                    add(row, -np.inf, share * allowed * math.cos(math.pi / SIDES) - now)
    cost = np.zeros(width)
    cost[-1 if largest else slice(4 * lines, -1)] = 1.0
    found = optimize.milp(
        cost,
        bounds=optimize.Bounds(bounds_low, bounds_high),
        constraints=optimize.LinearConstraint(np.array(rows), low, high),
    )
    assert found.status in (0, 2), found.message
    return None if found.status == 2 else float(found.fun)
