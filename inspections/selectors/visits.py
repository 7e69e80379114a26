"""Visits, their steps, the live result of a round, and what was left behind last."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Any
from uuid import UUID

from django.db.models import OuterRef, Q, QuerySet, Subquery

from couplings.models import Coupling
from inspections.models import (
    Breakdown,
    Cleaning,
    Conditions,
    Entry,
    GuardState,
    HoldDown,
    Mounting,
    PipeStrain,
    Rotation,
    RunningLook,
    RunOut,
    ShimPack,
    SignedRecord,
    SoftFoot,
    StatedValues,
    Survey,
    SurveyResult,
    Visit,
)
from inspections.steps import STEPS, Place, Read, Step
from inspections.steps.alignment import ROUND, Surveyed
from inspections.steps.judging import Judged, Yardstick, judged, yardstick_for
from inspections.steps.packs import Recorded
from inspections.steps.placement import Placed
from inspections.steps.softfoot import Stood
from plant.models import Machine, Person
from plant.refusals import Missing

# Steps whose facts stand beside the readings, under the names by which pages print them.
BESIDE: dict[str, tuple[str, type[Any]]] = {
    "running-look": ("looks", RunningLook),
    "stated": ("stated", StatedValues),
    "breakdown": ("breakdowns", Breakdown),
    "conditions": ("conditions", Conditions),
    "cleaning": ("cleanings", Cleaning),
    "hold-down": ("hold_downs", HoldDown),
    "rotation": ("rotations", Rotation),
    "guard": ("guards", GuardState),
}
_PRINTED = (
    "site", "coupling__train__area", "coupling__driver_machine", "coupling__driven_machine", "coupling__site",
    "coupling__grade", "fit", "sheet_version__sheet__family", "work_order__isolated_by", "work_order__verified_by",
    "taken_by", "entered_by", "in_hand_of", "signed_by", "record",
)  # fmt: skip


def visits_visible_to(person: Person) -> QuerySet[Visit]:
    """Visits at the person's sites with everything a list prints."""
    found: QuerySet[Visit] = Visit.objects.visible_to(person)
    return with_left_verdict(found.select_related(*_PRINTED))


def visit_for(person: Person, uuid: UUID | str) -> Visit:
    """The visit of this id, if the person may see it; otherwise there is none."""
    visit = (
        visits_visible_to(person)
        .prefetch_related(
            "entries__by",
            "work_order__crew",
            "sheet_version__joints",
            "sheet_version__hubs",
            "sheet_version__limits",
            "coupling__target_parts",
            "coupling__driver_machine__foot_planes",
            "coupling__driven_machine__foot_planes",
        )
        .filter(uuid=uuid)
        .first()
    )
    if visit is None:
        raise Missing()
    return visit


def visits_of(coupling: Coupling) -> QuerySet[Visit]:
    """Every visit at a coupling, latest first, dropped drafts left out; `left_verdict` is what its as-left got."""
    found: QuerySet[Visit] = Visit.objects.filter(coupling=coupling).exclude(state=Visit.State.DROPPED)
    return with_left_verdict(found.select_related("work_order", "taken_by", "signed_by", "coupling", "site"))


def drafts_of(person: Person) -> QuerySet[Visit]:
    """Visits still being written at the person's sites, those the person began first."""
    found: QuerySet[Visit] = Visit.objects.visible_to(person).filter(state=Visit.State.DRAFT)
    return found.select_related("coupling__train__area", "work_order", "taken_by", "site").order_by("-on", "-pk")


def with_left_verdict(visits: QuerySet[Visit]) -> QuerySet[Visit]:
    left = SurveyResult.objects.filter(survey__record=OuterRef("record"), survey__as_left=True)
    return visits.annotate(left_verdict=Subquery(left.values("verdict")[:1]))


def latest_as_left(coupling: Coupling) -> Survey | None:
    """The survey in force that was left behind last, with its result; None before the first."""
    return (
        Survey.objects.filter(visit__coupling=coupling, as_left=True, record__feeds__isnull=False)
        .select_related("visit__signed_by", "record", "result", "observer")
        .order_by("-visit__on", "-record__number")
        .first()
    )


def surveys_of(visit: Visit) -> QuerySet[Survey]:
    """The surveys of the text that now feeds the dates, with readings and results."""
    return (
        Survey.objects.filter(record=visit.record_id)
        .select_related("result", "observer")
        .prefetch_related("sets__readings", "sets__instrument")
        .order_by("number")
    )


def machine_facts(record: SignedRecord) -> dict[str, Any]:
    """What a signed text says of the machines themselves: run-out, pipe strain, soft foot, shims, mounting."""
    return {
        "run_outs": list(RunOut.objects.filter(record=record)),
        "pipe_strains": list(PipeStrain.objects.filter(record=record)),
        "soft_feet": list(SoftFoot.objects.filter(record=record)),
        "shim_packs": list(ShimPack.objects.filter(record=record)),
        "mountings": list(Mounting.objects.filter(record=record)),
        "beside": beside_facts(record),
    }


def beside_facts(record: SignedRecord) -> dict[str, Any]:
    """What a signed text says besides readings and machines: looks in passing, breakdowns, cleaning, guard and so on.

    Only what its steps hold is asked for: most texts hold few of these.
    """
    held = set(json.loads(record.text).get("facts", {}))
    found: dict[str, Any] = {}
    for step, (name, model) in BESIDE.items():
        if step in held:
            rows: Any = model._default_manager.filter(record=record)
            found[name] = list(rows.select_related("instrument") if model is HoldDown else rows)
    return found


