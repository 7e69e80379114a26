"""The rows of the `fit` form, by how the fit is specified."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from couplings.calculations.plain_form import Row, Variant, form_of, plain_number, probability, row
from couplings.engineering.tables.iso286 import HOLES, SHAFTS, InchClass
from plant.calculations import Form

SPECIFIED, MEASURED = "Specified", "Measured, both at one temperature"
PRESS, HEATING, TAPER = "What the interference holds", "Heating the hub", "Tapered bore"


def _classes(names: tuple[str, ...]) -> tuple[tuple[str, str], ...]:
    return tuple((name, name) for name in names)


_AFTER: tuple[Row, ...] = (
    row("bore", "Bore", "size", "measured.bore", group=MEASURED),
    row("bore_u", "Bore: standard uncertainty", "gap", "measured.bore_standard_uncertainty", group=MEASURED),
    row("shaft_size", "Shaft", "size", "measured.shaft", group=MEASURED),
    row("shaft_u", "Shaft: standard uncertainty", "gap", "measured.shaft_standard_uncertainty", group=MEASURED),
    row("hub_outside", "Hub outside diameter", "size", "press.hub_outside", group=PRESS),
    row("shaft_bore", "Bore through the shaft", "size", "press.shaft_bore", group=PRESS, hint="Blank: solid."),
    row("length", "Length of the fit", "size", "press.length", group=PRESS),
    row("friction", "Coefficient of friction", "text", "press.friction", group=PRESS, read=plain_number,
        hint="Never assumed: take the data sheet's."),
    row("hub_modulus", "Modulus of the hub", "pressure", "press.hub_modulus", group=PRESS,
        hint="Blank: steel, 207 000 MPa, from memory of Shigley."),
    row("bore_rz", "Roughness Rz of the bore", "gap", "press.bore_rz", group=PRESS,
        hint="Takes its part off the interference (DIN 7190-1, from memory)."),
    row("shaft_rz", "Roughness Rz of the shaft", "gap", "press.shaft_rz", group=PRESS),
    row("assembly_clearance", "Clearance while it slides on", "gap", "heating.assembly_clearance", group=HEATING),
    row("shaft_temperature", "Temperature of the shaft", "temperature", "heating.shaft_temperature", group=HEATING),
    row("expansion", "Expansion per kelvin", "text", "heating.expansion", group=HEATING, read=plain_number,
        hint="Blank: steel, 0.0000116, common practice."),
    row("highest", "Hottest that is allowed", "temperature", "heating.highest", group=HEATING,
        hint="From the data sheet."),
    row("taper", "Length per unit of diameter", "text", "taper.ratio", group=TAPER, read=plain_number,
        hint="16 for 1:16, which is 3/4 inch per foot."),
    row("confidence", "Confidence", "text", "confidence", group="Judged", read=probability, hint="Blank: 95 %."),
)  # fmt: skip

_NOMINAL = row("nominal", "Nominal size", "size", required=True, group=SPECIFIED)


def form_by(classes: Sequence[InchClass]) -> Form:
    """The form with a site's own classes to choose from; a site that has none does not see that way."""
    names = tuple(dict.fromkeys(one.name for one in classes))
    own = Variant(
        "a class of your site's table",
        (
            _NOMINAL,
            row("class", "Class", "choice", required=True, group=SPECIFIED, choices=_classes(names)),
            *_AFTER,
        ),
    )
    ways = dict(_WAYS)
    if names:
        ways = {"iso-286": ways["iso-286"], "site-class": own, "deviations": ways["deviations"]}
    return replace(form_of(ways), asks="Specified by")


_WAYS = {
    "iso-286": Variant(
        "classes of ISO 286",
        (
            _NOMINAL,
            row("hole", "Class of the bore", "choice", required=True, group=SPECIFIED, choices=_classes(HOLES)),
            row("shaft", "Class of the shaft", "choice", required=True, group=SPECIFIED, choices=_classes(SHAFTS)),
            *_AFTER,
        ),
    ),
    "deviations": Variant(
        "deviations from your own copy of a class",
        (
            _NOMINAL,
            *[
                row(
                    f"{part}_{end}",
                    f"{part.capitalize()}: {end} deviation",
                    "gap",
                    f"{part}_deviations.{end}",
                    required=True,
                    group=SPECIFIED,
                )
                for part in ("bore", "shaft")
                for end in ("lower", "upper")
            ],
            row("source", "Where they are from", "text", group=SPECIFIED),
            *_AFTER,
        ),
    ),
}

FORM = form_by(())
