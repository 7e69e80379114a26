"""The reading sets of an `alignment` request: what each kind needs, and what no dial can have shown."""

from __future__ import annotations

from couplings.calculations.request import Request
from couplings.engineering.alignment import KINDS, METHODS, ReadingSet

CARRIERS = ("stationary", "movable")
SETS_AT_MOST = 16
READINGS_AT_MOST = 400

# Starters, used where no standard uncertainty is given and named in the answer. Common practice: a dial repeats to
# about one division of 0.01 mm; feeler leaves come in steps of 0.05 mm, 0.05/sqrt(12) = 0.014 mm, taken as 0.02 mm.
STARTER_U_MM = {"rim": 0.01, "face": 0.01, "flex-angle": 0.01, "step": 0.02, "gap": 0.02}

TRAVEL = (25.0, "This is more than a dial's travel (25 mm): is the unit right?")
FAR = (100_000.0, "This is more than 100 m from the coupling: is the unit right?")
WIDE = (2_000.0, "This is more than 2 m: is the unit right?")


def read_sets(request: Request, method: str | None, starters: set[str]) -> tuple[ReadingSet, ...]:
    """Every set of readings; an unknown method is refused elsewhere and leaves all kinds allowed here."""
    allowed = tuple(kind for kind in KINDS if kind in METHODS[method].kinds) if method else KINDS
    rows = list(request.rows("reading_sets", SETS_AT_MOST, "Readings are missing: enter at least one set."))
    by_distance = method is not None and any("distance_mm" in row.geometry for row in METHODS[method].sets)
    sets = [_set(row, allowed, "distance" if by_distance else "swing_radius", starters) for row in rows]
    read = tuple(one for one in sets if one is not None)
    if method and rows and len(read) == len(rows):
        _check_method(request, method, read)
    return read


def _check_method(request: Request, method: str, sets: tuple[ReadingSet, ...]) -> None:
    """Every kind of set the method names is there; where it names both carriers of a dial, both."""
    for kind in dict.fromkeys(row.kind for row in METHODS[method].sets):
        here = [one for one in sets if one.kind == kind]
        carriers = {row.carried_by for row in METHODS[method].sets if row.kind == kind}
        lacking = [who for who in CARRIERS if who in carriers and not any(one.carried_by == who for one in here)]
        if not here:
            request.refuse("reading_sets", f"The method {method} also needs a set of kind {kind}.")
        elif len(carriers) == 2 and lacking:
            request.refuse("reading_sets", f"The method {method} also needs a set carried by the {lacking[0]} shaft.")


def _set(row: Request, allowed: tuple[str, ...], arm: str, starters: set[str]) -> ReadingSet | None:
    before = len(row.errors)
    kind = row.choice("kind", allowed, missing=f"Choose one of: {', '.join(allowed)}.")
    rim, face = kind == "rim", kind in ("face", "gap")
    carried_by = row.choice("carried_by", CARRIERS, missing="Say which shaft carries the dial." if rim else "")
    x = row.quantity("x", "size", "Say where along the shaft the dial reads." if rim else "", within=FAR)
    radius = row.quantity(
        "swing_radius", "size", "Say at which radius it is read." if face else "", above=0, within=WIDE
    )
    distance = row.quantity("distance", "size", above=0, within=FAR)
    plane = row.choice("plane", ("A", "B"), missing="Say which flex plane: A or B." if kind == "flex-angle" else "")
    _flex_geometry(row, kind, arm)
    surface = row.choice("surface", ("near", "far"), "near") or "near"
    half = row.choice("readings_are", ("full", "half"), "full") == "half"
    if half and kind in ("step", "gap"):
        row.refuse("readings_are", "A step or a gap is never a half reading: enter it as it was measured.")
    sag = row.quantity("sag", "gap", within=TRAVEL)
    sag_u = row.quantity("sag_standard_uncertainty", "gap", at_least=0, within=TRAVEL)
    for key in ("sag", "sag_standard_uncertainty"):
        if kind in ("step", "gap") and row.has(key):
            row.refuse(key, "A step or a gap has no bracket that could sag: leave it out.")
    returned = row.quantity("return_to_zero", "gap", within=TRAVEL)
    bracket, name, turned = row.text("bracket"), row.text("name"), row.flag("turned")
    u = row.quantity("standard_uncertainty", "gap", above=0, within=TRAVEL)
    if kind and not row.has("standard_uncertainty"):
        u = STARTER_U_MM[kind]
        starters.add(row.at("standard_uncertainty"))
    angles, values, opposed = _readings(row, kind)
    row.finish()
    if len(row.errors) > before or kind is None:
        return None
    return ReadingSet(
        kind=kind,
        angles_deg=angles,
        readings_mm=values,
        carried_by=carried_by,
        x_mm=x or 0.0,
        swing_radius_mm=radius,
        distance_mm=distance,
        plane=plane,
        surface=surface,
        sag_mm=sag or 0.0,
        sag_u_mm=sag_u or 0.0,
        bracket=bracket,
        u_mm=u or 0.0,
        half=half,
        turned=turned,
        opposed_mm=opposed,
        return_to_zero_mm=returned,
        name=name or "",
    )


