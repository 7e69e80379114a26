"""The plain form of `bolt-torque`, and the request its documentation begins with."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from couplings.calculations.bolt_torque_request import STRENGTHS, NutFactors, Scatters
from couplings.calculations.plain_form import Row, Variant, form_of, plain_number, row
from couplings.engineering.friction import FORMS
from couplings.engineering.tables.nut_factors import NUT_FACTORS
from couplings.engineering.tables.nut_factors import SCATTER as SCATTERS
from couplings.engineering.tightening import STARTER_SHARES_SOURCE
from plant import units
from plant.calculations import Form

_JOINED = " / "
SCREW, WANTED, SCATTER, LOSSES, ORDER = "Screw", "Wanted, one of these", "Scatter", "Losses", "Tightening order"


def _row_of(word: str) -> Any:
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


def _choices(sets: Any, word: str) -> tuple[tuple[str, str], ...]:
    return tuple(
        (f"{key}{_JOINED}{getattr(one, word)}", _said(one, word)) for key, rows in sets.items() for one in rows
    )


def _said(one: Any, word: str) -> str:
    value = f"{100 * one.scatter:.0f} %" if word == "method" else f"{one.nut_factor:.2f}"
    mark = "" if one.mark == "published" else f" ({one.mark})"
    return f"{value}, {getattr(one, word)}: {one.source}{mark}"


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
_OWN_NUT_FACTOR = (
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


def form_by(nut_factors: NutFactors, scatters: Scatters) -> Form:
    """The form by these tables: a site's, or the starters."""
    factor = row(
        "nut_factor",
        "From the table",
        "choice",
        group="Nut factor",
        choices=_choices(nut_factors, "condition"),
        read=_row_of("condition"),
        hint="Published tables differ by more than a quarter: take the one your data sheet follows.",
    )
    scatter = row(
        "scatter",
        "From the table",
        "choice",
        group=SCATTER,
        choices=_choices(scatters, "method"),
        read=_row_of("method"),
    )
    return replace(
        form_of(
            {
                "nut-factor": Variant("a nut factor", (*_COMMON, factor, *_OWN_NUT_FACTOR, scatter, *_REST)),
                "friction": Variant("friction, by a long form", (*_COMMON, *_FRICTION, scatter, *_REST)),
            }
        ),
        asks="Worked out from",
    )


FORM = form_by(NUT_FACTORS, SCATTERS)

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
