"""What would come of moves that nobody has made yet: at one coupling, and through the train it stands in.

Nothing here is kept. A survey of a draft is moved on paper, judged as it would be judged, and laid beside what the
train's other couplings were left at.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

import numpy as np
from django.db.models import OuterRef, Subquery

from couplings.calculations.moves_answer import MovesResult, compute_moves
from couplings.calculations.moves_request import MovesRequest
from couplings.engineering.alignment import Misalignment
from couplings.engineering.conformity import Judgement
from couplings.engineering.limits import Limits
from couplings.engineering.moves import after_moves
from couplings.engineering.trains import (
    FootPlane,
    Train,
    TrainCoupling,
    TrainFootMove,
    TrainMachine,
    TrainMoves,
    coupling_left,
    residuals,
)
from couplings.models import Coupling, Fit
from couplings.selectors import flex_planes_of, limits_of_each, target_of
from inspections.models import Survey, SurveyResult, Visit
from inspections.steps.judging import Judged, expected_at
from inspections.steps.packs import Recorded, most_down_mm
from plant.models import Machine
from plant.refusals import Refused

TRAVEL_MM = 25.0  # as for a dial: nobody moves a machine further by shims and jacking bolts
FEWEST = 3  # with two machines the coupling's own picture is the train's
Numbers = tuple[float, float, float, float]


@dataclass(frozen=True)
class Move:
    """One foot plane of the movable machine, x from the coupling's centre, as its observer sees it. [mm]"""

    name: str
    x_mm: float
    up_mm: float
    right_mm: float


@dataclass(frozen=True)
class Trial:
    """Where moves would leave the movable machine, and what the survey would then be given. Working frame.

    `bent_mm`: how far the moves are from a straight line over the feet; the machine is rigid and follows the nearest.
    `lacking`: foot planes that would come down further than the shims recorded there, with that thickness. [mm]
    """

    moves: tuple[Move, ...]
    position: Misalignment
    judgement: Judgement
    bent_mm: float
    lacking: tuple[tuple[str, float], ...]


def tried(found: Judged, moves: Sequence[Move]) -> Trial:
    """Make the moves on paper.

    A plane that was not measured stays not known, whatever is moved in it. The survey's uncertainty stays with the
    result; the moves are taken as exact.
    """
    feet = [(one.name, one.x_mm) for one in moves]
    ups, rights = [one.up_mm for one in moves], [one.right_mm for one in moves]
    position = after_moves(found.misalignment, feet, ups, rights)
    start = Misalignment.of((0.0, 0.0, 0.0, 0.0), np.zeros((4, 4)))
    v, h, sv, sh = after_moves(start, feet, ups, rights).mean
    bent = max(
        max(abs(v + sv * one.x_mm / 1000 - one.up_mm), abs(h + sh * one.x_mm / 1000 - one.right_mm)) for one in moves
    )
    shims = found.yardstick.shims.get(found.surveyed.movable, Recorded())
    lowest = [(one, most_down_mm(one.name, shims)) for one in moves]
    lacking = tuple((one.name, most) for one, most in lowest if most is not None and -one.up_mm > most + 1e-6)
    return Trial(tuple(moves), position, expected_at(found, position), bent, lacking)


@dataclass(frozen=True)
class Source:
    """Whence a coupling's position in the train is known: `on` is the day of its as-left, None for this survey."""

    tag: str
    on: date | None


@dataclass(frozen=True)
class TrainTrial:
    """The train with this survey in it.

    `unknown` says what keeps it from being laid out, `remarks` what was left out or is taken for granted.
    `least`: the fewest millimetres that bring every coupling in; `moved`: what the moves tried would do to all of them.
    """

    names: tuple[str, ...]
    sources: tuple[Source, ...] = ()
    unknown: tuple[str, ...] = ()
    remarks: tuple[str, ...] = ()
    least: MovesResult | None = None
    moved: MovesResult | None = None


def train_tried(visit: Visit, found: Judged, trial: Trial | None) -> TrainTrial | None:
    """The train of a coupling from its latest as-left surveys and this one; None for a train of two machines.

    X runs from the driver-side shaft end of position 1, in the train's frame: right as seen from the driver end.
    """
    coupling = visit.coupling
    machines = list(coupling.train.machines.prefetch_related("foot_planes").order_by("position"))
    if len(machines) < FEWEST:
        return None
    laid = _Layout(visit, found, machines)
    names = tuple(machine.name for machine in machines)
    sources, unknown, remarks = tuple(laid.sources), tuple(laid.unknown), tuple(laid.remarks)
    if unknown:
        return TrainTrial(names, sources, unknown, remarks)
    train = Train(tuple(laid.machines), tuple(laid.couplings))
    request = MovesRequest(train, shim_stock_mm=found.yardstick.shim_stock_mm)
    try:
        least = compute_moves(request)
    except Refused as refusal:
        return TrainTrial(names, sources, tuple(dict.fromkeys(refusal.as_dict().values())), remarks)
    moved = None
    if trial is not None:
        place = laid.place_of(coupling) + (found.surveyed.movable == "driven")
        answer = _moved(request, place, trial, found, least.found)
        if isinstance(answer, str):
            return TrainTrial(names, sources, (), (*remarks, answer), least)
        moved = answer
    return TrainTrial(names, sources, (), remarks, least, moved)


