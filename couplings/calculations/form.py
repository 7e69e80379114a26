"""The rows of a plain form for each method of alignment; the names are those of typed.py."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from couplings.calculations.alignment_temperatures_form import temperature_rows, typed_temperatures
from couplings.calculations.typed import GAP_HOURS, carrier_is_open, payload_from_typed
from couplings.calculations.typed_sets import BOTH, FIRST, MORE, OPPOSED, TURNED, name_of
from couplings.engineering.alignment import METHODS, MethodSet
from plant.calculations import FormField
from plant.refusals import Refused

CLOCK = (12, 3, 6, 9)


def payload_from_page(method: str, typed: Mapping[str, str], system: str) -> tuple[dict[str, Any], dict[str, str]]:
    """The same from a page, where nothing is chosen beforehand: a choice that has to be made and was not is an error.

    A visit step asks for such choices by itself, while the crew is still typing.
    """
    payload, errors = payload_from_typed(method, typed, system)
    for row in form_fields(method):
        if row.kind == "choice" and row.required and not str(typed.get(row.name) or "").strip():
            errors.setdefault(row.name, f"Choose one: {', '.join(label for _value, label in row.choices)}.")
    temperatures, wrong = typed_temperatures(typed, system)
    if temperatures is not None:
        payload["temperatures"] = temperatures
    return payload, errors | wrong


def page_fields(method: str) -> list[FormField]:
    """The rows of the page: those of the method, and the temperatures, which a visit asks for in its own way."""
    return form_fields(method) + temperature_rows()


def form_fields(method: str) -> list[FormField]:
    """The rows of a plain form for a method, sets first; Refused if there is no such method."""
    if method not in METHODS:
        raise Refused({"method": f"Choose one of: {', '.join(METHODS)}."})
    views = (("movable", "from the movable machine"), ("stationary", "from the stationary machine"))
    rows = [FormField("viewed_from", "Seen from which machine", "choice", True, "How it was read", views)]
    if method == "direct":
        rows += _direct_rows()
    for number, row in enumerate(METHODS[method].sets):
        rows += _set_rows(number, row, carrier_is_open(method, row))
    rows += [
        FormField(f"feet{number}.{part}", f"{name.capitalize()} feet: {label}", kind, False, "Feet")
        for number, name in enumerate(("inboard", "outboard", "third", "fourth"))
        for part, label, kind in (("name", "name", "text"), ("x", "distance from the coupling's centre", "size"))
    ]
    needed = METHODS[method].needs_flex_planes
    rows += [
        FormField("flex_a", "Flex plane on the stationary side (A)", "size", needed, "Flex planes"),
        FormField("flex_b", "Flex plane on the movable side (B)", "size", needed, "Flex planes"),
        FormField("limit_offset", "Offset", "gap", False, "Limits"),
        FormField("limit_angularity", "Angularity", "slope", False, "Limits"),
        FormField("limit_gap_difference", "or gap difference", "gap", False, "Limits"),
        FormField("limit_over_diameter", "over the diameter", "size", False, "Limits"),
        FormField("limit_flex_angle", "Angle at a flex plane", "slope", False, "Limits"),
        FormField("limit_axial", "Gap from nominal", "gap", False, "Limits"),
        FormField(
            "limit_rule",
            "Judged",
            "choice",
            False,
            "Limits",
            (("vector", "as a vector"), ("per-plane", "each plane alone")),
        ),
        FormField("limit_combined", "Sum of ratios at most 1", "choice", False, "Limits", (("", "no"), ("yes", "yes"))),
        FormField(
            "decision",
            "Decided",
            "choice",
            False,
            "Limits",
            (("guarded", "with a guard band, as for as-left"), ("simple", "by the value alone, as for as-found")),
        ),
        FormField("confidence", "Confidence", "share", False, "Limits", hint="Left blank: 95 %."),
        *_target_rows(),
        *[
            FormField(f"gap{number}", f"Gap at {hour} o'clock", "gap", False, "Gap")
            for number, hour in enumerate(GAP_HOURS)
        ],
        FormField("rotor_from_place", "Rotor from its place, towards the coupling", "gap", False, "Gap"),
        FormField("gap_nominal", "Nominal gap", "gap", False, "Gap"),
        FormField("gap_float", "Total float", "gap", False, "Gap"),
        FormField("gap_u", "Standard uncertainty of one gap", "gap", False, "Gap"),
    ]
    return rows


def _target_rows() -> list[FormField]:
    """A target in two parts at most, such as growth and the lift of a gear; a second is folded away until used."""
    rows = []
    for each, words in (("target", ""), ("target1", "second part, ")):
        fold = "field" if words else ""
        rows += [
            FormField(
                f"{each}_name", f"Target, {words}for", "text", False, "Target", hint="Growth, lift.", fold="field"
            ),
            FormField(f"{each}_offset_v", f"Offset wanted, {words}up", "gap", False, "Target", fold=fold),
            FormField(f"{each}_offset_h", f"Offset wanted, {words}right", "gap", False, "Target", fold=fold),
            FormField(f"{each}_slope_v", f"Angularity wanted, {words}vertical", "slope", False, "Target", fold=fold),
            FormField(f"{each}_slope_h", f"Angularity wanted, {words}horizontal", "slope", False, "Target", fold=fold),
        ]
    return rows


def _direct_rows() -> list[FormField]:
    rows = []
    reported, angles = "What the instrument reported", "or its angles at the flex planes"
    for name, label, kind, group in (
        ("offset_v", "Offset, up", "gap", reported),
        ("offset_h", "Offset, right", "gap", reported),
        ("slope_v", "Angularity, vertical", "slope", reported),
        ("slope_h", "Angularity, horizontal", "slope", reported),
        ("angle_a_v", "Angle at A, vertical", "slope", angles),
        ("angle_a_h", "Angle at A, horizontal", "slope", angles),
        ("angle_b_v", "Angle at B, vertical", "slope", angles),
        ("angle_b_h", "Angle at B, horizontal", "slope", angles),
    ):
        rows.append(FormField(name, label, kind, False, group))
        rows.append(FormField(f"{name}_u", f"{label}: standard uncertainty", kind, False, group))
    return rows


def _set_rows(number: int, row: MethodSet, either_shaft: bool) -> list[FormField]:
    at, group = f"set{number}.", row.label
    rows = [FormField(f"{at}{hour}", f"{hour} o'clock", "gap", False, group) for hour in CLOCK]
    if either_shaft:
        who = (("stationary", "the stationary shaft"), ("movable", "the movable shaft"))
        rows.append(FormField(f"{at}carried_by", "Dial carried by", "choice", False, group, who))
    if "x_mm" in row.geometry:
        rows.append(FormField(f"{at}x", "Reads at, from the coupling's centre", "size", row.kind == "rim", group))
    if "swing_radius_mm" in row.geometry:
        rows.append(FormField(f"{at}swing_radius", "Swing radius", "size", True, group))
    if "distance_mm" in row.geometry:
        rows.append(FormField(f"{at}distance", "Distance of the dial from the flex plane", "size", True, group))
    face = row.kind == "face" or (row.kind == "flex-angle" and "swing_radius_mm" in row.geometry)
    if face:
        sides = (("near", "the face that looks back at its bracket"), ("far", "the far face"))
        rows.append(FormField(f"{at}surface", "Reads on", "choice", False, group, sides))
    if row.kind not in ("step", "gap"):
        rows += _dial_rows(at, group)
    rows.append(FormField(f"{at}u", "Standard uncertainty of one reading", "gap", False, group))
    return rows + _odd_rows(at, group, face)


def _dial_rows(at: str, group: str) -> list[FormField]:
    sizes = (("full", "full dial readings"), ("half", "half of them"))
    return [
        FormField(f"{at}sag", "Sag, shown at 6 o'clock when zeroed at 12", "gap", False, group),
        FormField(f"{at}sag_u", "Standard uncertainty of the sag", "gap", False, group),
        FormField(
            f"{at}bracket", "Bracket", "text", False, group, hint="Its name, where two dials hang on the same one."
        ),
        FormField(f"{at}return_to_zero", "Dial back at its start", "gap", False, group),
        FormField(f"{at}half", "Written down were", "choice", False, group, sizes),
    ]


def _odd_rows(at: str, group: str, face: bool) -> list[FormField]:
    """Readings beside the clock, the second dial's, and those taken again with the shafts turned."""
    hint = "Degrees clockwise from 12, each with its reading: 45: 0.12; 135: -0.03."
    layers = [(FIRST, "", hint)]
    if face:
        layers.append((OPPOSED, "Second dial, half a turn away: ", "By the first dial's angle."))
    layers.append((TURNED, "Again, shafts turned half a turn: ", ""))
    rows = []
    for layer, words, said in layers:
        if layer:
            rows += [
                FormField(f"{at}{name_of(layer, str(hour))}", f"{words}{hour} o'clock", "gap", False, group)
                for hour in CLOCK
            ]
        label = f"{words}other angles" if words else "Other angles"
        rows.append(FormField(f"{at}{name_of(layer, MORE)}", label, "text", False, group, hint=said))
    if face:
        label = "Again, shafts turned, second dial: other angles"
        rows.append(FormField(f"{at}{name_of(BOTH, MORE)}", label, "text", False, group, hint="12 o'clock is 0."))
    return rows
