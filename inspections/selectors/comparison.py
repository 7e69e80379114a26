"""An amendment beside the text it amends: which fields differ, in the reader's units."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Any

from inspections.models import SignedRecord, Visit
from inspections.steps import STEPS
from plant import units


@dataclass(frozen=True)
class Change:
    """One field that differs: as it was and as it became, "" for blank."""

    step: str
    number: int
    name: str
    title: str
    label: str
    was: str
    became: str


def changes_of(record: SignedRecord, visit: Visit, system: str) -> list[Change]:
    """Field by field what an amendment changed; nothing for a text that amends none."""
    if record.amends is None:
        return []
    before, after = json.loads(record.amends.text), json.loads(record.text)
    was, became = _typed(before), _typed(after)
    found = []
    for key in sorted(was.keys() | became.keys(), key=_order):
        old, new = was.get(key, {}), became.get(key, {})
        if old != new:
            found += _step(key, old, new, visit, system)
    verdicts = _verdict(before), _verdict(after)
    if verdicts[0] != verdicts[1]:
        found.append(Change("as-left", 0, "", STEPS["as-left"].title, "Verdict", *verdicts))
    said = [one["visit"]["left_so_reason"] for one in (before, after)]
    if said[0] != said[1]:
        found.append(Change("signature", 0, "left_so_reason", STEPS["signature"].title, "Why it is left so", *said))
    return found


def _typed(text: dict[str, Any]) -> dict[tuple[str, int], dict[str, str]]:
    return {(one["step"], one["number"]): one["typed"] for one in text["steps"]}


def _order(key: tuple[str, int]) -> tuple[int, int]:
    keys = list(STEPS)
    return (keys.index(key[0]) if key[0] in keys else len(keys), key[1])


def _step(key: tuple[str, int], old: dict[str, str], new: dict[str, str], visit: Visit, system: str) -> list[Change]:
    step, number = key
    row = STEPS.get(step)
    # A field may be asked for by the one text only: another method has other readings.
    asked = [one for typed in (new, old) for one in row.fields(visit, typed)] if row is not None else []
    fields = {one.name: one for one in reversed(asked)}
    title = (row.title if row is not None else step) + (f", round {number}" if number else "")
    found = []
    for name in [*dict.fromkeys([*(one.name for one in asked), *old, *new])]:
        if old.get(name, "").strip() == new.get(name, "").strip():
            continue
        field = fields.get(name)
        label = name if field is None else f"{field.group}, {field.label}" if field.group else field.label
        shown = [_shown(one.get(name, ""), field, visit.site.units, system) for one in (old, new)]
        found.append(Change(step, number, name, title, label, *shown))
    return found


def _shown(text: str, field: Any, kept_in: str, system: str) -> str:
    """As typed; a quantity also in the reader's units where those are others."""
    text = text.strip()
    if not text or field is None:
        return text
    if field.kind == "choice":
        return str(dict(field.choices).get(text, text))
    if field.kind not in units.KINDS:
        return text
    try:
        written = units.written(units.parse(text, field.kind, kept_in), field.kind, system)
    except units.UnitError:
        return text
    plain = text if any(letter.isalpha() for letter in text) else f"{text} {units.label_of(field.kind, kept_in)}"
    return written if written.split() == plain.split() or kept_in == system else f"{written} (typed: {plain})"


def _verdict(text: dict[str, Any]) -> str:
    left = next((one for one in text["surveys"] if one["as_left"]), None)
    return str(left["result"]["verdict"]) if left is not None else "not known"
