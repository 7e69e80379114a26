"""Starter tables of nut factors and of scatter by tightening method: each set named, none averaged with another.

Published sets differ by more than 25 %: Shigley gives 0.30 for bare bolts where NASA TM-106943 gives about 0.20 for
dry ones. So a set is chosen by name and stays with the record. A site that follows another gives its value with its
source, or writes rows of its own.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class NutFactorRow:
    """K of T = K D F for one condition of the surfaces [1]; `low` and `high` where the source prints a range."""

    source: str
    condition: str
    nut_factor: float
    low: float | None = None
    high: float | None = None
    mark: str = "published"


@dataclass(frozen=True)
class ScatterRow:
    """Half width of the preload about its nominal value, as a share of it [1], for one way to tighten."""

    source: str
    method: str
    scatter: float
    note: str = ""
    mark: str = "published"


SHIGLEY_K = "Shigley, 9th ed., Table 8-15 p. 439"
TM_106943_K = "NASA TM-106943 p. 5"
STARTER_NUT_FACTORS = (
    NutFactorRow(SHIGLEY_K, "bare", 0.30),
    NutFactorRow(SHIGLEY_K, "zinc plated", 0.20),
    NutFactorRow(SHIGLEY_K, "lubricated", 0.18),
    NutFactorRow(SHIGLEY_K, "cadmium plated", 0.16),
    NutFactorRow(TM_106943_K, "lubricated", 0.13, 0.11, 0.15),  # the middle of the printed range
    NutFactorRow(TM_106943_K, "dry", 0.20),
)

NASA_5020 = "NASA-STD-5020B Table 3 p. 25"
NSTS_08307 = "NSTS 08307 Rev. A s. 3.4"
MIL_HDBK_60 = "MIL-HDBK-60 Table I"
_TO_3_4 = "for diameters up to 3/4 in"
STARTER_SCATTER = (
    ScatterRow(NASA_5020, "torque, lubricated", 0.25),
    ScatterRow(NASA_5020, "torque, dry or as received", 0.35),
    ScatterRow(NASA_5020, "turn of nut", 0.25),
    ScatterRow(NASA_5020, "stretch", 0.10),
    ScatterRow(NSTS_08307, "torque, dry", 0.35, _TO_3_4),
    ScatterRow(NSTS_08307, "torque, cadmium plated", 0.30, _TO_3_4),
    ScatterRow(NSTS_08307, "torque, lubricated", 0.25, _TO_3_4),
    ScatterRow(NSTS_08307, "hydraulic tensioner", 0.15, _TO_3_4),
    ScatterRow(NSTS_08307, "indicating washer", 0.10, _TO_3_4),
    ScatterRow(NSTS_08307, "ultrasonic", 0.10, _TO_3_4),
    ScatterRow(NSTS_08307, "elongation", 0.05, _TO_3_4),
    ScatterRow(NSTS_08307, "instrumented bolt", 0.05, _TO_3_4),
    ScatterRow(MIL_HDBK_60, "feel", 0.35),
    ScatterRow(MIL_HDBK_60, "torque wrench", 0.25),
    ScatterRow(MIL_HDBK_60, "turn of nut", 0.15),
    ScatterRow(MIL_HDBK_60, "indicating washer", 0.10),
    ScatterRow(MIL_HDBK_60, "yield sensing", 0.08),
    ScatterRow(MIL_HDBK_60, "elongation", 0.05, "printed as 3 to 5 %"),
    ScatterRow(MIL_HDBK_60, "strain gauge", 0.01),
)

# By the short name of each set: what a request and a site's own rows name it by.
NUT_FACTOR_SETS = {"shigley": SHIGLEY_K, "nasa-tm-106943": TM_106943_K}
SCATTER_SETS = {"nasa-std-5020b": NASA_5020, "nsts-08307": NSTS_08307, "mil-hdbk-60": MIL_HDBK_60}
NUT_FACTORS = {
    name: tuple(row for row in STARTER_NUT_FACTORS if row.source == source) for name, source in NUT_FACTOR_SETS.items()
}
SCATTER = {name: tuple(row for row in STARTER_SCATTER if row.source == source) for name, source in SCATTER_SETS.items()}

# Loss of preload after tightening, as a share of the smallest initial preload.
STARTER_LOSS, STARTER_LOSS_SOURCE = (
    0.05,
    "NASA-STD-5020B s. 4.3.1, metal joints (also NASA TM-106943, NSTS 08307 s. 3.6)",
)
SETTLED_LOSS, SETTLED_LOSS_SOURCE = 0.10, "MIL-HDBK-60 s. 5.5.2, or retighten minutes to days later"

# Seats of a joint under axial load, roughness Rz below 10 um: amounts by which they flatten (VDI 2230, from memory).
SEATS_UM = {"thread": 3.0, "head or nut": 2.5, "inner interface": 1.5}
