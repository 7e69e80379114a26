"""What is seen on a coupling: observation codes with plain grades 0 to 4, numbers against limits, what follows.

The limits are the data sheet's: no public source gives one for the teeth of a gear or the thickness of an insert.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

WORDS = ("as new", "first signs", "worn, watch it", "worn out, plan its replacement now", "do not run")
FLAG_FROM, STOP_AT = 3, 4
DO_NOT_RUN = "Do not run. Who may decide otherwise, and how the machine is made safe, follows the site's procedure."
RAISES_FLAG = "Worn out: this raises a flag. Plan the replacement now."
NUMBER_KINDS = ("gap", "size", "angle", "share")
_DUST = 1e-9
ONE_SIDED = 1.6449  # normal quantile of 95 %, ISO 14253-1


class WearError(ValueError):
    """An observation that cannot be used; `field` names it."""

    def __init__(self, field: str, message: str) -> None:
        self.field, self.message = field, message
        super().__init__(f"{field}: {message}")


@dataclass(frozen=True)
class WearCode:
    """One thing to look for, with a sentence per grade.

    `grades` has five entries; None is a grade that this code does not have. `number` names what may be measured and
    `kind` its kind of quantity: 'gap' and 'size' [mm], 'angle' [deg], 'share' [1]; more is always worse. `fracture`:
    any grade above 0 is grade 4.
    """

    code: str
    families: tuple[str, ...]
    title: str
    grades: tuple[str | None, ...]
    number: str = ""
    kind: str = ""
    fracture: bool = False
    source: str = "common practice"


@dataclass(frozen=True)
class Observation:
    """What was seen or measured under one code; the number in the base unit of its kind. [mm], [deg], [1]"""

    code: str
    grade: int | None = None
    value: float | None = None
    limit: float | None = None
    u: float = 0.0


@dataclass(frozen=True)
class WearLine:
    """One observation judged. The number in the base unit of its kind. [mm], [deg], [1]

    `grade` is what counts, which may be more than was stated; `why` says what raised it.
    """

    code: str
    title: str
    stated: int | None
    grade: int | None
    words: str
    value: float | None = None
    limit: float | None = None
    share: float | None = None
    kind: str = ""
    verdict: str = "not known"
    why: str = ""


@dataclass(frozen=True)
class Assessment:
    """The worst of all observations; `grade` None where nothing was graded or judged."""

    lines: tuple[WearLine, ...]
    grade: int | None
    raises_flag: bool
    do_not_run: bool
    words: str


def wear_codes(rows: Iterable[Mapping[str, Any]], families: Sequence[str] = ()) -> tuple[WearCode, ...]:
    """Starter or site rows as codes.

    Parameters
    ----------
    rows : iterable of mappings
        With code, families, title, grades, and optionally number, kind, fracture, source.
    families : sequence of str
        Codes of families that may be named; empty: any.

    Returns
    -------
    tuple of WearCode
        In the order of the rows.

    Raises
    ------
    WearError
        A code twice, a family that is not known, not five grades, a kind of number that is not known.

    References
    ----------
    Each row names its own source.
    """
    found: list[WearCode] = []
    for row in rows:
        code = WearCode(
            row["code"], tuple(row["families"]), row["title"], tuple(row["grades"]), row.get("number", ""),
            row.get("kind", ""), bool(row.get("fracture", False)), row.get("source", "common practice"),
        )  # fmt: skip
        if any(code.code == other.code for other in found):
            raise WearError("code", f"The code {code.code} is there twice.")
        if families and set(code.families) - set(families):
            raise WearError("families", f"{code.code}: no family is called {', '.join(code.families)}.")
        if len(code.grades) != len(WORDS) or code.grades[0] is None or not any(code.grades[1:]):
            raise WearError("grades", f"{code.code}: five grades are expected, the first and one more in words.")
        if bool(code.number) != bool(code.kind) or (code.kind and code.kind not in NUMBER_KINDS):
            raise WearError("kind", f"{code.code}: a number has a kind of {', '.join(NUMBER_KINDS)}.")
        found.append(code)
    return tuple(found)


def codes_of(family: str, codes: Sequence[WearCode]) -> tuple[WearCode, ...]:
    """The codes to look for on one family of couplings.

    Parameters
    ----------
    family : str
        Its code.
    codes : sequence of WearCode
        All codes.

    Returns
    -------
    tuple of WearCode
        In their order.

    References
    ----------
    Common practice.
    """
    return tuple(code for code in codes if family in code.families)


def assess(observations: Sequence[Observation], codes: Sequence[WearCode]) -> Assessment:
    """The observations of one look at a coupling, and what follows from the worst.

    Parameters
    ----------
    observations : sequence of Observation
        Each with a grade, a number, or both. [mm], [deg], [1]
    codes : sequence of WearCode
        Those of the coupling's family.

    Returns
    -------
    Assessment
        Grade 3 raises a flag; grade 4 says "do not run" and defers to the site's procedure.

    Raises
    ------
    WearError
        A code the family does not have or that is given twice, a grade that is not 0 to 4, a figure that cannot be.

    References
    ----------
    Common practice. A fracture of a blade, disc, bolt or other part is grade 4 however small: common practice. A number
    beyond its limit counts as grade 3 at least: common practice.
    """
    known = {code.code: code for code in codes}
    lines: list[WearLine] = []
    for place, seen in enumerate(observations):
        at = f"observations.{place}"
        if seen.code not in known:
            raise WearError(f"{at}.code", f"Choose one of: {', '.join(known)}.")
        if any(seen.code == line.code for line in lines):
            raise WearError(f"{at}.code", "This code is there twice.")
        lines.append(_judged(seen, known[seen.code], at))
    grades = [line.grade for line in lines if line.grade is not None]
    worst = max(grades, default=None)
    return Assessment(
        tuple(lines),
        worst,
        worst is not None and worst >= FLAG_FROM,
        worst == STOP_AT,
        "Nothing was graded." if worst is None else said_of(worst),
    )


def _judged(seen: Observation, code: WearCode, at: str) -> WearLine:
    if seen.grade is None and seen.value is None:
        raise WearError(f"{at}.grade", "Give a grade, or a number where the code has one.")
    if seen.grade is not None and seen.grade not in range(len(WORDS)):
        raise WearError(f"{at}.grade", "A grade is 0, 1, 2, 3 or 4.")
    grade, why = seen.grade, ""
    if code.fracture and seen.grade:
        grade, why = STOP_AT, "A fracture is grade 4, however small." if seen.grade < STOP_AT else ""
    share, verdict = _share(seen, code, at)
    if verdict == "out of tolerance" and (grade is None or grade < FLAG_FROM):
        grade, why = FLAG_FROM, "The number is beyond its limit."
    if seen.value is not None and seen.limit is None:
        why = why or "The data sheet gives no limit for this number, and no public source does."
    words = "" if grade is None else code.grades[grade] or WORDS[grade].capitalize()
    return WearLine(
        code.code, code.title, seen.grade, grade, words, seen.value, seen.limit, share, code.kind, verdict, why
    )


def _share(seen: Observation, code: WearCode, at: str) -> tuple[float | None, str]:
    """Value over limit, and the verdict: decided at 95 %, the starter of a site's confidence."""
    if seen.value is None:
        if seen.limit is not None:
            raise WearError(f"{at}.value", "A limit is given, and the number is missing.")
        return None, "not known"
    if not code.number:
        raise WearError(f"{at}.value", "This code has no number, only grades.")
    for field, figure in (("value", seen.value), ("standard_uncertainty", seen.u)):
        if not math.isfinite(figure) or figure < 0:
            raise WearError(f"{at}.{field}", "This must be a finite number, not negative.")
    if seen.limit is None:
        return None, "not known"
    if not math.isfinite(seen.limit) or seen.limit <= 0:
        raise WearError(f"{at}.limit", "The limit must be a finite number above zero.")
    if seen.value + ONE_SIDED * seen.u <= seen.limit + _DUST:
        return seen.value / seen.limit, "in tolerance"
    beyond = seen.value - ONE_SIDED * seen.u > seen.limit
    return seen.value / seen.limit, "out of tolerance" if beyond else "too close to call"


def said_of(grade: int) -> str:
    """What a grade means for the crew.

    Parameters
    ----------
    grade : int
        0 to 4.

    Returns
    -------
    str
        A sentence.

    References
    ----------
    Common practice.
    """
    if grade >= STOP_AT:
        return DO_NOT_RUN
    return RAISES_FLAG if grade >= FLAG_FROM else f"{WORDS[grade].capitalize()}."
