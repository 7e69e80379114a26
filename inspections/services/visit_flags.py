"""Flags for what a signed visit says beside its figures: left with a reason, loose, readings or instruments in doubt.

Each stands as the latest visit that says something about it left it, in the fit that is there now.
"""

from __future__ import annotations

from collections import defaultdict
from typing import Any

from django.db.models import F

from couplings.models import Coupling, Fit
from inspections.models import Flag, JointLook, Survey, SurveyResult, Torque, Visit
from inspections.services.flags import open_flag, settle_flag

KINDS = (Flag.Kind.LEFT_SO, Flag.Kind.READINGS, Flag.Kind.LOOSE, Flag.Kind.LOST_TWICE, Flag.Kind.INSTRUMENT)
OUT = SurveyResult.Verdict.OUT
CLOSURE_DEVIATIONS = 3  # as couplings/engineering/alignment refuses a closure


def flag_visits(*, coupling: Coupling) -> None:
    """Open or clear these flags by the signed visits to the fit that is there now."""
    standing = {flag.kind: flag for flag in Flag.objects.filter(coupling=coupling, cleared_at__isnull=True)}
    signed = {
        "visit__coupling": coupling,
        "visit__state": Visit.State.SIGNED,
        "visit__fit__removed_on__isnull": True,
        "record": F("visit__record"),
    }
    _flag_survey(coupling, standing, signed)
    _flag_joints(coupling, standing, signed)
    _flag_instruments(coupling, standing, signed)


def flag_visits_where_open(*, fits: list[Fit]) -> None:
    """Look again at the couplings of these fits that have such a flag: what was said of a fit goes with it."""
    flags = Flag.objects.filter(
        coupling__in=[fit.coupling_id for fit in fits], kind__in=KINDS, cleared_at__isnull=True
    ).select_related("coupling__site")
    for coupling in {flag.coupling_id: flag.coupling for flag in flags}.values():
        flag_visits(coupling=coupling)


def _flag_survey(coupling: Coupling, standing: dict[str, Flag], signed: dict[str, Any]) -> None:
    latest = (
        Survey.objects.filter(**signed)
        .exclude(as_left=False, as_found=False)
        .select_related("result", "visit")
        .order_by("-visit__on", "-visit_id", "-as_left", "-number")
        .first()
    )
    result = getattr(latest, "result", None)
    reason, doubts = "", []
    if latest is not None and result is not None:
        reason = latest.visit.left_so_reason if result.verdict != SurveyResult.Verdict.IN else ""
        limit = coupling.site.closure_limit_mm
        doubts = [words for one in result.quality for words in _doubts(one, limit)]
    about = _about(latest.visit) if latest is not None else {}
    _set(
        coupling, standing, Flag.Kind.LEFT_SO, about | {"left_so_reason": reason} if reason else None, _measured(latest)
    )
    _set(coupling, standing, Flag.Kind.READINGS, about | {"warnings": doubts} if doubts else None, _measured(latest))


def _doubts(quality: dict[str, Any], limit_mm: float) -> list[str]:
    """What is wrong with one set of readings, in words: the rule by which a closure is refused, and a slipped dial."""
    words = []
    closure, sd = quality.get("closure_mm"), quality.get("closure_sd_mm") or 0.0
    if closure is not None and abs(closure) > max(limit_mm, CLOSURE_DEVIATIONS * sd):
        words.append(f"opposite readings differ by {abs(closure):.2f} mm")
    back = quality.get("return_to_zero_mm")
    if back is not None and abs(back) > limit_mm:
        words.append(f"the dial came back {abs(back):.2f} mm off its start")
    return words


def _flag_joints(coupling: Coupling, standing: dict[str, Flag], signed: dict[str, Any]) -> None:
    found: dict[str, dict[tuple[Any, int], tuple[Visit, str | None]]] = defaultdict(dict)
    rows: list[Torque | JointLook] = [
        *Torque.objects.filter(**signed).select_related("visit"),
        *JointLook.objects.filter(**signed).select_related("visit"),
    ]
    for row in rows:
        place = (row.visit.on, row.visit_id)
        before = found[row.joint].get(place, (row.visit, None))[1]
        said = (getattr(row, "reason", "") or "") if row.verdict == OUT else None
        found[row.joint][place] = (row.visit, before if before is not None else said)
    loose, twice = [], []
    for joint, by_visit in sorted(found.items()):
        stands = [by_visit[place] for place in sorted(by_visit)]
        visit, said = stands[-1]
        if said is None:
            continue
        loose.append((visit, {"joint": joint, "said": said}))
        if len(stands) > 1 and stands[-2][1] is not None:
            twice.append((visit, {"joint": joint, "said": said}, stands[-2][0]))
    checked = f"checked again on {_latest_on(found)}" if found else "the coupling was exchanged"
    evidence = None
    if loose:
        evidence = _about(max((one[0] for one in loose), key=_when)) | {"joints": [line for _, line in loose]}
    _set(coupling, standing, Flag.Kind.LOOSE, evidence, checked)
    evidence = None
    if twice:
        evidence = _about(max((one[0] for one in twice), key=_when)) | {
            "joints": [line for _, line, _ in twice],
            "before": max(before.on for _, _, before in twice).isoformat(),
        }
    _set(coupling, standing, Flag.Kind.LOST_TWICE, evidence, checked)


def _flag_instruments(coupling: Coupling, standing: dict[str, Flag], signed: dict[str, Any]) -> None:
    latest = Torque.objects.filter(**signed).select_related("visit").order_by("-visit__on", "-visit_id").first()
    evidence, cause = None, "the coupling was exchanged"
    if latest is not None:
        cause = f"checked with instruments in calibration on {latest.visit.on.isoformat()}"
        rows = Torque.objects.filter(record=latest.record_id, out_of_calibration=True).select_related("instrument")
        names = sorted({str(row.instrument) for row in rows if row.instrument is not None})
        if names:
            evidence = _about(latest.visit) | {"instruments": names}
    _set(coupling, standing, Flag.Kind.INSTRUMENT, evidence, cause)


def _set(coupling: Coupling, standing: dict[str, Flag], kind: str, evidence: dict[str, Any] | None, cause: str) -> None:
    if evidence is not None:
        open_flag(coupling=coupling, kind=kind, evidence=evidence)
    elif kind in standing:
        settle_flag(flag=standing[kind], cause=cause)


def _about(visit: Visit) -> dict[str, Any]:
    return {"visit": str(visit.uuid), "on": visit.on.isoformat()}


def _when(visit: Visit) -> tuple[Any, int]:
    return visit.on, visit.pk


def _measured(latest: Survey | None) -> str:
    if latest is None:
        return "the coupling was exchanged"
    return f"measured again on {latest.visit.on.isoformat()}"


def _latest_on(found: dict[str, dict[tuple[Any, int], Any]]) -> str:
    return str(max(place[0] for by_visit in found.values() for place in by_visit).isoformat())
