"""Refusals as pure functions over columns: what may be written, and the sentence when it may not.

Each returns the sentence for the person, or "" when nothing stands against it. No database, no clock.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta

# Rounding of a ruler's reading must not make a full bore look like more than the whole of it.
WHOLE = 1.0 + 1e-6


@dataclass(frozen=True)
class Wanted:
    """One step a kind of visit cannot be signed without; `or_reason` lets "not measured because" stand in its place."""

    step: str
    or_reason: bool = False


# What a visit must hold before it can be signed. A step whose data sheet gives it nothing to ask is left out.
WANTED: dict[str, tuple[Wanted, ...]] = {
    "installation": (
        Wanted("isolation"),
        Wanted("placement"),
        Wanted("as-left"),
        Wanted("element"),
        Wanted("fasteners"),
    ),
    "periodic": (Wanted("isolation"), Wanted("as-found", or_reason=True), Wanted("as-left", or_reason=True)),
    "alignment": (Wanted("isolation"), Wanted("as-found", or_reason=True), Wanted("as-left")),
    "torque": (Wanted("isolation"), Wanted("fasteners")),
    "element": (Wanted("isolation"), Wanted("element"), Wanted("fasteners"), Wanted("as-left", or_reason=True)),
    "running": (Wanted("running-look", or_reason=True),),
    "breakdown": (Wanted("breakdown"),),
    "legacy": (Wanted("stated"),),
}
# Work on a stopped machine: it hangs on a work order and its isolation.
STOPPED = frozenset({"installation", "periodic", "alignment", "torque", "element", "breakdown"})
# Steps that belong to one kind of visit only, and kinds that have no others beside them.
OWN_STEPS = {"running-look": "running", "breakdown": "breakdown", "stated": "legacy"}
ONLY = {
    "running": frozenset({"running-look", "conditions", "signature"}),
    "legacy": frozenset({"stated", "signature"}),
}
# Visits that tighten every joint anew; on the others a joint that must not be re-checked is left alone.
TIGHTENS_ANEW = frozenset({"installation", "element"})


def asks(kind: str, step: str) -> bool:
    """Whether a visit of this kind has this step at all."""
    if (own := OWN_STEPS.get(step)) is not None:
        return own == kind
    return step in ONLY[kind] if kind in ONLY else True


def waits_for_isolation(kind: str) -> bool:
    """Whether signing waits for the isolation; a breakdown may say what was found before anybody worked on it."""
    return any(row.step == "isolation" for row in WANTED[kind])


def order_refusal(kind: str, has_order: bool) -> str:
    """Work on a stopped machine hangs on a work order; a look in passing and an old card do not."""
    if has_order or kind not in STOPPED:
        return ""
    return "Work on a stopped machine needs its work order: open one, or choose it."


def paper_refusal(kind: str, from_paper: bool, isolation: str) -> str:
    """What a paper says of the isolation stands in the place of trying it now, and only there."""
    if len(isolation) > 200:
        return "At most 200 characters."
    if isolation and not from_paper:
        return "Only for what is typed in from a paper: otherwise confirm the isolation on the work order."
    if from_paper and kind in STOPPED and not isolation:
        return "Copy what the paper says of the isolation: the permit, or why there was none, and who tried it dead."
    return ""


def engagement_share(engagement_mm: float, bore_mm: float) -> float:
    """Share of the hub's bore that sits on the shaft. [1]"""
    return min(engagement_mm / bore_mm, 1.0)


def engagement_refusal(engagement_mm: float, bore_mm: float | None) -> str:
    """More shaft in the bore than the bore is long cannot be."""
    if bore_mm is None or engagement_mm <= bore_mm * WHOLE:
        return ""
    return (
        f"This is {engagement_mm / bore_mm:.0%} of the bore, which is {bore_mm:g} mm long on the data sheet: "
        "an engagement over 100 % cannot be. Measure it again, or mend the data sheet."
    )


def cure_refusal(cured_on: date, fitted_on: date) -> str:
    """An element cannot be fitted before it was cured."""
    if cured_on <= fitted_on:
        return ""
    return f"Cured on {cured_on}, after the day it was fitted ({fitted_on}): read the date on the part again."


def over_shelf_life(cured_on: date, fitted_on: date, shelf_years: float | None) -> bool:
    """Whether an element was older than its shelf life on the day it was fitted."""
    return shelf_years is not None and fitted_on > cured_on + timedelta(days=shelf_years * 365.25)


