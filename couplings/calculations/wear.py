"""`wear`: what was seen and measured on a coupling, graded; grade 3 raises a flag, grade 4 says "do not run"."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Any, TypeVar

from couplings.calculations.wear_form import FORM, form_in
from couplings.calculations.wear_request import WearRequest, families, read_wear, starter_codes
from couplings.engineering.ageing import AgeingError, ElementAge, element_age, temperature_rows
from couplings.engineering.hardness import Hardness, HardnessChange, HardnessError, hardness, hardness_change
from couplings.engineering.lubrication import (
    GreaseState,
    LubricationDue,
    LubricationError,
    grease_state,
    lubrication_due,
)
from couplings.engineering.wear import (
    FLAG_FROM,
    STOP_AT,
    Assessment,
    WearCode,
    WearError,
    WearLine,
    assess,
    codes_of,
    said_of,
)
from couplings.engineering.worn import WearLeft, chain_elongation, chain_elongation_limit, wear_left
from couplings.selectors.wear import worded_at
from plant import units
from plant.calculations import Calculation
from plant.models import Site
from plant.refusals import Refused

T = TypeVar("T")


@dataclass(frozen=True)
class ChainFound:
    """As shares of the new length. [1]"""

    elongation: float
    limit: float

    @property
    def verdict(self) -> str:
        return "in tolerance" if self.elongation < self.limit else "out of tolerance"


@dataclass(frozen=True)
class WearResult:
    """Everything found, and the worst grade of it with what raised it."""

    request: WearRequest
    seen: Assessment
    first: Hardness | None
    now: Hardness | None
    change: HardnessChange | None
    age: ElementAge | None
    chain: ChainFound | None
    left: WearLeft | None
    due: LubricationDue | None
    grease: GreaseState | None

    @property
    def raised_by(self) -> tuple[tuple[str, int], ...]:
        """What was graded, with its grade, the worst first."""
        found = [(line.title, line.grade) for line in self.seen.lines if line.grade is not None]
        if self.change is not None and self.change.verdict == "out of tolerance":
            found.append(("Hardness change beyond its limit", FLAG_FROM))
        if self.chain is not None and self.chain.verdict == "out of tolerance":
            found.append(("Chain elongation at its limit", FLAG_FROM))
        if self.left is not None and self.left.left_mm <= 0:
            found.append(("Wear at its limit", FLAG_FROM))
        if self.grease is not None:
            found.append((self.grease.title, self.grease.grade))
        return tuple(sorted(found, key=lambda pair: -pair[1]))

    @property
    def grade(self) -> int | None:
        return self.raised_by[0][1] if self.raised_by else None

    @property
    def words(self) -> str:
        return "Nothing was graded." if self.grade is None else said_of(self.grade)

    @property
    def do_not_run(self) -> bool:
        return self.grade is not None and self.grade >= STOP_AT


def compute_wear(request: WearRequest, codes: Sequence[WearCode] | None = None) -> WearResult:
    """Grade the observations and judge the measurements; each part refuses by its own fields.

    `codes` are the words of one site, where it has its own; the program's otherwise.
    """
    hard, element, chain = request.hardness, request.element, request.chain
    worn, oil = request.worn, request.lubricant
    seen = _part("", lambda: assess(request.observations, codes_of(request.family, codes or starter_codes())))
    first = now = change = None
    if hard is not None:
        first = _part("hardness", lambda: hardness(hard.first, hard.scale))
        now = _part("hardness", lambda: hardness(hard.now, hard.scale))
        change = hardness_change(first, now, hard.limit)
    age = found = left = None
    if element is not None:
        age = _part("element", lambda: element_age(element.polymer, element.cured_on, element.on, element.policy))
    if chain is not None:
        elongation = _part("chain", lambda: chain_elongation(chain.pitch_mm, chain.links, chain.measured_mm))
        found = ChainFound(elongation, chain_elongation_limit(chain.teeth, chain.fixed_centres))
    if worn is not None:
        left = _part("wear", lambda: wear_left(worn.new_mm, worn.now_mm, worn.limit_mm, worn.hours))
    due = state = None
    if oil is not None:
        filled, on = oil.filled_on, oil.on
        if filled is not None and on is not None:
            due = _part("lubricant", lambda: lubrication_due(oil.lubricant, filled, on, oil.hours_since))
        state = grease_state(oil.state) if oil.state else None
    return WearResult(request, seen, first, now, change, age, found, left, due, state)


def _part(path: str, run: Callable[[], T]) -> T:
    try:
        return run()
    except (WearError, HardnessError, AgeingError, LubricationError) as error:
        raise Refused({".".join(part for part in (path, error.field) if part): error.message}) from error


def answer_wear(result: WearResult, system: str) -> dict[str, Any]:
    """The answer in the units asked for; null for what was not given."""
    return {
        "family": result.request.family,
        "grade": result.grade,
        "raises_flag": result.grade is not None and result.grade >= FLAG_FROM,
        "do_not_run": result.do_not_run,
        "words": result.words,
        "raised_by": [{"title": title, "grade": grade} for title, grade in result.raised_by],
        "observations": [_line(line, system) for line in result.seen.lines],
        "hardness": _hardness(result),
        "element": _age(result.age),
        "chain": result.chain
        and {
            "elongation": units.quantity(result.chain.elongation, "share", system),
            "limit": units.quantity(result.chain.limit, "share", system),
            "verdict": result.chain.verdict,
        },
        "wear": result.left
        and {
            "worn": units.quantity(result.left.worn_mm, "size", system),
            "left": units.quantity(result.left.left_mm, "size", system),
            "hours_left": units.quantity(result.left.hours_left, "hours", system),
        },
        "lubricant": _lubricant(result, system),
    }


def _line(line: WearLine, system: str) -> dict[str, Any]:
    return {
        "code": line.code,
        "title": line.title,
        "stated_grade": line.stated,
        "grade": line.grade,
        "words": line.words,
        "value": units.quantity(line.value, line.kind, system) if line.kind else None,
        "limit": units.quantity(line.limit, line.kind, system) if line.kind else None,
        "share": None if line.share is None else units.without_dust(line.share),
        "verdict": line.verdict,
        "why": line.why,
    }


def _hardness(result: WearResult) -> dict[str, Any] | None:
    first, now, change = result.first, result.now, result.change
    if first is None or now is None or change is None:
        return None
    return {
        "scale": now.scale,
        "first": first.median,
        "now": now.median,
        "change": change.points,
        "limit": change.limit_points,
        "verdict": change.verdict,
        "reason": change.reason,
        "warnings": list(dict.fromkeys((*first.warnings, *now.warnings))),
    }


def _age(age: ElementAge | None) -> dict[str, Any] | None:
    if age is None:
        return None
    return {
        "polymer": age.polymer,
        "policy": age.policy,
        "source": age.row.source if age.row else None,
        "age_years": round(age.age_years, 3),
        "initial_until": age.initial_until and age.initial_until.isoformat(),
        "extended_until": age.extended_until and age.extended_until.isoformat(),
        "verdict": age.verdict,
        "reason": age.reason,
        "conflicts": list(age.conflicts),
        "service_temperatures": [
            {"min_c": row.min_c, "max_c": row.max_c, "source": row.source, "mark": row.mark}
            for row in temperature_rows(age.polymer)
        ],
    }


def _lubricant(result: WearResult, system: str) -> dict[str, Any] | None:
    oil, due = result.request.lubricant, result.due
    if oil is None:
        return None
    return {
        "name": oil.lubricant.name,
        "quantity_g": oil.lubricant.quantity_g,
        "due_on": due.due_on.isoformat() if due and due.due_on else None,
        "hours_left": units.quantity(due.hours_left if due else None, "hours", system),
        "verdict": due.verdict if due else "not known",
        "reason": due.reason if due else "The last fill is not known.",
        "grease_state": result.grease and {"code": result.grease.code, "grade": result.grease.grade},
    }


def drawn(result: WearResult, system: str) -> dict[str, Any]:
    """Rows for the page."""
    lines = [
        (
            line.title,
            line.grade,
            line.words,
            units.written(line.value, line.kind, system) if line.kind and line.value is not None else "",
            units.written(line.limit, line.kind, system) if line.kind and line.limit is not None else "",
            line.verdict if line.value is not None else "",
            line.why,
        )
        for line in result.seen.lines
    ]
    measured = []
    if result.change is not None and result.first is not None and result.now is not None:
        said = f"Shore {result.now.scale}: {result.first.median:g} at first, {result.now.median:g} now"
        measured.append(("Hardness", said, result.change.verdict, result.change.reason))
    if result.chain is not None:
        share = units.written(result.chain.elongation, "share", system, decimals=1)
        limit = units.written(result.chain.limit, "share", system, decimals=1)
        measured.append(("Chain elongation", f"{share}, replaced at {limit}", result.chain.verdict, ""))
    if result.left is not None:
        hours = units.written(result.left.hours_left, "hours", system, decimals=0)
        text = f"{units.written(result.left.worn_mm, 'size', system)} worn; at this rate {hours} left"
        measured.append(("Wear", text, "in tolerance" if result.left.left_mm > 0 else "out of tolerance", ""))
    if result.age is not None:
        text = f"{result.age.age_years:.1f} years since the cure date"
        measured.append((f"Age, {result.age.polymer}", text, result.age.verdict, result.age.reason))
    oil = result.request.lubricant
    if oil is not None:
        amount = f", {oil.lubricant.quantity_g:g} g" if oil.lubricant.quantity_g else ""
        due = result.due.due_on if result.due else None
        text = f"{oil.lubricant.name}{amount}" + (f"; next fill due {due.isoformat()}" if due else "")
        verdict = result.due.verdict if result.due else "not known"
        measured.append(("Lubricant", text, verdict, result.due.reason if result.due else ""))
    warnings = [*result.first.warnings, *result.now.warnings] if result.first and result.now else []
    return {
        "lines": lines,
        "measured": measured,
        "raised_by": result.raised_by,
        "said": list(dict.fromkeys(warnings)),
        "conflicts": result.age.conflicts if result.age else (),
        "temperatures": temperature_rows(result.age.polymer) if result.age else (),
        "family_name": families()[result.request.family]["name"],
    }


def _at(site: Site) -> Calculation:
    codes = worded_at(site, starter_codes())
    if codes == starter_codes():
        return WEAR
    return replace(WEAR, function=partial(compute_wear, codes=codes), form=form_in(codes))


WEAR = Calculation(
    name="wear",
    title="Wear",
    summary="What was seen and measured on a coupling, graded 0 to 4 by its family, with the age of its element.",
    reader=read_wear,
    function=compute_wear,
    writer=answer_wear,
    template="couplings/calculations/wear.html",
    form=FORM,
    drawn=drawn,
    at=_at,
    example={
        "family": "elastomer-compression",
        "observations": [
            {"code": "crack", "grade": 1},
            {"code": "play", "grade": 2, "value": {"value": 1.5, "unit": "deg"}, "limit": {"value": 2, "unit": "deg"}},
        ],
        "hardness": {"scale": "A", "first": [80, 81, 79, 80, 82], "now": [86, 88, 87, 85, 87], "limit": 10},
        "element": {"polymer": "NBR", "cured_on": "2018-05-31", "on": "2026-01-15", "policy": "iso-2230"},
    },
)
