"""Data sheets of the invented plant: limits invented too, each stated in one of the ways that makers state them."""

from __future__ import annotations

from typing import Any

INVENTED = "Invented for the demo: no maker's figures."


def limit(quantity: str, stated_as: str, value: float, over_diameter_mm: float | None = None) -> dict[str, Any]:
    row = {"quantity": quantity, "stated_as": stated_as, "stated_value": value}
    return row if over_diameter_mm is None else row | {"over_diameter_mm": over_diameter_mm}


def screw(over_mm: float, up_to_mm: float, size: str, torque_nm: float, kind: str = "set") -> dict[str, Any]:
    return {
        "kind": kind, "over_bore_mm": over_mm, "up_to_bore_mm": up_to_mm, "size": size, "torque_nm": torque_nm,
        "source": INVENTED,
    }  # fmt: skip


def part(number: str, description: str, material: str = "", standard: bool = False) -> dict[str, Any]:
    return {"part_number": number, "description": description, "material": material, "standard": standard}


def joint(name: str, thread: str, positions: int, torque_nm: float, **more: Any) -> dict[str, Any]:
    return {"name": name, "thread": thread, "positions": positions, "torque_nm": torque_nm, **more}


GREYFEN: dict[str, dict[str, Any]] = {
    "Disc spacer DS-180": {
        "family": "disc",
        "limits": [limit("flex-angle", "degrees", 0.25), limit("axial", "length", 1.0)],
        "joints": [
            joint("disc pack bolts", "M12", 12, 78.0),
            joint("guard ring screws", "M8", 6, 24.0, recheck="not-allowed", recheck_reason="thread-locking compound"),
        ],
        "dbse_mm": 180.0, "dbse_tolerance_mm": 0.5, "flex_distance_mm": 160.0, "hub_length_mm": 90.0,
        "hub_diameter_mm": 168.0, "max_rpm": 5400.0, "torque_rating_nm": 2400.0, "element_part": "disc pack DS-180-P",
        "bore_mm": 65.0, "fit_hole": "H7", "fit_shaft": "k6", "key_standard": "din-6885", "mounting_kind": "clearance",
        "hubs": [{"side": "both", "bore_length_mm": 90.0, "flange_mm": 12.0, "orientation": "in"}],
        "spacers": [{"name": "standard spacer", "length_mm": 160.0}, {"name": "long spacer", "length_mm": 210.0}],
        "element_parts": [
            part("disc pack DS-180-P", "pack with sleeves", "stainless steel", standard=True),
            part("disc pack DS-180-Q", "pack for 5400 rpm, balanced", "stainless steel"),
        ],
    },
    "Tyre T-250": {
        "family": "tyre",
        "limits": [limit("offset", "length", 1.6), limit("angularity", "degrees", 1.0)],
        "joints": [joint("clamping ring screws", "M10", 8, 40.0, order="round")],
        "dbse_mm": 60.0, "dbse_tolerance_mm": 1.0, "hub_length_mm": 110.0, "hub_diameter_mm": 250.0, "max_rpm": 2000.0,
        "torque_rating_nm": 3600.0, "set_screw_count": 1, "set_screw_size": "M12", "set_screw_torque_nm": 40.0,
        "mounting_kind": "tapered-bush",
        "screws": [screw(0, 60, "M10", 31.0, "clamp"), screw(60, 110, "M12", 48.0, "clamp")],
        "element_part": "tyre T-250-N", "element_shelf_years": 5.0, "element_polymer": "NR",
    },
    "Jaw J-95": {
        "family": "elastomer-compression",
        "limits": [limit("offset", "length", 0.3), limit("angularity", "gap-difference", 0.6, 160.0)],
        "joints": [joint("hub clamp screws", "M8", 4, 25.0)],
        "dbse_mm": 32.0, "dbse_tolerance_mm": 1.0, "hub_length_mm": 80.0, "hub_diameter_mm": 160.0, "max_rpm": 4000.0,
        "torque_rating_nm": 900.0, "set_screw_count": 1, "set_screw_size": "M8", "set_screw_torque_nm": 10.0,
        "bore_mm": 48.0, "key_standard": "din-6885", "mounting_kind": "clearance",
        "screws": [screw(0, 50, "M8", 10.0), screw(50, 70, "M10", 17.0)],
        "element_parts": [
            part("insert J-95-A", "92 Shore A, yellow", "polyurethane", standard=True),
            part("insert J-95-B", "64 Shore D, green", "polyurethane"),
        ],
        "element_part": "insert J-95-A", "element_shelf_years": 5.0, "element_polymer": "AU",
    },
    "Pin and bush PB-6": {
        "family": "pin-and-bush",
        "limits": [limit("offset", "length", 0.25), limit("angularity", "slope", 1.2)],
        "joints": [joint("pins", "M16", 8, 150.0)],
        "dbse_mm": 5.0, "dbse_tolerance_mm": 1.0, "hub_length_mm": 120.0, "hub_diameter_mm": 280.0, "max_rpm": 2200.0,
        "torque_rating_nm": 5200.0, "set_screw_count": 2, "set_screw_size": "M12", "set_screw_torque_nm": 40.0,
        "element_part": "bush set PB-6-B", "element_shelf_years": 6.0, "element_polymer": "NBR",
        "hardness_scale": "A", "hardness_change": 10.0,
    },
    "Gear G-2": {
        "family": "gear",
        "limits": [limit("offset", "length", 0.4), limit("angularity", "degrees", 0.5)],
        "joints": [joint("sleeve bolts", "M16", 10, 165.0)],
        "rule": "per-plane",
        "dbse_mm": 8.0, "dbse_tolerance_mm": 0.5, "hub_length_mm": 105.0, "hub_diameter_mm": 210.0, "max_rpm": 3500.0,
        "torque_rating_nm": 9000.0, "lubricant": "coupling grease, grade 1", "lubricant_g": 340.0,
        "lubricant_months": 12,
        "wear_limits": [{"code": "tooth-wear", "limit": 0.8}],  # code: as in fixtures/starters/wear_codes.json
    },
    "Grid GR-4": {
        "family": "grid",
        "limits": [limit("offset", "length", 0.3), limit("angularity", "slope", 2.5)],
        "joints": [joint("cover screws", "M10", 8, 36.0)],
        "dbse_mm": 5.0, "dbse_tolerance_mm": 1.0, "hub_length_mm": 98.0, "hub_diameter_mm": 196.0, "max_rpm": 3000.0,
        "torque_rating_nm": 4100.0, "element_part": "grid GR-4-S", "lubricant": "coupling grease, grade 1",
        "lubricant_g": 280.0, "lubricant_months": 12,
    },
    "Rigid R-3": {
        "family": "rigid",
        "limits": [],
        "joints": [joint("flange bolts", "M16", 6, 160.0, order="opposite")],
        "dbse_mm": 0.0, "hub_length_mm": 85.0, "hub_diameter_mm": 190.0, "max_rpm": 1800.0,
        "torque_rating_nm": 1900.0, "bore_mm": 55.0, "mounting_kind": "clearance",
    },
    "Shear sleeve SL-8": {
        "family": "elastomer-shear",
        "limits": [limit("offset", "length", 0.38), limit("angularity", "gap-difference", 1.1, 200.0)],
        "joints": [joint("flange screws", "M10", 6, 45.0)],
        "dbse_mm": 48.0, "dbse_tolerance_mm": 1.5, "hub_length_mm": 64.0, "hub_diameter_mm": 200.0, "max_rpm": 3600.0,
        "torque_rating_nm": 700.0, "set_screw_count": 2, "set_screw_size": "M10", "set_screw_torque_nm": 20.0,
        "element_part": "sleeve SL-8-E", "element_shelf_years": 8.0,
        "hold_points": [{"step": "placement", "what": "Gap between the hubs, sleeve in hand", "role": "engineer"}],
    },
}  # fmt: skip