def future_refusal(instant: datetime | date, now: datetime | date) -> str:
    """What is measured has been measured already."""
    return "" if instant <= now else "This lies in the future: a record says what was done, not what is planned."


def loosened_refusal(taken_at: datetime, loosened_at: datetime | None) -> str:
    """As-found ends when the first bolt, element or pipe is loosened."""
    if loosened_at is None or taken_at <= loosened_at:
        return ""
    return (
        "These readings were taken after something was loosened, so they are not as-found: enter them as an alignment "
        "round, and say in as-found why it was not measured."
    )


def solo_refusal(begun: datetime | None, ended: datetime | None) -> str:
    """A run alone ends after it began."""
    if begun is None or ended is None or ended >= begun:
        return ""
    return "This is before it began: mend one of the two times."


def isolation_refusal(number: str, verified_at: datetime | None) -> str:
    """Work on a stopped machine is not written down before its isolation has been tried and verified."""
    if verified_at is not None:
        return ""
    return (
        f"The isolation of work order {number} is not verified yet, so this step can be read but not filled: "
        "go to the step Isolation, enter the permit or the reason for none, try the machine and confirm it is dead."
    )


def after_isolation_refusal(taken_at: datetime, removed_at: datetime | None) -> str:
    """Nobody measures inside a guard once the isolation is off."""
    if removed_at is None or taken_at <= removed_at:
        return ""
    return "Taken after the isolation was removed: mend the time, or isolate the machine again and measure anew."


def calibration_ended(calibrated_on: date | None, interval_days: int | None, on: date) -> bool:
    """Whether an instrument's calibration had run out on a day; one without an interval never runs out."""
    if interval_days is None:
        return False
    return calibrated_on is None or on > calibrated_on + timedelta(days=interval_days)


def recheck_refusal(visit_kind: str, recheck: str, reason: str) -> str:
    """Some fasteners are spoilt by trying them again."""
    if recheck != "not-allowed" or visit_kind in TIGHTENS_ANEW:
        return ""
    why = f" ({reason})" if reason else ""
    return f"The data sheet says this joint must not be re-checked{why}: leave it empty."


def witness_refusal(own_work: bool, has_role: bool, role: str, complete: bool) -> str:
    """A hold point is looked on by somebody else, in the role that the data sheet asks for, when there is something
    to see."""
    if own_work:
        return "You took, typed or began this yourself: somebody else has to witness it."
    if not has_role:
        return f"The data sheet asks for a witness in the role {role}; you do not have it at this site."
    if not complete:
        return "This step is not complete yet, so there is nothing to witness."
    return ""


def hold_refusal(points: Iterable[str]) -> str:
    """A hold point blocks the next step until somebody witnessed it, and no other step."""
    waiting = "; ".join(points)
    if not waiting:
        return ""
    return f"The step before this is a hold point that nobody has witnessed yet: {waiting}."


def run_up_refusal(kind: str, signed: bool, own: bool, accepted: bool) -> str:
    """A run-up is accepted once, after the machine is signed as mechanically complete, and by somebody else."""
    if kind not in STOPPED:
        return "Nothing was worked on in this visit, so there is no run-up to accept."
    if not signed:
        return "The visit is not signed as mechanically complete yet: the run-up comes after."
    if accepted:
        return "The run-up is accepted already."
    if own:
        return "You took or signed this visit yourself: somebody else has to accept the run-up."
    return ""


def run_up_day_refusal(ran_on: date, visit_on: date) -> str:
    """A machine runs up after the work on it."""
    return "" if ran_on >= visit_on else f"Before {visit_on}, the day of the visit: mend the day."


def isolate_refusal(permit: str, no_permit_reason: str) -> dict[str, str]:
    """Isolation stands on a permit, or on the reason why there is none."""
    if permit.strip() and no_permit_reason.strip():
        return {"no_permit_reason": "Give the permit number or the reason for none, not both."}
    if not permit.strip() and not no_permit_reason.strip():
        return {
            "permit": "Enter the permit's number; where there is none (bench work, plant never energised, a test under "
            "the site's rules), say why."
        }
    return {}


def wanting(kind: str, written: Iterable[str], excused: Iterable[str], spared: Iterable[str]) -> list[str]:
    """Steps still wanting before a visit of this kind can be signed.

    `written` are the steps that are complete, `excused` those with "not measured because", `spared` those the data
    sheet gives nothing to ask.
    """
    done, reasons, none = set(written), set(excused), set(spared)
    return [
        row.step
        for row in WANTED[kind]
        if row.step not in done and row.step not in none and not (row.or_reason and row.step in reasons)
    ]
