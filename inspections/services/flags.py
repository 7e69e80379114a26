"""Flags: a condition opens one, somebody owns it, and it is cleared with a cause.

One flag is open per coupling and kind; a condition that comes back opens a new one that names the last as its
predecessor, so that how often it came back can be counted. What somebody cleared with a cause was dealt with: the same
finding, asked about again with the next signature or at night, opens no other flag; a new one does.
"""

from collections.abc import Iterable
from typing import Any

from django.db.models import F

from inspections.models import Flag, JumpCause, Survey, SurveyResult, Visit
from inspections.services.drift import explain_jumps
from plant.access import require
from plant.models import Person
from plant.recording import bump, changed, current, told
from plant.refusals import Refused

# What the dates themselves say is gone when they say so; cleared by hand it would be open again the same night.
CLEAR_THEMSELVES: dict[str, str] = {
    Flag.Kind.OVERDUE: "An overdue flag clears itself when the check is done or gets another date.",
    Flag.Kind.ELEMENT_AGE: "This flag clears itself when a new element is fitted or its policy says another age.",
    Flag.Kind.HOURS: "This flag clears itself when the meter is read.",
    Flag.Kind.NO_SURVEY: "This flag clears itself when the alignment is measured.",
    Flag.Kind.FAST: "This flag clears itself when what is measured shows a slower pace.",
    Flag.Kind.FORECAST_OUT: "This flag clears itself when the alignment is measured or the next look comes earlier.",
}


def open_flag(*, coupling: Any, kind: str, evidence: dict[str, Any], owner: Person | None = None) -> Flag | None:
    """Say that a condition needs somebody; where the flag is open already its evidence is brought up to date.

    Called by the services that find the condition, whoever is acting: nobody opens a flag by hand. None where somebody
    has cleared the flag of this very finding. `owner` deals with it to begin with; of an open one the owner stays.
    """
    unit = current()
    standing = Flag.objects.filter(coupling=coupling, kind=kind, cleared_at__isnull=True).first()
    if standing is not None:
        if standing.evidence != evidence:
            bump(standing)
            standing.evidence = evidence
            standing.save(update_fields=["evidence"])
        return standing
    # The end of the chain, not the latest by time: a clock may have been set back.
    last = Flag.objects.filter(coupling=coupling, kind=kind, next__isnull=True).first()
    if last is not None and last.by_hand and last.evidence == evidence:
        return None
    flag = Flag.objects.create(
        site_id=coupling.site_id,
        coupling=coupling,
        kind=kind,
        evidence=evidence,
        opened_at=unit.at,
        previous=last,
        owner=owner,
    )
    changed(flag)
    told("flag.opened", coupling, {"flag": str(flag.uuid), "kind": kind, "evidence": evidence})
    return flag


def clear_flag(*, flag: Flag, cause: str, expected: int | None = None) -> Flag:
    """Clear a flag by hand, with its cause. An overdue flag clears itself when its check is done or moves."""
    require(current().by, "flag.handle", flag.site_id)
    bump(flag, expected)
    if flag.cleared_at is not None:
        raise Refused("This flag was cleared already; look at its history.")
    if flag.kind in CLEAR_THEMSELVES and current().by is not None:
        raise Refused(CLEAR_THEMSELVES[flag.kind])
    if not cause.strip():
        raise Refused({"cause": "Say why it is cleared: what was found, or what was done."})
    if len(cause.strip()) > 200:
        raise Refused({"cause": "Say it in at most 200 characters."})
    if flag.kind == Flag.Kind.JUMP:
        return _explained(flag, cause.strip())
    return settle_flag(flag=flag, cause=cause.strip(), by_hand=flag.kind not in CLEAR_THEMSELVES)


def _explained(flag: Flag, cause: str) -> Flag:
    """A movement gets its cause: one of those known by its code or words, and what else there is to say after it."""
    said, _colon, note = cause.partition(":")
    known = {label.casefold(): code for code, label in JumpCause.choices} | {code: code for code in JumpCause.values}
    code = known.get(said.strip().casefold())
    if code is None:
        choices = ", ".join(JumpCause.labels)
        raise Refused({"cause": f"Begin with what it was: {choices}. After a colon you may say more."})
    if code == JumpCause.OTHER and not note.strip():
        raise Refused({"cause": "Say after a colon what else it was."})
    words = JumpCause(code).label + (f": {note.strip()}" if note.strip() else "")
    settled = settle_flag(flag=flag, cause=words[:200], by_hand=True)
    legs = [one["leg"] for one in flag.evidence.get("jumps", [])]
    explain_jumps(coupling=flag.coupling, legs=legs, cause=code, note=note)
    return settled


