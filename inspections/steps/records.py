"""The text of a signed record: canonical form, digest, and the columns it repeats."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from datetime import UTC, datetime
from typing import Any

from inspections.models import SignedRecord, Visit


def canonical(content: Mapping[str, Any]) -> str:
    """JSON with sorted keys, no blanks, shortest numbers, and no number that is none."""
    return json.dumps(content, sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False)


def digest_of(previous: str, text: str) -> str:
    """SHA-256 over the previous link's digest and this link's text, in hexadecimal."""
    return hashlib.sha256((previous + "\n" + text).encode()).hexdigest()


def link_of(record: SignedRecord) -> dict[str, Any]:
    """The record's own columns as its text repeats them."""
    return {
        "coupling": str(record.coupling.uuid),
        "visit": str(record.visit.uuid),
        "number": record.number,
        "kind": record.kind,
        "amends": record.amends.digest if record.amends is not None else None,
        "reason": record.reason,
        "signed_by": str(record.signed_by.uuid),
        "signed_at": instant(record.signed_at),
    }


def visit_of(visit: Visit, left_so_reason: str, nothing_moved: bool) -> dict[str, Any]:
    """The visit's columns as its text repeats them."""
    # Only where it is so, since texts signed before this was asked do not have it.
    paper = {"from_paper": True, "paper_isolation": visit.paper_isolation} if visit.from_paper else {}
    return {
        "kind": visit.kind,
        "on": visit.on.isoformat(),
        "zone": visit.zone,
        "taken_by": str(visit.taken_by.uuid),
        "taken_at": instant(visit.taken_at),
        "entered_by": str(visit.entered_by.uuid),
        "entered_at": instant(visit.entered_at),
        "left_so_reason": left_so_reason,
        "nothing_moved": nothing_moved,
    } | paper


def instant(at: datetime | None) -> str | None:
    """An instant as the text has it: UTC, ISO 8601."""
    return at.astimezone(UTC).isoformat() if at is not None else None
