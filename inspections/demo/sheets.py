"""Data sheets of the invented plant: limits invented too, each stated in one of the ways that makers state them."""

from __future__ import annotations

from typing import Any

INVENTED = "Invented for the demo: no maker's figures."


def limit(quantity: str, stated_as: str, value: float, over_diameter_mm: float | None = None) -> dict[str, Any]:
    row = {"quantity": quantity, "stated_as": stated_as, "stated_value": value}
    return row if over_diameter_mm is None else row | {"over_diameter_mm": over_diameter_mm}


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
    },
    "Tyre T-250": {
        "family": "tyre",
        "limits": [limit("offset", "length", 1.6), limit("angularity", "degrees", 1.0)],
        "joints": [joint("clamping ring screws", "M10", 8, 40.0, order="round")],
        "dbse_mm": 60.0, "dbse_tolerance_mm": 1.0, "hub_length_mm": 110.0, "hub_diameter_mm": 250.0, "max_rpm": 2000.0,
        "torque_rating_nm": 3600.0, "set_screw_count": 1, "set_screw_size": "M12", "set_screw_torque_nm": 40.0,
        "element_part": "tyre T-250-N", "element_shelf_years": 5.0, "element_polymer": "NR",
    },
    "Jaw J-95": {
        "family": "elastomer-compression",
        "limits": [limit("offset", "length", 0.3), limit("angularity", "gap-difference", 0.6, 160.0)],
        "joints": [joint("hub clamp screws", "M8", 4, 25.0)],
        "dbse_mm": 32.0, "dbse_tolerance_mm": 1.0, "hub_length_mm": 80.0, "hub_diameter_mm": 160.0, "max_rpm": 4000.0,
        "torque_rating_nm": 900.0, "set_screw_count": 1, "set_screw_size": "M8", "set_screw_torque_nm": 10.0,
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
    },
    "Shear sleeve SL-8": {
        "family": "elastomer-shear",
        "limits": [limit("offset", "length", 0.38), limit("angularity", "gap-difference", 1.1, 200.0)],
        "joints": [joint("flange screws", "M10", 6, 45.0)],
        "dbse_mm": 48.0, "dbse_tolerance_mm": 1.5, "hub_length_mm": 64.0, "hub_diameter_mm": 200.0, "max_rpm": 3600.0,
        "torque_rating_nm": 700.0, "set_screw_count": 2, "set_screw_size": "M10", "set_screw_torque_nm": 20.0,
        "element_part": "sleeve SL-8-E", "element_shelf_years": 8.0,
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
}  # fmt: skip
