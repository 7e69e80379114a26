"""The plain form of `bolt-torque`, and the request its documentation begins with."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from couplings.calculations.bolt_torque_request import NUT_FACTOR_SETS, SCATTER_SETS, STRENGTHS
from couplings.calculations.plain_form import Row, Variant, form_of, plain_number, row
from couplings.engineering.friction import FORMS
from couplings.engineering.tables.nut_factors import STARTER_NUT_FACTORS, STARTER_SCATTER
from couplings.engineering.tightening import STARTER_SHARES_SOURCE
from plant import units

_JOINED = " / "
SCREW, WANTED, SCATTER, LOSSES, ORDER = "Screw", "Wanted, one of these", "Scatter", "Losses", "Tightening order"


def _row_of(sets: dict[str, str], word: str) -> Any:
    """A choice names a table and its row at once."""

    def read(text: str, _system: str) -> dict[str, str]:
        key, _bar, name = text.partition(_JOINED)
        return {"set": key, word: name}

    return read


def _percents(text: str, _system: str) -> list[dict[str, Any]]:
    """30, 70, 100: percents, with or without their sign."""
    found = []
    for part in text.replace("%", " ").replace(";", " ").replace(", ", " ").replace(",", " ").split():
        number, _unit = units.split(part)
        found.append({"value": number, "unit": "%"})
    return found


def _published(sets: dict[str, str], rows: Any, word: str) -> tuple[tuple[str, str], ...]:
    keys = {source: key for key, source in sets.items()}
    return tuple((f"{keys[one.source]}{_JOINED}{getattr(one, word)}", _said(one, word)) for one in rows)


def _said(one: Any, word: str) -> str:
    value = f"{100 * one.scatter:.0f} %" if word == "method" else f"{one.nut_factor:.2f}"
    return f"{value}, {getattr(one, word)}: {one.source}"


_COMMON = (
    row("thread", "Thread, with its pitch", "text", required=True, group=SCREW, hint="M12x1.75 or 1/2-13."),
    row(
        "strength",
        "Property class or grade",
        "choice",
        group=SCREW,
        choices=tuple((name, f"{name} ({standard})") for name, (standard, _n) in STRENGTHS.items()),
    ),
    row("proof_strength", "or proof strength of your own", "pressure", group=SCREW),
    row("yield_strength", "and its yield strength", "pressure", group=SCREW),
    row("torque", "Torque", "torque", group=WANTED),
    row("preload", "Preload", "force", group=WANTED),
    row("share_of_proof", "Share of the proof load", "share", group=WANTED),
)
_NUT_FACTOR = (
    row(
        "nut_factor",
        "From a published table",
        "choice",
        group="Nut factor",
        choices=_published(NUT_FACTOR_SETS, STARTER_NUT_FACTORS, "condition"),
        read=_row_of(NUT_FACTOR_SETS, "condition"),
        hint="Published tables differ by more than a quarter: take the one your data sheet follows.",
    ),
    row("nut_factor_value", "or of your own", "text", "nut_factor.value", group="Nut factor", read=plain_number),
    row("nut_factor_source", "Where it is from", "text", "nut_factor.source", group="Nut factor"),
)
_FRICTION = (
    row(
        "form",
        "Long form",
        "choice",
        "friction.form",
        required=True,
        group="Friction",
        choices=tuple(FORMS.items()),
    ),
    row("mu_thread", "In the thread", "text", "friction.thread", required=True, group="Friction", read=plain_number),
    row(
        "mu_bearing",
        "Under the head or nut",
        "text",
        "friction.bearing",
        required=True,
        group="Friction",
        read=plain_number,
    ),
    row(
        "bearing_diameter",
        "Mean diameter under the head or nut",
        "size",
        "friction.bearing_diameter",
        group="Friction",
        hint="Half of head and hole together. Shigley: 1.25 times the thread if left blank.",
    ),
)
_REST: tuple[Row, ...] = (
    row(
        "scatter",
        "From a published table",
        "choice",
        group=SCATTER,
        choices=_published(SCATTER_SETS, STARTER_SCATTER, "method"),
        read=_row_of(SCATTER_SETS, "method"),
    ),
    row("scatter_value", "or of your own, either way", "share", "scatter.value", group=SCATTER),
    row("scatter_source", "Where it is from", "text", "scatter.source", group=SCATTER),
    row("torque_tolerance", "Tool, either way", "share", group=SCATTER),
    row("relaxation", "Relaxation", "share", group=LOSSES, hint="Blank: 5 % of the smallest preload, NASA-STD-5020B."),
    row("embedment_depth", "Seats flatten by", "gap", "embedment.depth", group=LOSSES),
    row(
        "bolt_resilience",
        "Bolt stretches, thousandths of a mm per kN",
        "text",
        "embedment.bolt_resilience",
        group=LOSSES,
        read=plain_number,
    ),
    row(
        "joint_resilience",
        "Joint gives, thousandths of a mm per kN",
        "text",
        "embedment.joint_resilience",
        group=LOSSES,
        read=plain_number,
    ),
    row("positions", "Positions", "count", "pattern.positions", group=ORDER, read=plain_number),
    row(
        "order",
        "In this order",
        "choice",
        "pattern.order",
        group=ORDER,
        choices=(
            ("opposite", "opposite pairs"),
            ("round", "round"),
            ("middle-outward", "from the middle of a segment outward"),
        ),
    ),
    row("segments", "Segments", "count", "pattern.segments", group=ORDER, read=plain_number),
    row(
        "shares",
        "Passes, percent of full torque",
        "text",
        "pattern.shares",
        group=ORDER,
        read=_percents,
        hint=f"Such as 30, 70, 100. Blank is a {STARTER_SHARES_SOURCE}.",
    ),
)
FORM = replace(
    form_of(
        {
            "nut-factor": Variant("a nut factor", (*_COMMON, *_NUT_FACTOR, *_REST)),
            "friction": Variant("friction, by a long form", (*_COMMON, *_FRICTION, *_REST)),
        }
    ),
    asks="Worked out from",
)

EXAMPLE: dict[str, Any] = {
    "method": "nut-factor",
    "thread": "M16x2",
    "strength": "8.8",
    "share_of_proof": {"value": 75, "unit": "%"},
    "nut_factor": {"set": "shigley", "condition": "lubricated"},
    "scatter": {"set": "nasa-std-5020b", "method": "torque, lubricated"},
    "torque_tolerance": {"value": 4, "unit": "%"},
    "pattern": {"positions": 8, "order": "opposite"},
}