def _moved(request: MovesRequest, place: int, trial: Trial, found: Judged, least: TrainMoves) -> MovesResult | str:
    """The moves tried as an answer of the train: every coupling that the moved machine has is changed by them."""
    machine = request.train.machines[place]
    by_name = {one.name: one for one in trial.moves}
    if set(by_name) != {foot.name for foot in machine.feet}:
        return (
            f"The feet of {machine.name} were typed in this survey and differ from the register's: what the moves do "
            "to the train's other couplings is not shown."
        )
    # Behind a driven machine one looks towards the driver end: that observer's right is the train's left.
    sign = 1.0 if found.surveyed.movable == "driver" else -1.0
    rows: list[list[tuple[float, float]]] = []
    moves = []
    for number, one in enumerate(request.train.machines):
        made = [
            (by_name[foot.name].up_mm, sign * by_name[foot.name].right_mm) if number == place else (0.0, 0.0)
            for foot in one.feet
        ]
        line = [_fitted([foot.x_mm for foot in one.feet], [pair[p] for pair in made]) for p in (0, 1)]
        made = list(zip(*line, strict=True))
        rows.append(made)
        moves += [TrainFootMove(number, n, up + 0.0, right + 0.0) for n, (up, right) in enumerate(made)]
    after = tuple(
        coupling_left(one, left)
        for one, left in zip(request.train.couplings, residuals(request.train, rows), strict=True)
    )
    total = sum(abs(move) for row in rows for pair in row for move in pair)
    made_so = TrainMoves("least-total", 1.0, least.planes, least.before, after, tuple(moves), value=total, bound=None)
    return MovesResult(request, made_so)


def _fitted(xs: Sequence[float], moves: Sequence[float]) -> list[float]:
    """The moves of a rigid machine nearest to those asked for. [mm]"""
    table = np.column_stack([np.ones(len(xs)), np.asarray(xs) / 1000.0])
    line = np.linalg.lstsq(table, np.asarray(moves, dtype=float), rcond=None)[0]
    return [float(y) for y in table @ line]


def _covariance(result: SurveyResult) -> tuple[Numbers, Numbers, Numbers, Numbers] | None:
    """As the record keeps it, nan in a plane that was not read; None where a result came without."""
    upper = [(row, column) for row in range(4) for column in range(row, 4)]
    if len(result.covariance) != len(upper) or all(number is None for number in result.covariance):
        return None
    table = [[math.nan] * 4 for _ in range(4)]
    for (row, column), number in zip(upper, result.covariance, strict=True):
        if number is not None:
            table[row][column] = table[column][row] = number
    return Misalignment.of(np.zeros(4), table).covariance


def _standing(visit: Visit) -> list[Coupling]:
    """The couplings of the train that are there, each with its latest as-left survey's key as `left_key`."""
    left = (
        Survey.objects.filter(visit__coupling=OuterRef("pk"), as_left=True, record__feeds__isnull=False)
        .order_by("-visit__on", "-record__number")
        .values("pk")[:1]
    )
    found = Coupling.objects.filter(train=visit.coupling.train, retired_on__isnull=True)
    return list(found.select_related("train").prefetch_related("target_parts").annotate(left_key=Subquery(left)))


def _open_fits(couplings: list[Coupling]) -> list[Fit]:
    """What is fitted there now, with the data sheets and their limits."""
    fits = Fit.objects.filter(coupling__in=couplings, removed_on__isnull=True)
    return list(fits.select_related("sheet_version__sheet__family").prefetch_related("sheet_version__limits"))


def _left(couplings: list[Coupling]) -> dict[int, Survey]:
    """What each was left at last, with its day and result."""
    keys = [one.left_key for one in couplings if one.left_key]  # type: ignore[attr-defined]
    surveys = Survey.objects.filter(pk__in=keys).select_related("visit", "result")
    return {one.visit.coupling_id: one for one in surveys}


