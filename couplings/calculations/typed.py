"""Typed fields of a form or a visit step to the `alignment` request, and its errors back to the fields.

A form and a visit step hold flat names with text as it was typed; blank is absent, never zero. A number without a unit
is in the site's own unit for its kind, the one printed beside the field. The names:

    set0. set1. ..      one prefix per set of readings, in the order of METHODS[method].sets
      set0.12 .3 .6 .9  the reading at that clock position; any whole hour 1 to 12 is taken       gap
      set0.more, set0.opposed12 .., set0.turned12 ..   as typed_sets.py has them                  gap
      set0.x            where along the shaft it reads                                            size
      set0.swing_radius  set0.distance                                                            size
      set0.surface      near or far
      set0.carried_by   stationary or movable, where the method leaves it open; blank is as METHODS has it
      set0.sag  set0.sag_u  set0.u  set0.return_to_zero                                           gap
      set0.bracket      a name; sets that share one share its sag error
      set0.half         "half" where half readings were written down, else "full"
    offset_v offset_h   direct: offset at the coupling's centre, with offset_v_u and offset_h_u   gap
    slope_v slope_h     direct: angularity, with slope_v_u and slope_h_u                          slope
    angle_a_v angle_a_h angle_b_v angle_b_h   direct: the angles at the flex planes, each with _u slope
    viewed_from         movable or stationary
    decision            guarded or simple;  confidence: a plain number
    flex_a flex_b       positions of the flex planes                                              size
    feet0.name feet0.x  foot planes, feet0 to feet3; the last ones without x are absent           size
    limit_offset (gap) limit_angularity (slope) limit_flex_angle (slope) limit_axial (gap)
    limit_gap_difference (gap) limit_over_diameter (size)   angularity as makers print it
    limit_rule          vector or per-plane;  limit_combined: "yes" or blank
    target_offset_v target_offset_h (gap) target_slope_v target_slope_h (slope), with target_name: one part of it
    target1_offset_v ..   a second part, which adds to the first
    gap0 .. gap3        gaps between the hubs at 12, 3, 6, 9 o'clock                              gap
    rotor_from_place gap_nominal gap_float gap_u                                                  gap
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from couplings.calculations.alignment_request import AlignmentRequest, read_alignment
from couplings.calculations.typed_sets import base_of, set_field, sets_of
from couplings.engineering.alignment import METHODS, MethodSet
from plant import units
from plant.refusals import Refused

FEET_AT_MOST = 4
GAP_HOURS = (12, 3, 6, 9)

# flat name -> (path in the request, kind of quantity)
_COMPONENTS = {
    "offset_v": ("offset.vertical", "gap"),
    "offset_h": ("offset.horizontal", "gap"),
    "slope_v": ("angularity.vertical", "slope"),
    "slope_h": ("angularity.horizontal", "slope"),
    "angle_a_v": ("flex_angles.0.vertical", "slope"),
    "angle_a_h": ("flex_angles.0.horizontal", "slope"),
    "angle_b_v": ("flex_angles.1.vertical", "slope"),
    "angle_b_h": ("flex_angles.1.horizontal", "slope"),
}
_QUANTITIES = {
    "limit_offset": ("limits.offset", "gap"),
    "limit_angularity": ("limits.angularity", "slope"),
    "limit_gap_difference": ("limits.angularity.gap_difference", "gap"),
    "limit_over_diameter": ("limits.angularity.over_diameter", "size"),
    "limit_flex_angle": ("limits.flex_angle", "slope"),
    "limit_axial": ("limits.axial", "gap"),
    "target_offset_v": ("target.offset.vertical", "gap"),
    "target_offset_h": ("target.offset.horizontal", "gap"),
    "target_slope_v": ("target.angularity.vertical", "slope"),
    "target_slope_h": ("target.angularity.horizontal", "slope"),
    "rotor_from_place": ("axial.rotor_from_place", "gap"),
    "gap_nominal": ("axial.nominal", "gap"),
    "gap_float": ("axial.float", "gap"),
    "gap_u": ("axial.standard_uncertainty", "gap"),
}
# A second part of the target has the fields of the first, under its own prefix.
TARGETS = ("target", "target1")
_PARTS = {
    f"{each}_{name}": (f"target.parts.{number}.{path}", kind)
    for number, each in enumerate(TARGETS)
    for name, path, kind in (
        ("offset_v", "offset.vertical", "gap"),
        ("offset_h", "offset.horizontal", "gap"),
        ("slope_v", "angularity.vertical", "slope"),
        ("slope_h", "angularity.horizontal", "slope"),
    )
}
_BY_GAP = ("limit_gap_difference", "limit_over_diameter")
_WORDS = {"viewed_from": "viewed_from", "decision": "decision", "limit_rule": "limits.rule"}


class _Typed:
    """The typed fields with what was made of them: the request so far and the errors by field name."""

    def __init__(self, typed: Mapping[str, str], system: str) -> None:
        self._typed = typed
        self._system = system
        self.errors: dict[str, str] = {}

    def word(self, name: str) -> str:
        return str(self._typed.get(name) or "").strip()

    def quantity(self, name: str, kind: str) -> dict[str, Any] | None:
        text = self.word(name)
        return self.amount(name, text, kind) if text else None

    def amount(self, name: str, text: str, kind: str) -> dict[str, Any] | None:
        """A quantity among others in one field."""
        try:
            return units.as_given(text, kind, self._system)
        except units.UnitError as error:
            self.errors[name] = str(error)
            return None


def payload_from_typed(method: str, typed: Mapping[str, str], system: str) -> tuple[dict[str, Any], dict[str, str]]:
    """The request that the typed fields make, and what could not be read, by field name.

    The request is complete apart from fields with errors; `read_alignment` says what else is missing, and `field_of`
    finds the field that its path belongs to.
    """
    fields = _Typed(typed, system)
    payload: dict[str, Any] = {"method": method}
    for name, path in _WORDS.items():
        if fields.word(name):
            _put(payload, path, fields.word(name))
    _confidence(payload, fields)
    if method == "direct":
        _direct(payload, fields)
    elif method in METHODS:
        made = [
            sets_of(number, row, carrier_is_open(method, row), fields)
            for number, row in enumerate(METHODS[method].sets)
        ]
        # Those taken again come last, so that the method's own sets keep their numbers.
        payload["reading_sets"] = [one[0] for one in made] + [again for one in made for again in one[1:]]
    twice = bool(fields.word("limit_angularity") and any(fields.word(name) for name in _BY_GAP))
    if twice:
        fields.errors["limit_angularity"] = "Give the angularity or a gap difference over a diameter, not both."
    for name, (path, kind) in _QUANTITIES.items():
        if twice and name in _BY_GAP:
            continue
        given = fields.quantity(name, kind)
        if given is not None:
            _put(payload, path, given)
    _second_target(payload, fields)
    if fields.word("limit_combined").casefold() in ("yes", "on", "true"):
        _put(payload, "limits.combined", True)
    if set(payload.get("limits", {})) <= {"rule", "combined"}:
        payload.pop("limits", None)  # a rule without a limit is only the form's default
    _rows(payload, fields)
    return payload, fields.errors


def read_typed(method: str, typed: Mapping[str, str], system: str) -> AlignmentRequest:
    """Typed fields to numbers; raises Refused with every error, keyed by the flat names."""
    payload, errors = payload_from_typed(method, typed, system)
    try:
        request = read_alignment(payload)
    except Refused as refused:
        errors = {**flat_errors(refused, payload), **errors}
        raise Refused(errors) from None
    if errors:
        raise Refused(errors)
    return request


def flat_errors(refused: Refused, payload: Mapping[str, Any]) -> dict[str, str]:
    """The errors of a refused request by the names of the fields it was typed in."""
    flat: dict[str, str] = {}
    for error in refused.errors:
        flat.setdefault(field_of(error.field, payload), error.message)
    return flat


def field_of(path: str, payload: Mapping[str, Any]) -> str:
    """The flat field a path of the request came from; "" where it belongs to no single field."""
    parts = path.split(".")
    if parts[0] == "reading_sets" and len(parts) > 1:
        number = int(parts[1])
        return f"set{base_of(payload, number)}." + set_field(parts[2:], payload["reading_sets"][number])
    if parts[0] == "feet" and len(parts) > 1:
        return f"feet{parts[1]}.{parts[2] if len(parts) > 2 else 'x'}"
    if parts[:2] == ["axial", "gaps"]:
        row = payload["axial"]["gaps"][int(parts[2])] if len(parts) > 2 else {"clock": 12}
        return f"gap{GAP_HOURS.index(row['clock'])}"
    if parts[0] == "flex_planes":
        return "flex_b" if parts[1:] == ["1"] else "flex_a"
    flat = {place: name for name, (place, _kind) in _QUANTITIES.items()}
    flat |= {place: name for name, place in _WORDS.items()}
    flat |= {place: name for name, (place, _kind) in _PARTS.items()}
    for name, (place, _kind) in _COMPONENTS.items():
        flat |= {place: name, f"{place}.standard_uncertainty": f"{name}_u"}
    while parts:
        known = [
            name for place, name in flat.items() if place == ".".join(parts) or place.startswith(".".join(parts) + ".")
        ]
        if known:
            return known[0]
        parts.pop()
    return path if path in ("method", "confidence") else ""


def carrier_is_open(method: str, row: MethodSet) -> bool:
    """Whether the dial of a set may sit on either shaft; reverse rim is reverse rim because it may not."""
    carriers = {other.carried_by for other in METHODS[method].sets if other.kind == row.kind}
    return row.carried_by is not None and len(carriers) == 1


def _direct(payload: dict[str, Any], fields: _Typed) -> None:
    for name, (path, kind) in _COMPONENTS.items():
        value, u = fields.quantity(name, kind), fields.quantity(f"{name}_u", kind)
        if value is not None:
            _put(payload, path, {**value, "standard_uncertainty": u} if u else value)
        elif u is not None and name not in fields.errors:
            fields.errors[name] = "Its uncertainty is given, and the value is missing."
    if "flex_angles" in payload:
        payload["flex_angles"] = [payload["flex_angles"].get(place, {}) for place in ("0", "1")]


def _second_target(payload: dict[str, Any], fields: _Typed) -> None:
    """Where a second part stands, the target is its parts, each with its name; else it is the first alone."""
    second = {
        name: fields.quantity(name, kind) for name, (_path, kind) in _PARTS.items() if name.startswith("target1_")
    }
    named = any(fields.word(f"{each}_name") for each in TARGETS)
    if not named and not any(second.values()):
        return
    parts: list[dict[str, Any]] = []
    for number, each in enumerate(TARGETS):
        part: dict[str, Any] = dict(payload.get("target", {})) if number == 0 else {}
        for name, value in second.items():
            if number and value is not None:
                _put(part, _PARTS[name][0].split(".", 3)[3], value)
        name = fields.word(f"{each}_name")
        if part or name:
            parts.append({"name": name or ("first part", "second part")[number], **part})
    payload["target"] = {"parts": parts}


def _rows(payload: dict[str, Any], fields: _Typed) -> None:
    """Feet, flex planes and gaps: what is a list in the request."""
    xs = [fields.quantity(f"feet{number}.x", "size") for number in range(FEET_AT_MOST)]
    while xs and xs[-1] is None:
        xs.pop()  # a foot left out between others stays, so that its error stands beside it
    if xs:
        payload["feet"] = [{"name": fields.word(f"feet{number}.name"), "x": x} for number, x in enumerate(xs)]
    planes = [fields.quantity(name, "size") for name in ("flex_a", "flex_b")]
    if any(plane is not None for plane in planes):
        payload["flex_planes"] = planes
    gaps = [(hour, fields.quantity(f"gap{number}", "gap")) for number, hour in enumerate(GAP_HOURS)]
    if any(gap is not None for _hour, gap in gaps):
        _put(payload, "axial.gaps", [{"clock": hour, "value": gap} for hour, gap in gaps if gap is not None])


def _confidence(payload: dict[str, Any], fields: _Typed) -> None:
    text = fields.word("confidence")
    if not text:
        return
    try:
        number, unit = units.split(text)
    except units.UnitError as error:
        fields.errors["confidence"] = str(error)
        return
    if unit not in ("", "%"):
        fields.errors["confidence"] = "A probability is expected, such as 0.95 or 95 %."
    else:
        payload["confidence"] = number / 100 if unit == "%" else number


def _put(payload: dict[str, Any], path: str, value: Any) -> None:
    *parents, last = path.split(".")
    place = payload
    for parent in parents:
        place = place.setdefault(parent, {})
    place[last] = value
