"""Three years of a train as rows: how fast each of its couplings moves, and what happened to it besides.

Every train has a small rate of its own. Between two visits its shafts move by that rate, a little more or less; where
more than `BROUGHT_BACK` of the tightest limit is used they are brought back. So what is found agrees with what was
left, and a forecast made from the readings comes true.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from random import Random
from typing import Any

from inspections.demo.places import Place
from inspections.demo.readings import Four
from inspections.demo.stories import Outing, Work

BROUGHT_BACK = 0.6
FIRST_RUNNING_DAYS = 30
NOTHING: Four = (0.0, 0.0, 0.0, 0.0)
# The starter grade that the demo's sites hold to: offset of short couplings by speed, angle at the flex planes of
# others (sources in fixtures/starters/grades.json). [rpm, mm], [mrad]
SHORT_MM = ((1200, 0.13), (1800, 0.10), (3600, 0.05))
SPACER_MRAD = 0.5


@dataclass(frozen=True)
class Event:
    """Something besides the yearly alignment. `jump` is what moved the shafts at once; it happens at every coupling
    of `at`, or at the first."""

    days_ago: int
    title: str
    by: str = ""
    at: str = ""
    jump: Four = NOTHING
    more: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class Life:
    """A train's couplings from their installation on: `rates` are positions gained in a year. [mm, mrad]"""

    train: str
    by: str
    days: int
    rates: Mapping[str, Four]
    until: int = 25
    every: int = 352
    events: tuple[Event, ...] = ()


def outings_of(life: Life, places: Mapping[str, Place], sheets: Mapping[str, Mapping[str, Any]]) -> Iterator[Outing]:
    """What was done at a train, in order: installed, looked at after its first running, then year by year."""
    yearly = range(life.days - FIRST_RUNNING_DAYS - life.every, life.until, -life.every)
    events = [
        Event(life.days, "Install the coupling"),
        Event(life.days - FIRST_RUNNING_DAYS, "First running: alignment and fasteners again"),
        *(Event(days, "Yearly alignment") for days in yearly),
        *life.events,
    ]
    chance = Random(life.train)
    stands = dict.fromkeys(life.rates, NOTHING)
    since = life.days
    for number, event in enumerate(sorted(events, key=lambda one: -one.days_ago)):
        years, works = (since - event.days_ago) / 365.25, []
        since = event.days_ago
        for place, rate in life.rates.items():
            at = places[place]
            moved = tuple(
                was + speed * years * chance.uniform(0.9, 1.1) for was, speed in zip(stands[place], rate, strict=True)
            )
            found: Four = moved  # type: ignore[assignment]
            if any(event.jump) and place == (event.at or next(iter(life.rates))):
                found = _plus(found, event.jump)
            work = _installed(place, chance) if number == 0 else _looked(place, found, at, sheets[at.sheet], chance)
            if number == 1:
                work = replace(work, torque="read")
            if event.more and place == (event.at or next(iter(life.rates))):
                work = replace(work, **event.more)
            left = work.left or work.found
            stands[place] = left if left is not None else found
            age = (life.days - event.days_ago) // 365
            works.append(work if number == 0 else replace(work, worn=work.worn or str(min(age, 2))))
        yield Outing(event.days_ago, life.train, event.by or life.by, event.title, tuple(works))


def used(position: Four, place: Place, sheet: Mapping[str, Any]) -> float:
    """How much of the tighter limit of the grade a position uses, near enough to decide whether to align."""
    offset, slope = (position[0] ** 2 + position[1] ** 2) ** 0.5, (position[2] ** 2 + position[3] ** 2) ** 0.5
    if length := sheet.get("flex_distance_mm"):
        return (offset / length * 1000 + slope / 2) / SPACER_MRAD
    return offset / next(limit for rpm, limit in SHORT_MM if place.rpm <= rpm)


def _installed(coupling: str, chance: Random) -> Work:
    rough = _scattered(chance, 0.25, 0.6)
    return Work(coupling, "installation", rounds=(rough,), left=_scattered(chance, 0.008, 0.03), element="new",
                torque="set")  # fmt: skip


def _looked(coupling: str, found: Four, place: Place, sheet: Mapping[str, Any], chance: Random) -> Work:
    """Left as it is found where it lies well inside; brought back in one round otherwise."""
    if sheet["family"] == "rigid":
        return Work(coupling, "periodic", torque="set")
    if used(found, place, sheet) < BROUGHT_BACK:
        return Work(coupling, "periodic", found=found)
    near: Four = tuple(0.35 * one for one in found)  # type: ignore[assignment]
    left = _scattered(chance, 0.006, 0.02)
    return Work(coupling, "periodic", found=found, rounds=(near,), left=left, torque="set")


def _scattered(chance: Random, mm: float, mrad: float) -> Four:
    return (*(chance.choice((-1, 1)) * chance.uniform(0.4, 1) * mm for _ in range(2)),
            *(chance.choice((-1, 1)) * chance.uniform(0.4, 1) * mrad for _ in range(2)))  # type: ignore[return-value]  # fmt: skip


def _plus(one: Four, other: Four) -> Four:
    return tuple(a + b for a, b in zip(one, other, strict=True))  # type: ignore[return-value]
