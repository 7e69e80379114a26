"""The plain form of a train's moves, for two and three machines on two foot planes each; more comes as JSON."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from couplings.calculations.plain_form import Row, Variant, form_of, probability, row
from plant.calculations import Form

WISH = "What is wanted"
PLACES = ("at the driver end", "next", "at the far end")
WISHES = (
    ("least-total", "least movement in all"),
    ("least-largest", "no foot moves far"),
    ("fewest-feet", "fewest feet touched"),
)
RULES = (("vector", "as a vector"), ("per-plane", "each plane alone"))
STOOD = (("driven", "driven side stood still"), ("driver", "driver side stood still"))


def _machine(place: int, many: int) -> list[Row]:
    where = PLACES[0] if place == 0 else PLACES[2] if place == many - 1 else PLACES[1]
    group, at = f"Machine {place + 1}, {where}", f"machines.{place}"
    rows = [
        row(f"m{place}.name", "Name", "text", f"{at}.name", group=group),
        row(
            f"m{place}.fixed",
            "May it be moved",
            "choice",
            f"{at}.fixed",
            group=group,
            choices=(("", "it may"), ("yes", "it may not")),
            read=lambda text, _system: text == "yes",
        ),
    ]
    for foot, word in enumerate(("First", "Second")):
        name, path = f"m{place}.foot{foot}", f"{at}.feet.{foot}"
        hint = "Feet nearer the driver end come first." if foot == 0 else ""
        rows += [
            row(
                f"{name}.x",
                f"{word} feet: X along the train",
                "size",
                f"{path}.x",
                required=True,
                group=group,
                hint=hint,
                fold="group",
            ),
            *(
                row(f"{name}.{key}", f"{word} feet: {label}", "gap", f"{path}.at_most.{key}", group=group, fold="field")
                for key, label in (("down", "shims that lie there"), ("sideways", "room sideways"))
            ),
        ]
    return rows


def _coupling(place: int) -> list[Row]:
    group, at = f"Coupling {place + 1}, machine {place + 1} to machine {place + 2}", f"couplings.{place}"
    name = f"c{place}"
    measured = (
        ("offset_v", "Offset, up", "gap", "offset.vertical"),
        ("offset_h", "Offset, right", "gap", "offset.horizontal"),
        ("slope_v", "Angularity, vertical", "slope", "angularity.vertical"),
        ("slope_h", "Angularity, horizontal", "slope", "angularity.horizontal"),
    )
    limits = (
        ("limit_offset", "Limit on the offset", "gap", "limits.offset"),
        ("limit_angularity", "Limit on the angularity", "slope", "limits.angularity"),
        ("limit_flex", "Limit on the angle at a flex plane", "slope", "limits.flex_angle"),
        ("flex", "Distance between the flex planes", "size", "flex_distance"),
    )
    return [
        row(f"{name}.x", "Centre: X along the train", "size", f"{at}.x", required=True, group=group, fold="group"),
        row(
            f"{name}.stood",
            "When it was measured",
            "choice",
            f"{at}.stationary",
            group=group,
            choices=STOOD,
            hint="Not said: driver side against driven side, seen from the driver end, as the record keeps it.",
        ),
        *[row(f"{name}.{key}", label, kind, f"{at}.{path}", group=group) for key, label, kind, path in measured],
        *[
            row(f"{name}.{key}", label, kind, f"{at}.{path}", group=group, fold="field")
            for key, label, kind, path in limits
        ],
        row(f"{name}.rule", "Judged", "choice", f"{at}.limits.rule", group=group, choices=RULES, fold="field"),
        *[
            row(
                f"{name}.{key}_u",
                f"{label}: standard uncertainty",
                kind,
                f"{at}.{path}.standard_uncertainty",
                group=group,
                fold="field",
            )
            for key, label, kind, path in measured
        ],
        *[
            row(
                f"{name}.target_{key}",
                f"Wanted: {label.lower()}",
                kind,
                f"{at}.target.{path}",
                group=group,
                fold="field",
            )
            for key, label, kind, path in measured
        ],
    ]


def _rows(many: int) -> tuple[Row, ...]:
    rows = [
        row("objective", "Moves", "choice", group=WISH, choices=WISHES),
        row(
            "share",
            "Share of the limits to use",
            "share",
            group=WISH,
            hint="Left blank: all of them. Less leaves room for settling and for what the readings do not know.",
            read=probability,
        ),
        row(
            "confidence",
            "How sure every coupling is to be in",
            "share",
            group=WISH,
            hint="Such as 95 %. Less of the limits is then used, as far as the uncertainty below asks for it.",
            read=probability,
        ),
        row("shim_stock", "Step of the shims you have", "gap", group=WISH, hint="Moves up and down are rounded to it."),
    ]
    for place in range(many):
        rows += _machine(place, many)
        rows += _coupling(place) if place < many - 1 else []
    return tuple(rows)


_VARIANTS = {
    "three": Variant("three machines", _rows(3)),
    "two": Variant("two machines", _rows(2)),
}
_PLAIN = form_of(_VARIANTS)


def _payload(variant: str, typed: Mapping[str, str], system: str) -> tuple[dict[str, Any], dict[str, str]]:
    """The request has no word for how many machines there are: it lists them."""
    payload, errors = _PLAIN.payload(variant, typed, system)
    payload.pop("method")
    for place in range(3 if variant == "three" else 2):
        _listed(payload, "machines", place)
        if place:
            _listed(payload, "couplings", place - 1)
    for coupling in payload["couplings"]:
        if set(coupling.get("limits", {})) <= {"rule"}:
            coupling.pop("limits", None)  # a rule without a limit judges nothing
    return payload, errors


def _listed(payload: dict[str, Any], key: str, place: int) -> None:
    """A machine of which nothing was typed is there all the same, so that what it lacks is asked for beside it."""
    rows = payload.setdefault(key, [])
    if len(rows) <= place:
        rows.append({})
    if key == "machines":
        feet = rows[place].setdefault("feet", [])
        feet += [{} for _ in range(2 - len(feet))]
    else:
        for part in ("offset", "angularity"):
            rows[place].setdefault(part, {})


MOVES_FORM = Form(_PLAIN.variants, _PLAIN.fields, _payload, _PLAIN.field_of, asks="A train of")
