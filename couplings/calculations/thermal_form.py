"""The plain form of `thermal-growth`: both machines, two foot planes each, and a survey."""

from __future__ import annotations

from typing import Any

from couplings.calculations.plain_form import Row, Variant, form_of, row
from couplings.engineering.tables.coefficients import STARTER_COEFFICIENTS
from plant import units

MATERIALS = tuple((one.material, one.material) for one in STARTER_COEFFICIENTS)
STATES = {"target": (("cold", "Cold"), ("hot", "Running")), "survey": (("at_survey", "At the survey"),
          ("reference", "In the reference state"))}  # fmt: skip
# How a coefficient's unit may be typed; without one it is per degree of the site's own thermometer.
_PER = {"/k": "1e-6/degC", "/°c": "1e-6/degC", "/c": "1e-6/degC", "/°f": "1e-6/degF", "/f": "1e-6/degF"}


def coefficient(text: str, system: str) -> dict[str, Any]:
    """11.4, 11.4 /K or 6.3 /°F, in millionths."""
    plain = text.strip()
    for word, unit in _PER.items():
        if plain.casefold().endswith(word):
            return {"value": _number(plain[: -len(word)]), "unit": unit}
    return {"value": _number(plain), "unit": "1e-6/degC" if system == units.METRIC else "1e-6/degF"}


def _number(text: str) -> float:
    number, unit = units.split(text)
    if unit:
        raise units.UnitError("Millionths per degree are expected here, such as 11.4 /K or 6.3 /°F.")
    return number


def behind(text: str, system: str) -> dict[str, Any]:
    """A distance on the stationary side: typed without its sign, and always negative in the request."""
    given = units.as_given(text, "size", system)
    return given | {"value": -abs(given["value"])}


def _machine(machine: str, method: str) -> tuple[Row, ...]:
    group = f"{machine.capitalize()} machine"
    rows = [
        row(
            f"{machine}_material", "Material of its supports", "choice", f"{machine}.material",
            group=group, choices=MATERIALS,
        ),
        row(
            f"{machine}_coefficient", "or a coefficient of your own", "text", f"{machine}.coefficient",
            group=group, hint="Millionths per degree, such as 11.4 /K or 6.3 /°F.", read=coefficient,
        ),
        *[
            row(f"{machine}_{name}", f"{label}, its supports at", "temperature", f"{machine}.{name}", group=group)
            for name, label in STATES[method]
        ],
        row(
            f"{machine}_u", "Standard uncertainty of a temperature", "temperature-difference",
            f"{machine}.temperature_standard_uncertainty", group=group,
        ),
    ]  # fmt: skip
    for place, side in enumerate(("inboard", "outboard")):
        foot = f"{machine}.feet.{place}"
        away = None if machine == "movable" else behind
        label = f"{side.capitalize()} feet"
        rows += [
            row(f"{machine}_{side}_x", f"{label}: from the coupling's centre", "size", f"{foot}.x", group=group,
                read=away),
            row(f"{machine}_{side}_height", f"{label}: base to shaft centre", "size", f"{foot}.height", group=group),
            row(f"{machine}_{side}_{STATES[method][1][0]}", f"{label}: own temperature, {STATES[method][1][1].lower()}",
                "temperature", f"{foot}.{STATES[method][1][0]}", group=group),
        ]  # fmt: skip
    return tuple(rows)


def _survey(method: str) -> tuple[Row, ...]:
    group = "The survey, as measured" if method == "survey" else "Where the shaft lies now, for the moves"
    return tuple(
        row(name, label, kind, path, group=group)
        for name, label, kind, path in (
            ("offset_v", "Offset, up", "gap", "offset.vertical"),
            ("offset_h", "Offset, right", "gap", "offset.horizontal"),
            ("slope_v", "Angularity, vertical", "slope", "angularity.vertical"),
            ("slope_h", "Angularity, horizontal", "slope", "angularity.horizontal"),
        )
    )


def _rows(method: str) -> tuple[Row, ...]:
    return (*_machine("stationary", method), *_machine("movable", method), *_survey(method))


FORM = form_of(
    {
        "target": Variant("how to set it cold", _rows("target")),
        "survey": Variant("a survey taken warm", _rows("survey")),
    }
)