def own_flag(*, flag: Flag, owner: Person | None, expected: int | None = None) -> Flag:
    """Say who deals with a flag, or that nobody does."""
    require(current().by, "flag.handle", flag.site_id)
    if owner is not None and flag.site_id not in owner.site_ids() and not owner.sees_everything:
        raise Refused({"owner": "This person has no role at the site; choose somebody who has."})
    bump(flag, expected)
    if flag.cleared_at is not None:
        raise Refused("This flag was cleared already; look at its history.")
    flag.owner = owner
    flag.save(update_fields=["owner"])
    return flag


def acknowledge_flag(*, flag: Flag, expected: int | None = None) -> Flag:
    """Say that one has seen it: who first did, and when, stays."""
    require(current().by, "flag.handle", flag.site_id)
    bump(flag, expected)
    if flag.cleared_at is not None:
        raise Refused("This flag was cleared already; look at its history.")
    if flag.acknowledged_at is not None:
        raise Refused("Somebody has acknowledged it already.")
    unit = current()
    flag.acknowledged_by, flag.acknowledged_at = unit.by, unit.at
    flag.save(update_fields=["acknowledged_by", "acknowledged_at"])
    return flag


def settle_flag(*, flag: Flag, cause: str, by_hand: bool = False) -> Flag:
    """Clear a flag because its condition is gone; called by the services that find it gone."""
    unit = current()
    bump(flag)
    flag.cleared_at, flag.cleared_by, flag.cause, flag.by_hand = unit.at, unit.by, cause, by_hand
    flag.save(update_fields=["cleared_at", "cleared_by", "cause", "by_hand"])
    told("flag.cleared", flag.coupling, {"flag": str(flag.uuid), "kind": flag.kind, "cause": cause})
    return flag


def settle_flags_of_retired(*, couplings: Iterable[Any]) -> None:
    """Nobody has to deal any more with what was open at a coupling that is gone; its record stays as it was."""
    gone = [one.pk for one in couplings if one.retired_on is not None]
    for flag in Flag.objects.filter(coupling__in=gone, cleared_at__isnull=True).select_related("coupling"):
        settle_flag(flag=flag, cause="the coupling was retired")


def flag_tolerance(*, coupling: Any) -> Flag | None:
    """Open or clear the out-of-tolerance flag by the latest survey that a signed visit left behind.

    The as-left decides, else the as-found. Out of tolerance opens the flag, in tolerance clears it; too close to call
    and not known decide nothing, so they leave things as they are.
    """
    latest = (
        Survey.objects.filter(visit__coupling=coupling, visit__state=Visit.State.SIGNED, record=F("visit__record"))
        .exclude(as_left=False, as_found=False)
        .select_related("result", "visit")
        .order_by("-visit__on", "-visit_id", "-as_left", "-number")
        .first()
    )
    result = getattr(latest, "result", None)
    standing = Flag.objects.filter(coupling=coupling, kind=Flag.Kind.OUT, cleared_at__isnull=True).first()
    if latest is None or result is None:
        return standing
    if result.verdict == SurveyResult.Verdict.OUT:
        return open_flag(coupling=coupling, kind=Flag.Kind.OUT, evidence=_evidence(latest, result))
    if result.verdict == SurveyResult.Verdict.IN and standing is not None:
        settle_flag(flag=standing, cause=f"{_role(latest)} in tolerance on {latest.visit.on.isoformat()}")
        return None
    return standing


def _role(survey: Survey) -> str:
    return "as-left" if survey.as_left else "as-found"


def _evidence(survey: Survey, result: SurveyResult) -> dict[str, Any]:
    return {
        "visit": str(survey.visit.uuid),
        "on": survey.visit.on.isoformat(),
        "role": _role(survey),
        "verdict": result.verdict,
        "sheet_verdict": result.sheet_verdict,
        "grade_verdict": result.grade_verdict,
        "tolerance_used": result.tolerance_used,
        "probability": result.probability,
        "left_so_reason": survey.visit.left_so_reason,
    }