# As a sheet in inches would read: 0.010 in, 3 in between shaft ends, 60 lbf·ft.
SALTHOLM: dict[str, dict[str, Any]] = {
    "Gear G-3": {
        "family": "gear",
        "limits": [limit("offset", "length", 0.254), limit("angularity", "degrees", 0.5)],
        "joints": [joint("flange bolts", "5/8-11", 8, 176.0)],
        "rule": "per-plane",
        "dbse_mm": 6.35, "dbse_tolerance_mm": 0.508, "hub_length_mm": 101.6, "hub_diameter_mm": 203.2,
        "max_rpm": 4000.0, "torque_rating_nm": 7800.0,
    },
    "Shear spacer SS-5": {
        "family": "elastomer-shear-spacer",
        "limits": [limit("flex-angle", "slope", 2.0), limit("axial", "length", 1.5)],
        "joints": [joint("spacer screws", "1/2-13", 8, 81.0)],
        "dbse_mm": 127.0, "dbse_tolerance_mm": 0.762, "flex_distance_mm": 101.6, "hub_length_mm": 76.2,
        "hub_diameter_mm": 152.4, "max_rpm": 4500.0, "torque_rating_nm": 650.0, "set_screw_count": 2,
        "set_screw_size": "3/8-16", "set_screw_torque_nm": 28.0, "element_part": "sleeve SS-5-E",
        "element_shelf_years": 8.0,
    },
    "Grid GR-7": {
        "family": "grid",
        "limits": [limit("offset", "length", 0.3048), limit("angularity", "gap-difference", 0.4064, 203.2)],
        "joints": [joint("cover bolts", "7/16-14", 10, 47.0)],
        "dbse_mm": 6.35, "dbse_tolerance_mm": 0.762, "hub_length_mm": 114.3, "hub_diameter_mm": 215.9,
        "max_rpm": 2500.0, "torque_rating_nm": 6200.0, "element_part": "grid GR-7-S",
        "lubricant": "coupling grease, grade 1", "lubricant_g": 400.0, "lubricant_months": 12,
        "hold_points": [
            {"step": "placement", "what": "Gap between the hubs, before the grid goes in", "role": "engineer"}
        ],
    },
    "Jaw JX-4": {
        "family": "elastomer-compression",
        "limits": [limit("offset", "length", 0.381), limit("angularity", "degrees", 0.5)],
        "joints": [joint("clamp screws", "3/8-16", 4, 41.0)],
        "dbse_mm": 25.4, "dbse_tolerance_mm": 1.016, "hub_length_mm": 69.85, "hub_diameter_mm": 146.05,
        "max_rpm": 3600.0, "torque_rating_nm": 800.0, "element_part": "insert JX-4-N", "element_shelf_years": 5.0,
        "element_polymer": "NBR",
    },
}  # fmt: skip
