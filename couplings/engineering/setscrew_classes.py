"""Property classes of set screws: hardnesses for compression, and the torque that bounds how hard one is seated."""

from __future__ import annotations

import re
from collections.abc import Sequence

from couplings.engineering.tables.setscrews import CLASSES, STARTER_PROOF, ProofRow


class SetScrewError(ValueError):
    """A figure that cannot be used; `field` names it."""

    def __init__(self, field: str, message: str) -> None:
        self.field, self.message = field, message
        super().__init__(f"{field}: {message}")


def proof_of(size: str, property_class: str = "45H", table: Sequence[ProofRow] = STARTER_PROOF) -> ProofRow | None:
    """The torque that a hexagon-socket set screw of this size must bear, the ceiling for seating it; None: not listed.

    Parameters
    ----------
    size : str
        "M8".
    property_class : str
        "45H".
    table : sequence of ProofRow
        Published rows.

    Returns
    -------
    ProofRow or None
        Proof torque. [N*m]

    Raises
    ------
    SetScrewError
        A property class that is not one of set screws.

    References
    ----------
    ISO 898-5, table 5.
    """
    check_class(property_class)
    return next((row for row in table if (row.size, row.property_class) == (size, property_class)), None)


def check_class(name: str) -> None:
    """Refuse what is not a property class of set screws.

    Parameters
    ----------
    name : str
        "45H".

    Raises
    ------
    SetScrewError
        A class of bolts, or of nothing.

    References
    ----------
    ISO 898-5: classes 14H, 22H, 33H and 45H are hardnesses.
    """
    if name not in {row.name for row in CLASSES}:
        known = ", ".join(row.name for row in CLASSES)
        raise SetScrewError("property_class", f"{name} is not a class of set screws. Those are {known}.")


def refuse_tension(property_class: str) -> None:
    """Refuse a class of set screws where something is pulled: it is a hardness and promises no tensile strength.

    Parameters
    ----------
    property_class : str
        Any class as it was written; one of bolts (8.8, grade 5) goes through.

    Raises
    ------
    SetScrewError
        A class of set screws.

    References
    ----------
    ISO 898-5: for compression only.
    """
    if re.fullmatch(r"\s*\d\d\s*[Hh]\s*", property_class):
        raise SetScrewError(
            "property_class",
            f"{property_class.strip()} is a class of set screws: a hardness, for compression only, never in tension.",
        )
