"""What stands against signing a visit, and what it would say: for the last step's page and for signing itself."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from inspections import rules
from inspections.models import Visit
from inspections.selectors.hold_points import hold_points
from inspections.selectors.visits import (
    decision_for,
    followed,
    followed_place,
    steps_of,
    with_axial,
    yardstick_for,
)
from inspections.steps import STEPS, Read
from inspections.steps.alignment import Surveyed
from inspections.steps.judging import Judged, Yardstick, judged

Key = tuple[str, int]
OUT = "out of tolerance"


@dataclass(frozen=True)
class Wanting:
    """One thing that is not there or cannot be taken; `field` is the path from the visit: "as-left.set0.12"."""

    step: str
    number: int
    name: str
    sentence: str

    @property
    def field(self) -> str:
        place = f"{self.step}.{self.number}" if STEPS[self.step].numbered else self.step
        return f"{place}.{self.name}" if self.name else place


@dataclass
class Summary:
    """A visit before it is signed.

    `missing`: what keeps it from being signed. `out`: what is out of tolerance, in sentences. `warnings`: findings that
    stop nobody. `verdict` is the as-left's; `needs_reason` says that leaving it so has to be explained.
    """

    states: list[Any] = field(default_factory=list)
    missing: list[Wanting] = field(default_factory=list)
    out: list[str] = field(default_factory=list)
    warnings: list[str] = field(default_factory=list)
    reads: dict[Key, Read] = field(default_factory=dict)
    judged: dict[Key, Judged] = field(default_factory=dict)
    as_left: Key | None = None
    yardsticks: dict[Key, Yardstick] = field(default_factory=dict)
    why_reason: str = ""

    @property
    def ready(self) -> bool:
        return not self.missing

    @property
    def needs_reason(self) -> bool:
        return bool(self.why_reason)

    @property
    def verdict(self) -> str:
        return self.judged[self.as_left].verdict if self.as_left in self.judged else "not known"

    @property
    def nothing_moved(self) -> bool:
        read = self.reads.get(("as-left", 0))
        return read is not None and isinstance(read.values, Surveyed) and read.values.same_as == "as-found"


def summary_of(visit: Visit) -> Summary:
    """The visit as it would be signed now."""
    summary = Summary(states=steps_of(visit))
    reads: dict[Key, Read] = {}
    for state in summary.states:
        for number, read in state.reads.items():
            entry = next((one for one in state.entries if one.number == number), None)
            if entry is None or any(text.strip() for text in entry.typed.values()):
                reads[(state.key, number)] = read
    weigh(summary, visit, reads)
    return summary


def weigh(summary: Summary, visit: Visit, reads: dict[Key, Read]) -> None:
    """Fill a summary from the steps as read: what is wanting, then what the surveys say."""
    summary.reads = reads
    for (step, number), read in sorted(reads.items()):
        for name, sentence in (read.errors | read.missing).items():
            summary.missing.append(Wanting(step, number, name, sentence))
        summary.warnings += read.warnings + [found.words for found in read.found if found.verdict == OUT]
    _want_steps(summary, visit)
    _across_steps(summary)
    for point in hold_points(visit):
        if point.witness is None:
            again = " The step was changed since it was witnessed." if point.lapsed is not None else ""
            sentence = f"Hold point, not witnessed: {point.what}, by the role {point.role_words}.{again}"
            summary.missing.append(Wanting(point.step, 0, "", sentence))
    order = visit.work_order
    if order is not None and not visit.from_paper and order.isolated_at and order.removed_at is None:
        summary.warnings.append("The isolation still stands: write down its removal when the guard is on.")
    judge_surveys(summary, visit, reads, as_left_among(reads))


def as_left_among(reads: Mapping[Key, Read]) -> Key | None:
    """Which survey is as-left: that step's own, or the one it takes over; None where there is none yet."""
    left = reads.get(("as-left", 0))
    if left is None or not isinstance(left.values, Surveyed):
        return None
    if followed(left.values, lambda step, number: reads.get((step, number))) is None:
        return None
    return followed_place(left.values) or ("as-left", 0)


