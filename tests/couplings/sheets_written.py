"""A data sheet that says everything it can, invented, and the acts on it in short."""

from couplings.models import WearCode
from couplings.services.sheets import publish_version, write_sheet
from plant.recording import recording
from tests.factories import NOW, FamilyFactory

LISTS = {
    "limits": [
        {"quantity": "offset", "stated_as": "length", "stated_value": 0.2},
        {"quantity": "angularity", "stated_as": "gap-difference", "stated_value": 0.1, "over_diameter_mm": 100.0},
        {"quantity": "axial", "stated_as": "length", "stated_value": 1.0},
    ],
    "joints": [
        {
            "name": "hub bolts",
            "thread": "M10",
            "positions": 8,
            "torque_nm": 45.0,
            "strength_standard": "ISO 898-1",
            "strength_class": "8.8",
            "nut_factor": 0.2,
            "nut_factor_source": "own tests",
            "order": "opposite",
            "segments": 1,
            "pass_shares": [0.5, 1.0],
            "feature": "prevailing-torque",
            "prevailing_nm": 2.0,
            "recheck": "allowed",
            "recheck_reason": "",
        },
        {"name": "guard screws", "positions": 4, "torque_nm": 9.0},
    ],
    "hubs": [
        {
            "side": "driver",
            "bore_length_mm": 60.0,
            "flange_mm": 8.0,
            "overhang_mm": -2.0,
            "protrusion_mm": 6.0,
            "orientation": "either",
            "mounting_kind": "heated",
        },
        {"side": "driven", "bore_length_mm": 70.0, "flange_mm": 8.0, "overhang_mm": 0.0, "orientation": "in"},
    ],
    "spacers": [{"name": "inner holes", "length_mm": 100.0}, {"name": "outer holes", "length_mm": 140.0}],
    "screws": [
        {"kind": "set", "over_bore_mm": 0.0, "up_to_bore_mm": 38.0, "size": "M8", "torque_nm": 10.0, "source": "p. 4"},
        {
            "kind": "set",
            "over_bore_mm": 38.0,
            "up_to_bore_mm": 75.0,
            "size": "M10",
            "torque_nm": 20.0,
            "source": "p. 4",
        },
        {
            "kind": "clamp",
            "over_bore_mm": 0.0,
            "up_to_bore_mm": 75.0,
            "size": "M12",
            "torque_nm": 80.0,
            "source": "p. 5",
        },
    ],
    "element_parts": [
        {"part_number": "E-80", "description": "insert", "material": "polyurethane", "standard": True},
        {"part_number": "E-80-H", "description": "hard insert", "material": "polyurethane", "standard": False},
    ],
    "hold_points": [{"step": "placement", "what": "Engagement of both hubs", "role": "engineer"}],
}
FIELDS = {
    "rule": "per-plane",
    "combined": True,
    "dbse_mm": 90.0,
    "dbse_tolerance_mm": 0.5,
    "flex_distance_mm": 120.0,
    "hub_length_mm": 60.0,
    "hub_diameter_mm": 160.0,
    "max_rpm": 3600.0,
    "torque_rating_nm": 900.0,
    "set_screw_count": 2,
    "set_screw_size": "M8",
    "set_screw_torque_nm": 10.0,
    "set_screw_angle_deg": 65.0,
    "set_screw_holding_n": 4000.0,
    "set_screw_holding_source": "own tests",
    "bore_mm": 50.0,
    "fit_hole": "H7",
    "fit_shaft": "m6",
    "key_standard": "din-6885",
    "mounting_kind": "clearance",
    "element_shelf_years": 5.0,
    "element_polymer": "NBR",
    "hardness_scale": "A",
    "hardness_change": 10.0,
    "lubricant": "none needed",
    "lubricant_g": 100.0,
    "lubricant_months": 12,
    "note": "invented",
}


def family():
    """A family with two things to look for that have a number."""
    found = FamilyFactory()
    for code, kind in (("play", "angle"), ("set", "gap")):
        row, _new = WearCode.objects.get_or_create(
            code=code,
            defaults={"title": code.title(), "grade_0": "none", "number": code, "kind": kind, "source": "invented"},
        )
        row.families.add(found)
    return found


def wear_limits():
    return [{"code": WearCode.objects.get(code="play"), "limit": 2.0}]


def write_full(by, site, designation="Full 80", **more):
    """The unpublished first version of a sheet with every field and every list."""
    of = family()
    given = FIELDS | LISTS | {"wear_limits": wear_limits()} | more
    with recording(by=by, at=NOW):
        return write_sheet(site=site, family=of, designation=designation, **given).versions.get()


def publish(by, version, **change):
    with recording(by=by, at=NOW):
        return publish_version(version=version, **change)