@dataclass
class StepState:
    """One step of a visit as its list shows it; several entries where it is numbered."""

    step: Step
    state: str  # "open", "begun", "complete", "excused", "wrong", "spared"
    applies: bool = True
    entries: list[Entry] = field(default_factory=list)
    reads: dict[int, Read] = field(default_factory=dict)

    @property
    def key(self) -> str:
        return self.step.key

    @property
    def title(self) -> str:
        return self.step.title


def steps_of(visit: Visit) -> list[StepState]:
    """Every step of the visit, read again from what was typed."""
    entries: dict[str, list[Entry]] = {}
    for entry in visit.entries.all():
        entries.setdefault(entry.step, []).append(entry)
    states = []
    for step in STEPS.values():
        here = sorted(entries.get(step.key, []), key=lambda one: one.number)
        if step.filled:
            reads = {entry.number: step.read(entry.typed, Place(visit, entry.at)) for entry in here}
        else:
            reads = {0: step.read({}, Place(visit, visit.entered_at))}
        applies = step.asked(visit)
        states.append(StepState(step, _state(step, reads, applies), applies, here, reads))
    return states


def read_entry(visit: Visit, step: str, number: int = 0) -> Read:
    """One entry as it is understood; an empty one where nothing was typed."""
    entry = next((one for one in visit.entries.all() if (one.step, one.number) == (step, number)), None)
    typed, at = (entry.typed, entry.at) if entry is not None else ({}, visit.entered_at)
    return STEPS[step].read(typed, Place(visit, at))


def draft_result(visit: Visit, step: str, number: int = 0) -> Judged | None:
    """The live result of as-found, a round or as-left of a draft; None while its readings cannot be solved yet."""
    read = read_entry(visit, step, number)
    if read.errors or read.missing or read.excused or read.values is None:
        return None
    surveyed = followed(read.values, lambda other, place: read_entry(visit, other, place))
    if surveyed is None:
        return None
    by = with_shims(yardstick_for(visit.coupling, visit.sheet_version), visit)
    if step == "as-left":
        by = with_axial(by, visit, read_entry(visit, "placement").values)
    return judged(surveyed, by, decision_for(step))


def decision_for(step: str) -> str:
    """As-found is reported by its value; what is left behind is accepted with the guard band (ISO 14253-1)."""
    return "simple" if step == "as-found" else "guarded"


def followed(values: Surveyed, read_of: Callable[[str, int], Read | None]) -> Surveyed | None:
    """The survey that an as-left stands for: its own, or as-found, or a round; None where that is not there yet."""
    if not values.same_as:
        return values
    other = followed_place(values)
    read = read_of(*other) if other is not None else None
    if read is None or not isinstance(read.values, Surveyed) or read.excused:
        return None
    return read.values


def followed_place(values: Surveyed) -> tuple[str, int] | None:
    """Step and number of the survey that an as-left takes over."""
    if not values.same_as:
        return None
    place = ROUND.fullmatch(values.same_as)
    return ("alignment", int(place.group(1))) if place else ("as-found", 0)


def with_axial(by: Yardstick, visit: Visit, placed: Placed | None) -> Yardstick:
    """The yardstick of an as-left, with how far the gap in place is from the data sheet's, as it runs where known."""
    off = placed.axial.deviation_mm if placed is not None else None
    axial = (off, placed.axial.u_mm) if placed is not None and off is not None else None
    return replace(by, axial=axial, axial_counts=True)


def shims_left(machine: Machine, *, until: date | None = None) -> dict[str, ShimPack]:
    """The pack under each foot of a machine as a signed visit wrote it last, at whichever of its couplings."""
    at_driver = Q(side="driver", visit__coupling__driver_machine=machine)
    at_driven = Q(side="driven", visit__coupling__driven_machine=machine)
    rows = ShimPack.objects.filter(at_driver | at_driven, record__feeds__isnull=False).select_related("visit")
    if until is not None:
        rows = rows.filter(visit__on__lte=until)
    packs: dict[str, ShimPack] = {}
    for pack in rows.order_by("-visit__on", "-visit__id")[:100]:
        packs.setdefault(pack.foot, pack)
    return packs


def with_shims(by: Yardstick, visit: Visit) -> Yardstick:
    """The yardstick with the shims under both machines: as typed in this draft, else as left by the last visit."""
    coupling = visit.coupling
    read = read_entry(visit, "soft-foot")
    drafted = read.values.packs if isinstance(read.values, Stood) else ()
    shims = {}
    for side, machine in (("driver", coupling.driver_machine), ("driven", coupling.driven_machine)):
        thicknesses: dict[str, tuple[float, ...]] = {}
        whence: dict[str, str] = {}
        for pack in drafted:
            if pack.side == side:
                thicknesses[pack.foot], whence[pack.foot] = pack.shims_mm, "typed in this visit"
        for foot, row in shims_left(machine, until=visit.on).items():
            if foot not in thicknesses:
                thicknesses[foot], whence[foot] = tuple(row.shims_mm), f"as left on {row.visit.on}"
        shims[side] = Recorded(thicknesses, whence)
    return replace(by, shims=shims)


def _state(step: Step, reads: dict[int, Read], applies: bool) -> str:
    if not applies:
        return "spared"
    if not reads:
        return "open"
    if any(read.errors for read in reads.values()):
        return "wrong"
    if any(read.excused for read in reads.values()):
        return "excused"
    return "complete" if all(read.complete for read in reads.values()) else "begun"