class _Layout:
    """Machines and couplings along X, collected with everything that is missing."""

    def __init__(self, visit: Visit, found: Judged, machines: list[Machine]) -> None:
        self.visit, self.found, self.rows = visit, found, machines
        self.machines: list[TrainMachine] = []
        self.couplings: list[TrainCoupling] = []
        self.sources: list[Source] = []
        self.unknown: list[str] = []
        self.remarks: list[str] = []
        standing = _standing(visit)
        self.between = {(one.driver_machine_id, one.driven_machine_id): one for one in standing}
        self.fits: dict[int, Fit] = {fit.coupling_id: fit for fit in _open_fits(standing)}
        self.left = _left(standing)
        self.limits = limits_of_each(
            (one, self.fits[one.pk].sheet_version)
            for one in standing
            if one.pk in self.fits and one.pk != visit.coupling_id
        )
        start: float | None = 0.0
        for place, machine in enumerate(machines):
            self._stand(machine, start)
            if place + 1 < len(machines):
                start = self._join(machine, machines[place + 1], start)
        self._planes()
        if any(one.on is not None for one in self.sources):
            self.remarks.append(
                "The other couplings are taken as they were left; what has moved at them since, in this visit too, is "
                "not in them: read them again before you rely on this."
            )

    def place_of(self, coupling: Coupling) -> int:
        """Which coupling of the train this one is, from the driver end."""
        return next(n for n, one in enumerate(self.rows) if one.pk == coupling.driver_machine_id)

    def _stand(self, machine: Machine, start: float | None) -> None:
        coupling, shims = self.visit.coupling, Recorded()
        for side, pk in (("driver", coupling.driver_machine_id), ("driven", coupling.driven_machine_id)):
            if machine.pk == pk:
                shims = self.found.yardstick.shims.get(side, shims)
        feet = []
        for foot in machine.foot_planes.all():
            down = most_down_mm(foot.name, shims)
            feet.append(
                FootPlane(foot.name, (start or 0.0) + foot.distance_mm, math.inf if down is None else max(down, 0.0))
            )
        if len(feet) < 2:
            self.unknown.append(f"The foot planes of {machine.name} are not in the register: it needs two to four.")
        self.machines.append(TrainMachine(machine.name, tuple(feet), fixed=not machine.movable))

    def _join(self, driver: Machine, driven: Machine, start: float | None) -> float | None:
        """The coupling after a machine; answers where the next machine's shaft begins."""
        here = self.between.get((driver.pk, driven.pk))
        if driver.shaft_length_mm is None:
            self.unknown.append(f"The shaft length of {driver.name} is not in the register.")
        if here is None:
            self.unknown.append(f"Between {driver.name} and {driven.name} no coupling is in the register.")
            return None
        own = here.pk == self.visit.coupling_id
        fit = self.fits.get(here.pk)
        version = self.visit.sheet_version if own else fit.sheet_version if fit is not None else None
        dbse_mm = fit.dbse_mm if fit is not None and fit.dbse_mm is not None else None
        if dbse_mm is None and version is not None:
            dbse_mm = version.dbse_mm
        if version is None:
            self.unknown.append(f"{here.tag}: nothing is fitted there, so it has no data sheet.")
        elif dbse_mm is None:
            self.unknown.append(f"{here.tag}: the distance between its shaft ends is not known.")
        position = self._position(here, own)
        if position is None or version is None or dbse_mm is None or start is None or driver.shaft_length_mm is None:
            return None
        end = start + driver.shaft_length_mm
        planes = flex_planes_of(version)
        limits = self.found.yardstick.limits if own else self.limits[here.pk]
        self.couplings.append(
            TrainCoupling(
                end + dbse_mm / 2,
                position,
                self.found.record_target if own else target_of(here),
                self._limits(here.tag, limits, planes is not None),
                planes,
                self.found.record.covariance if own else _covariance(self.left[here.pk].result),
            )
        )
        return end + dbse_mm

    def _position(self, here: Coupling, own: bool) -> Numbers | None:
        if own:
            self.sources.append(Source(here.tag, None))
            return self.found.record.mean
        left = self.left.get(here.pk)
        if left is None:
            self.unknown.append(f"{here.tag}: no as-left survey of it is signed yet.")
            return None
        self.sources.append(Source(here.tag, left.visit.on))
        result = left.result
        v, h, sv, sh = (
            math.nan if one is None else one
            for one in (result.offset_v_mm, result.offset_h_mm, result.slope_v_mrad, result.slope_h_mrad)
        )
        return (v, h, sv, sh)

    def _limits(self, tag: str, limits: Limits, flex: bool) -> Limits | None:
        """What moves of feet can serve: no axial limit, no flex angle where the flex planes are not known."""
        kept = tuple(
            one for one in limits.limits if one.quantity != "axial" and (flex or not one.quantity.startswith("flex"))
        )
        if any(one.quantity.startswith("flex") for one in limits.limits) and not flex:
            self.remarks.append(f"{tag}: its limits on flex angles are left out, its flex distance is not known.")
        if not kept:
            self.remarks.append(
                f"{tag}: it has no limits that moves can serve, so it is brought exactly to its target."
            )
            return None
        return replace(limits, limits=kept)

    def _planes(self) -> None:
        """Only a plane that every coupling was measured in can be laid through the train."""
        if self.unknown:
            return
        for plane, word in enumerate(("vertical", "horizontal")):
            pairs = [(one.misalignment[plane], one.misalignment[plane + 2]) for one in self.couplings]
            lost = [one.tag for one, pair in zip(self.sources, pairs, strict=True) if not np.isfinite(pair).all()]
            if not lost:
                continue
            self.remarks.append(
                f"The {word} plane was not measured at {', '.join(lost)}: the train is not shown in it."
            )
            for n, one in enumerate(self.couplings):
                numbers = list(one.misalignment)
                numbers[plane] = numbers[plane + 2] = math.nan
                self.couplings[n] = replace(one, misalignment=(numbers[0], numbers[1], numbers[2], numbers[3]))
        if not any(math.isfinite(n) for n in self.couplings[0].misalignment):
            self.unknown.append("No plane was measured at every coupling of the train.")
