"""Flags for wear: grade 3 is worn out, grade 4 is not to be run; gone when graded lower, or with the part.

Each code stands as it was graded last, so that a short look does not clear what it did not look at.
"""

from __future__ import annotations

from typing import Any

from couplings.engineering.wear import FLAG_FROM, STOP_AT
from couplings.models import Coupling, Fit
from inspections.models import Flag
from inspections.selectors.wear import Finding, accelerating_in, findings_in, open_fit
from inspections.services.flags import open_flag, settle_flag

KINDS = (Flag.Kind.WORN, Flag.Kind.DO_NOT_RUN, Flag.Kind.ACCELERATING)


def flag_wear(*, coupling: Coupling) -> None:
    """Open or clear both flags of a coupling by what signed visits found in the fit that is there now."""
    fit = open_fit(coupling)
    found = findings_in(fit) if fit is not None else {}
    standing = [one for one in found.values() if one.gone_on is None]
    lines_of = {
        Flag.Kind.WORN: [one for one in standing if one.grade == FLAG_FROM],
        Flag.Kind.DO_NOT_RUN: [one for one in standing if one.grade >= STOP_AT],
    }
    flags = {flag.kind: flag for flag in Flag.objects.filter(coupling=coupling, cleared_at__isnull=True)}
    for kind, lines in lines_of.items():
        flag = flags.get(kind)
        if lines:
            assert fit is not None
            open_flag(coupling=coupling, kind=kind, evidence=_evidence(fit, lines))
        elif flag is not None and not _got_worse(flag, standing):
            settle_flag(flag=flag, cause=_cause(flag, fit, found))

    _flag_accelerating(coupling, fit, flags.get(Flag.Kind.ACCELERATING))


def _flag_accelerating(coupling: Coupling, fit: Fit | None, flag: Flag | None) -> None:
    """Measured wear that grows faster between the last two looks than between those before, beyond its uncertainty."""
    found = accelerating_in(fit) if fit is not None else []
    if fit is not None and found:
        evidence = {"fit": str(fit.uuid), "on": max(one["on"] for one in found), "found": found}
        open_flag(coupling=coupling, kind=Flag.Kind.ACCELERATING, evidence=evidence)
    elif flag is not None:
        settle_flag(flag=flag, cause="it grows no faster by what was measured since, or the part is gone")


def flag_wear_where_open(*, fits: list[Fit]) -> None:
    """Look again at the couplings of these fits that have such a flag: something there was exchanged."""
    flags = Flag.objects.filter(
        coupling__in=[fit.coupling_id for fit in fits], kind__in=KINDS, cleared_at__isnull=True
    ).select_related("coupling")
    for coupling in {flag.coupling_id: flag.coupling for flag in flags}.values():
        flag_wear(coupling=coupling)


def _got_worse(flag: Flag, standing: list[Finding]) -> bool:
    """Whether what opened the flag is worse now: that opens the other flag and does not clear this one."""
    codes = {one["code"] for one in flag.evidence.get("found", [])}
    return any(one.code in codes and one.grade >= STOP_AT for one in standing)


def _evidence(fit: Fit, lines: list[Finding]) -> dict[str, Any]:
    return {
        "fit": str(fit.uuid),
        "on": max(one.on for one in lines).isoformat(),
        "found": [one.as_evidence() for one in sorted(lines, key=lambda one: (one.on, one.code))],
    }


def _cause(flag: Flag, fit: Fit | None, found: dict[str, Finding]) -> str:
    """Why what opened the flag stands no more."""
    if fit is None:
        return "the coupling was taken out"
    if str(fit.uuid) != flag.evidence.get("fit"):
        return f"another coupling was fitted on {fit.fitted_on.isoformat()}"
    codes = [one["code"] for one in flag.evidence.get("found", [])]
    now = [found[code] for code in codes if code in found]
    if not now:
        return "an amendment took the grade back"
    last = max(now, key=lambda one: (one.gone_on or one.on, one.code))
    if last.gone_on is not None:
        name = fit.sheet_version.sheet.family.element_name or "element"
        return f"a new {name} was fitted on {last.gone_on.isoformat()}"
    return f"{last.title}: grade {last.grade} on {last.on.isoformat()}"
