"""The plain form of `torque-check`, and the request its documentation begins with."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from couplings.calculations.plain_form import Row, Variant, form_of, plain_number, probability, row
from couplings.engineering.torquecheck import RECHECK_RULES
from plant import units

POSITIONS_SHOWN = 16
JOINT, TOOL, JUDGED = "Joint", "Wrench", "Judged"


def _features(text: str, _system: str) -> list[str]:
    return [text]


def _places(found: str) -> Any:
    """3, 7 and 9: the positions an exception was found at."""

    def read(text: str, _system: str) -> list[dict[str, Any]]:
        rows = []
        for part in text.replace(",", " ").replace(";", " ").replace(" and ", " ").split():
            if not part.isdecimal() or len(part) > 3:
                raise units.UnitError("Positions are expected, such as 3, 7.")
            rows.append({"position": int(part), "found": found})
        return rows

    return read


_JOINT: tuple[Row, ...] = (
    row("torque", "Torque on the data sheet", "torque", required=True, group=JOINT),
    row("positions", "Positions", "count", required=True, group=JOINT, read=plain_number),
    row(
        "features",
        "What bears on a re-check",
        "choice",
        group=JOINT,
        choices=(("", "nothing"), *((rule.feature, rule.title) for rule in RECHECK_RULES)),
        read=_features,
    ),
    row("prevailing_torque", "The nut's own running torque", "torque", group=JOINT),
)
_TOOL: tuple[Row, ...] = (
    row("tool_limit", "May be off by", "share", "tool.limit", group=TOOL),
    row(
        "full_scale",
        "or its largest torque, for its class",
        "torque",
        "tool.full_scale",
        group=TOOL,
        hint="ISO 6789, from memory: 4 % of the reading, 6 % up to 10 N·m.",
    ),
    row("step", "Step of its scale", "torque", "tool.resolution", group=TOOL),
    row("months", "Months since calibration", "count", "tool.months", group=TOOL, read=plain_number),
    row("operations", "Operations since calibration", "count", "tool.operations", group=TOOL, read=plain_number),
)
_JUDGED: tuple[Row, ...] = (
    row("allowed_loss", "Loss allowed", "share", group=JUDGED, hint="Blank: 10 %, what MIL-HDBK-60 allows to relax."),
    row("confidence", "Confidence", "text", group=JUDGED, hint="Such as 95 %.", read=probability),
)
_READ: tuple[Row, ...] = (
    *(
        row(
            f"now.position{number}",
            f"Position {number}",
            "torque",
            f"readings.position={number}.value",
            group="Torque at first movement, tightening",
        )
        for number in range(1, POSITIONS_SHOWN + 1)
    ),
    *(
        row(
            f"first.position{number}",
            f"Position {number}",
            "torque",
            f"first_recheck.position={number}.value",
            group="The joint's own first re-check",
        )
        for number in range(1, POSITIONS_SHOWN + 1)
    ),
    row("tightened_ago", "Last tightened anew, days ago", "days", group="Earlier visits"),
    *(
        each
        for number in range(3)
        for each in (
            row(f"earlier{number}.ago", "Read, days ago", "days", f"earlier.{number}.ago", group="Earlier visits"),
            row(f"earlier{number}.mean", "Its mean", "torque", f"earlier.{number}.mean", group="Earlier visits"),
        )
    ),
)
_SET: tuple[Row, ...] = (
    row("set_torque", "The click wrench was set to", "torque", required=True, group="Tried with the click wrench"),
    row(
        "moved",
        "Moved before the click, at positions",
        "text",
        "exceptions",
        group="Tried with the click wrench",
        read=_places("moved"),
        hint="All others held. Blank where none moved.",
    ),
)
_FORM = form_of(
    {
        "read": Variant("a dial or electronic wrench, position by position", (*_JOINT, *_READ, *_TOOL, *_JUDGED)),
        "set": Variant("a click wrench that reads nothing", (*_JOINT, *_SET, *_TOOL, *_JUDGED)),
    }
)


def _field_of(path: str, given: Mapping[str, Any]) -> str:
    """A position that is wrong stands beside its torque, for the form numbers the positions itself."""
    rows, _dot, last = path.rpartition(".")
    return _FORM.field_of(f"{rows}.value" if last == "position" else path, given)


FORM = replace(_FORM, field_of=_field_of, asks="Checked with")


def _nm(value: float) -> dict[str, Any]:
    return {"value": value, "unit": "N*m"}


EXAMPLE: dict[str, Any] = {
    "method": "read",
    "torque": _nm(150),
    "positions": 4,
    "readings": [{"position": place, "value": _nm(value)} for place, value in ((1, 162), (2, 158), (3, 129), (4, 151))],
    "first_recheck": [
        {"position": place, "value": _nm(value)} for place, value in ((1, 165), (2, 160), (3, 163), (4, 170))
    ],
    "earlier": [{"ago": {"value": 730, "unit": "day"}, "mean": _nm(164.5)}],
    "tool": {"full_scale": _nm(250), "months": 7, "operations": 1200},
    "allowed_loss": {"value": 10, "unit": "%"},
}
