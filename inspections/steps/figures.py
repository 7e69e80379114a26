"""What the steps about single figures share: the verdict of a length against a limit, as found, and its words."""

from __future__ import annotations

from dataclasses import dataclass

from couplings.engineering.conformity import Judgement
from inspections.steps.registry import Place
from plant import units

# As found: by the value alone, with its probability beside it (ISO 14253-1 asks the guard band of what is left).
DECISION = "simple"
NOT_KNOWN = "not known"


@dataclass(frozen=True)
class Verdict:
    """A limit and what it says; both are empty where there is none. [mm, 1]"""

    limit_mm: float | None = None
    verdict: str = NOT_KNOWN
    probability: float | None = None

    @classmethod
    def of(cls, judgement: Judgement, limit_mm: float) -> Verdict:
        return cls(limit_mm, judgement.verdict, judgement.probability)


def length(mm: float | None, place: Place) -> str:
    """A gap in the site's unit."""
    return units.written(mm, "gap", place.system)


def limit_words(verdict: Verdict, whose: str, place: Place) -> str:
    """ "The limit is 0.05 mm (this site's); the probability that it is kept is 97 %." """
    words = f"The limit is {length(verdict.limit_mm, place)} ({whose})"
    if verdict.probability is None:
        return f"{words}."
    chance = min(max(round(verdict.probability * 100), 1), 99)
    return f"{words}; the probability that it is kept is about {chance} %."
