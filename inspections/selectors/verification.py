"""Whether what lies in the database is what was signed: digests, the chain, and every measurement row."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

from couplings.models import Coupling
from inspections.models import SignedRecord, Visit
from inspections.selectors.hold_points import signed_beside
from inspections.selectors.photos import photos_of, stands
from inspections.steps.records import digest_of, link_of, visit_of
from inspections.steps.rows import described, planned_of


@dataclass(frozen=True)
class Finding:
    """One place where the database differs from what was signed."""

    coupling: str
    record: int
    what: str

    def __str__(self) -> str:
        return f"{self.coupling} record {self.record}: {self.what}"


@dataclass
class Verification:
    """Counts of what was looked at, and what was found."""

    chains: int = 0
    records: int = 0
    rows: int = 0
    visits: int = 0
    findings: list[Finding] = field(default_factory=list)


def verify(couplings: Iterator[Coupling] | None = None) -> Verification:
    """Recompute every digest, walk every chain, compare every row below a record with its text."""
    done = Verification()
    chosen = couplings if couplings is not None else Coupling.objects.order_by("pk").iterator()
    for coupling in chosen:
        records = list(
            SignedRecord.objects.filter(coupling=coupling)
            .select_related("visit__taken_by", "visit__entered_by", "signed_by", "amends", "coupling")
            .order_by("number")
        )
        if records:
            done.chains += 1
        _chain(done, coupling, records)
        for record in records:
            done.records += 1
            _record(done, coupling, record)
        _visits(done, coupling, records)
    return done


def _chain(done: Verification, coupling: Coupling, records: list[SignedRecord]) -> None:
    previous = ""
    for place, record in enumerate(records, start=1):
        if record.number != place:
            done.findings.append(Finding(coupling.tag, record.number, f"number {place} of the chain is not there"))
            return
        if record.previous_digest != previous:
            done.findings.append(Finding(coupling.tag, record.number, "does not hang on the record before it"))
        previous = record.digest


def _record(done: Verification, coupling: Coupling, record: SignedRecord) -> None:
    def found(what: str) -> None:
        done.findings.append(Finding(coupling.tag, record.number, what))

    if digest_of(record.previous_digest, record.text) != record.digest:
        found("the text is not the one that was signed: its digest differs")
    try:
        text = json.loads(record.text)
        signed = {"surveys": text["surveys"], "facts": text["facts"]}
        if text["record"] != link_of(record):
            found(f"columns differ from the text: {_named(text['record'], link_of(record))}")
        plan = planned_of(record)
    except (ValueError, KeyError, TypeError):
        found("the text cannot be read")
        return
    done.rows += len(plan.rows)
    for what in _differences(signed, json.loads(json.dumps(described(plan)))):
        found(what)


def _visits(done: Verification, coupling: Coupling, records: list[SignedRecord]) -> None:
    """Every signed visit is fed by the last link that is about it, and says what that link says."""
    last = {record.visit_id: record for record in records if record.kind != SignedRecord.Kind.RUN_UP}
    signed = Visit.objects.filter(coupling=coupling, state=Visit.State.SIGNED).select_related("taken_by", "entered_by")
    for visit in signed:
        done.visits += 1
        record = last.pop(visit.pk, None)
        if record is None:
            done.findings.append(Finding(coupling.tag, 0, f"the visit of {visit.on} is signed and has no record"))
            continue
        if visit.record_id != record.pk:
            done.findings.append(
                Finding(
                    coupling.tag, record.number, f"the visit of {visit.on} is fed by another record than its latest"
                )
            )
        try:
            whole = json.loads(record.text)
            text = whole["visit"]
        except (ValueError, KeyError, TypeError):
            continue
        beside = signed_beside(visit)
        said = {name: whole[name] for name in ("witnesses", "hand_overs", "photos") if name in whole}
        if said != beside:
            what = f"witnesses, notes or photos differ from the text: {_named(said, beside)}"
            done.findings.append(Finding(coupling.tag, record.number, what))
        for photo in photos_of(visit):
            if not stands(photo):
                what = f"the file of photo {photo.uuid} is not there, or not the one that was signed"
                done.findings.append(Finding(coupling.tag, record.number, what))
        now = visit_of(visit, visit.left_so_reason, visit.nothing_moved)
        if text != now:
            done.findings.append(
                Finding(coupling.tag, record.number, f"the visit differs from the text: {_named(text, now)}")
            )
    for record in last.values():
        done.findings.append(Finding(coupling.tag, record.number, "its visit is not signed any more"))


def _named(one: dict[str, Any], other: dict[str, Any]) -> str:
    return ", ".join(sorted(name for name in one.keys() | other.keys() if one.get(name) != other.get(name)))


def _differences(signed: Any, there: Any, path: str = "") -> Iterator[str]:
    """Where two plain structures differ, by the path to the first difference on each branch."""
    if isinstance(signed, dict) and isinstance(there, dict):
        for name in sorted(signed.keys() | there.keys()):
            if name not in signed or name not in there:
                yield f"{path}{name} was {'added' if name not in signed else 'removed'}"
            else:
                yield from _differences(signed[name], there[name], f"{path}{name}.")
    elif isinstance(signed, list) and isinstance(there, list):
        if len(signed) != len(there):
            yield f"{path.rstrip('.')} has {len(there)} rows where {len(signed)} were signed"
        else:
            for place, (one, other) in enumerate(zip(signed, there, strict=True)):
                yield from _differences(one, other, f"{path}{place}.")
    elif signed != there:
        yield f"{path.rstrip('.')} is {there!r} where {signed!r} was signed"
