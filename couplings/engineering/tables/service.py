"""Starter rows for the torque of a shaft: service factors and rim speeds, each with its source mark."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class ServiceRow:
    """A service factor [1] by what the driven machine does, for a smooth driver (electric motor or turbine)."""

    load: str
    title: str
    factor: float
    mark: str
    source: str


@dataclass(frozen=True)
class RimRow:
    """A rim speed beyond which caution is due, for a rim of this kind. [m/s]"""

    rim: str
    speed_m_s: float
    printed: str
    mark: str
    source: str


# AGMA 922-A96 classifies loads; its table is not public, so no number of it is given here.
STARTER_SERVICE = (
    ServiceRow("uniform", "uniform load", 1.0, "common practice", "typical for a smooth driver"),
    ServiceRow("moderate", "moderate shocks", 1.5, "common practice", "typical for a smooth driver"),
    ServiceRow("heavy", "heavy shocks", 2.0, "common practice", "typical for a smooth driver"),
)

FOOT_M = 0.3048
STARTER_RIMS = (
    RimRow("steel", 6500 * FOOT_M / 60, "6500 ft/min", "published", "MPTA B13i-2013: caution above"),
    RimRow("cast iron", 100 * FOOT_M, "about 100 ft/s", "published", "Shop Practice, vol. 1"),
)
