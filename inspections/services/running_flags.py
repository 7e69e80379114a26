"""Flags for what machines say while they run: odd at a running check, broken down, a run-up that was not accepted.

A look and a run-up stand for the fit that is there now. A breakdown stands until somebody says what was found out: what
was repaired or exchanged is not yet understood.
"""

from __future__ import annotations

from typing import Any

from django.db.models import F

from couplings.models import Coupling, Fit
from inspections import rules
from inspections.models import Breakdown, Flag, RunningLook, RunUp, Visit
from inspections.selectors.people import owner_to_begin_with
from inspections.services.flags import open_flag, settle_flag
from inspections.steps.passing import LOOKED, ORDINARY

KINDS = (Flag.Kind.ODD_LOOK, Flag.Kind.RUN_UP)
# Work during which somebody had the coupling open: it answers what was odd from outside the guard.
OPENED = rules.STOPPED - {Visit.Kind.BREAKDOWN}


def flag_running(*, coupling: Coupling) -> None:
    """Open or clear these flags by the signed visits to the fit that is there now."""
    ever = Visit.objects.filter(coupling=coupling, state=Visit.State.SIGNED)
    here = ever.filter(fit__removed_on__isnull=True)
    standing = {flag.kind: flag for flag in Flag.objects.filter(coupling=coupling, cleared_at__isnull=True)}
    opened = here.filter(kind__in=OPENED).order_by("-on", "-pk").first()
    for kind, (evidence, cause) in {
        Flag.Kind.ODD_LOOK: _odd(here, opened),
        Flag.Kind.BREAKDOWN: _broken(ever),
        Flag.Kind.RUN_UP: _run_up(here),
    }.items():
        flag = standing.get(kind)
        if evidence is None:
            if flag is not None:
                settle_flag(flag=flag, cause=cause)
        elif flag is None or flag.evidence != evidence:
            owner = owner_to_begin_with(coupling, kind) if flag is None else None
            open_flag(coupling=coupling, kind=kind, evidence=evidence, owner=owner)


def flag_running_where_open(*, fits: list[Fit]) -> None:
    """Look again at the couplings of these fits that have such a flag: what was said of a fit goes with it."""
    flags = Flag.objects.filter(
        coupling__in=[fit.coupling_id for fit in fits], kind__in=KINDS, cleared_at__isnull=True
    ).select_related("coupling__site")
    for coupling in {flag.coupling_id: flag.coupling for flag in flags}.values():
        flag_running(coupling=coupling)


def _odd(here: Any, opened: Visit | None) -> tuple[dict[str, Any] | None, str]:
    look = (
        RunningLook.objects.filter(visit__in=here, record=F("visit__record"))
        .select_related("visit")
        .order_by("-visit__on", "-visit_id")
        .first()
    )
    if look is None:
        return None, "the coupling was exchanged, or an amendment took the look back"
    if look.ordinary:
        return None, f"nothing out of the ordinary on {look.visit.on.isoformat()}"
    if opened is not None and (opened.on, opened.pk) > (look.visit.on, look.visit_id):
        return None, f"looked into while it stood, on {opened.on.isoformat()}"
    seen = {name: code for name in LOOKED if (code := getattr(look, name)) not in ORDINARY[name]}
    return _about(look.visit) | {"seen": seen, "odd": look.odd, "stop_for": look.stop_for}, ""


def _broken(ever: Any) -> tuple[dict[str, Any] | None, str]:
    row = (
        Breakdown.objects.filter(visit__in=ever, record=F("visit__record"))
        .select_related("visit")
        .order_by("-visit__on", "-visit_id")
        .first()
    )
    if row is None:
        return None, "an amendment took the breakdown back"
    said = {"noticed": row.noticed, "part": row.part, "went": row.went, "went_to": row.went_to, "cause": row.cause_name}
    return _about(row.visit) | said | {"hours_down": row.hours_down}, ""


def _run_up(here: Any) -> tuple[dict[str, Any] | None, str]:
    """The latest run-up of the latest stopped work that has one."""
    work = here.filter(kind__in=rules.STOPPED).order_by("-on", "-pk").first()
    if work is None:
        return None, "the coupling was exchanged"
    row = RunUp.objects.filter(visit=work).select_related("record__signed_by").order_by("-record__number").first()
    if row is None:
        return None, f"worked on again on {work.on.isoformat()}"
    if row.settles:
        return None, f"the run-up was accepted by {row.record.signed_by}"
    said = {"remarks": row.remarks, "by": str(row.record.signed_by), "ran_at": row.ran_at.isoformat()}
    return _about(work) | said, ""


def _about(visit: Visit) -> dict[str, Any]:
    return {"visit": str(visit.uuid), "on": visit.on.isoformat()}
