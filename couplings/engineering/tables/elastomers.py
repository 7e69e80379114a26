"""Storage periods and temperatures of elastomers. Published sources differ: every row keeps its own, none is averaged.

Starters: a site chooses one storage policy, may change its rows, and hands them to the functions of `ageing`.
"""

from __future__ import annotations

from dataclasses import dataclass

ISO_2230 = "ISO 2230:2002, as restated in public seal-industry text"
MIL_695 = "MIL-HDBK-695E (2011), as restated in public text"
HANDBOOK = "Handbook of Plastics Technologies, Table 4.2 p. 4.11"
GUIDE = "another public guide"
PU_TEXT = "public text on polyurethane in motion"


@dataclass(frozen=True)
class StorageRow:
    """How long a part may lie in store, from its cure date. [year]

    `initial_years` None is without limit; `extension_years` may follow after an inspection.
    """

    polymer: str
    initial_years: float | None
    extension_years: float = 0.0
    group: str = ""
    source: str = ISO_2230
    mark: str = "published"


@dataclass(frozen=True)
class TemperatureRow:
    """Service temperatures of a polymer; None where the source has none. [degC]"""

    polymer: str
    min_c: float | None
    max_c: float | None
    source: str
    mark: str = "published"


def _group(group: str, polymers: str, initial: float, extension: float) -> tuple[StorageRow, ...]:
    return tuple(StorageRow(polymer, initial, extension, group) for polymer in polymers.split())


def _handbook(polymers: str, years: float | None) -> tuple[StorageRow, ...]:
    return tuple(StorageRow(polymer, years, 0.0, "", MIL_695) for polymer in polymers.split())


STORAGE_POLICIES: dict[str, tuple[StorageRow, ...]] = {
    "iso-2230": (
        *_group("A", "NR IR BR SBR AU EU", 5, 2),
        *_group("B", "NBR HNBR CR ACM IIR ECO", 7, 3),
        *_group("C", "EPDM FKM VMQ FVMQ CSM", 10, 5),
    ),
    "mil-hdbk-695e": (
        *_handbook("NBR CR HNBR", 15),
        *_handbook("AU EU", 5),
        *_handbook("SBR", 3),
        *_handbook("EPDM FKM IIR", None),
    ),
}
STORAGE_CONDITIONS = "15 to 25 °C, under 65 % relative humidity, dark, away from ozone, unstrained"

# Rows of one polymer stand in the order in which they are trusted; the first is the starter.
TEMPERATURES: tuple[TemperatureRow, ...] = (
    TemperatureRow("NR", None, 100, HANDBOOK),
    TemperatureRow("NR", -50, 80, GUIDE),
    TemperatureRow("SBR", None, 110, HANDBOOK),
    TemperatureRow("CR", None, 125, HANDBOOK),
    TemperatureRow("NBR", None, 125, HANDBOOK),
    TemperatureRow("NBR", -30, 120, GUIDE),
    TemperatureRow("HNBR", None, 160, HANDBOOK),
    TemperatureRow("EPDM", None, 140, HANDBOOK),
    TemperatureRow("PU", -40, 70, PU_TEXT),
    TemperatureRow("HTPE", None, 120, "from memory", "memory"),
)