def _flex_geometry(row: Request, kind: str | None, arm: str) -> None:
    if kind != "flex-angle":
        return
    if not row.has("swing_radius") and not row.has("distance"):
        row.refuse(arm, "Give the swing radius of a face dial, or the distance of a rim dial on the spool.")
    elif row.has("swing_radius") and row.has("distance"):
        row.refuse("distance", "Give swing_radius or distance, not both.")


def _readings(row: Request, kind: str | None) -> tuple[tuple[float, ...], tuple[float, ...], tuple[float, ...] | None]:
    """Positions [deg], values and those of a second, opposed dial [mm]; a value that is missing is never a zero."""
    travel = None if kind == "gap" else TRAVEL  # a gap is measured with an inside micrometer, too
    angles: list[float] = []
    values: list[float] = []
    opposed: list[float] = []
    readings = list(row.rows("readings", READINGS_AT_MOST, "Readings are missing in this set."))
    both = any([reading.has("opposed") for reading in readings])  # asked of every reading
    allowed = kind in ("face", "flex-angle", None)
    if both and not allowed:
        row.refuse("readings", "Only face readings take a second, opposed dial.")
    for reading in readings:
        angle = read_angle(reading, "Say where it was read: clock (12, 3, 6, 9) or angle in degrees.")
        value = reading.quantity("value", "gap", "A value is missing.", within=travel)
        needed = "The second dial's value is missing." if both and allowed else ""
        second = reading.quantity("opposed", "gap", needed, within=TRAVEL)
        reading.finish()
        if angle is not None and any(abs(angle - other) < 1e-6 for other in angles):
            reading.refuse("clock" if reading.has("clock") else "angle", "This position is there twice.")
        angles += [] if angle is None else [angle]
        values += [] if value is None else [value]
        opposed += [] if second is None else [second]
    return tuple(angles), tuple(values), tuple(opposed) if both else None


def read_angle(row: Request, missing: str = "") -> float | None:
    """Where a dial or feeler stands, clockwise from 12 as the observer sees it, in [0, 360). [deg]"""
    if row.has("clock") and row.has("angle"):
        row.refuse("angle", "Give clock or angle, not both.")
        return None
    if row.has("clock"):
        clock = row.number("clock")
        if clock is not None and not 0 <= clock <= 12:
            row.refuse("clock", "A clock position lies between 0 and 12.")
            return None
        return None if clock is None else clock * 30.0 % 360.0
    if not row.has("angle"):
        if missing:
            row.refuse("clock", missing)
        return None
    angle = row.number("angle")
    if angle is not None and not -360 <= angle <= 360:
        row.refuse("angle", "An angle lies between -360 and 360 degrees.")
        return None
    return None if angle is None else angle % 360.0