def judge_surveys(summary: Summary, visit: Visit, reads: Mapping[Key, Read], as_left: Key | None) -> None:
    """Judge every survey among these that is complete, each by its role."""
    summary.as_left = as_left
    surveys = {key: read.values for key, read in reads.items() if STEPS[key[0]].surveys and read.values is not None}
    by = yardstick_for(visit.coupling, visit.sheet_version) if surveys else None
    placement = reads.get(("placement", 0))
    for key, values in surveys.items():
        if values.solution is None:
            continue
        assert by is not None
        is_left = key == as_left
        yardstick = with_axial(by, visit, placement.values if placement else None) if is_left else by
        summary.yardsticks[key] = yardstick
        summary.judged[key] = judged(values, yardstick, "guarded" if is_left else decision_for(key[0]))
    _say(summary)


def _say(summary: Summary) -> None:
    for (step, number), one in sorted(summary.judged.items()):
        where = f"{STEPS[step].title} {number}" if number else STEPS[step].title
        is_left = (step, number) == summary.as_left
        if one.verdict == OUT and (is_left or step == "as-found"):
            summary.out.append(f"{'As-left' if is_left else where} is out of tolerance. {one.judgement.reason}")
        if is_left and one.verdict == OUT:
            summary.why_reason = "As-left is out of tolerance: say why it is left so; a flag is opened for it."
        elif is_left and one.closure_refused:
            summary.why_reason = f"{one.judgement.reason} Measure as-left again, or say why it is left so."


def _want_steps(summary: Summary, visit: Visit) -> None:
    reads = summary.reads
    written = {step for (step, _), read in reads.items() if not read.excused}
    excused = {step for (step, _), read in reads.items() if read.excused}
    spared = {step.key for step in STEPS.values() if not (step.asked(visit) and step.wanted(visit))}
    if rigid(visit):
        _want_run_out(summary, visit, written)
        spared |= {"as-found", "as-left"}
    for step in rules.wanting(visit.kind, written, excused, spared):
        kind = visit.get_kind_display()
        if step in excused:
            sentence = f"A visit of the kind {kind} needs this measured; a reason does not stand in its place."
        else:
            sentence = f"{STEPS[step].title} is not filled yet; a visit of the kind {kind} needs it."
            if any(row.or_reason and row.step == step for row in rules.WANTED[visit.kind]):
                sentence += " Where it was not measured, say why."
        summary.missing.append(Wanting(step, 0, "", sentence))


def rigid(visit: Visit) -> bool:
    """Whether the coupling is rigid: it shows by run-out how its shafts stand, and need not be surveyed."""
    return bool(visit.sheet_version.sheet.family.kind == "rigid")


def _want_run_out(summary: Summary, visit: Visit, written: set[str]) -> None:
    """A rigid coupling is left by its run-out where another would be left by a survey."""
    due = any(row.step == "as-left" and not row.or_reason for row in rules.WANTED[visit.kind])
    if due and "run-out" not in written and "as-left" not in written:
        sentence = "A rigid coupling is left by its run-out: read it on shaft or hub after it is made up."
        summary.missing.append(Wanting("run-out", 0, "", sentence))


def _across_steps(summary: Summary) -> None:
    """What one step says against another."""
    left, found = summary.reads.get(("as-left", 0)), summary.reads.get(("as-found", 0))
    if left is None or not isinstance(left.values, Surveyed) or not left.values.same_as:
        return
    if followed(left.values, lambda step, number: summary.reads.get((step, number))) is None:
        sentence = "The survey that is to be as-left is not complete: finish it, or choose another."
        summary.missing.append(Wanting("as-left", 0, "same_as", sentence))
    elif left.values.same_as == "as-found" and found is not None and found.values.loosened_at is not None:
        sentence = "Something was loosened after the as-found readings, so they cannot be as-left: measure again."
        summary.missing.append(Wanting("as-left", 0, "same_as", sentence))
