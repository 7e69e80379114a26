"""What a coupling is made of and what it may be held to."""

from couplings.models.fits import Coupling, Element, Fit, Instrument, TargetPart
from couplings.models.grades import Grade, GradeRow
from couplings.models.sheets import DataSheet, Family, SheetJoint, SheetLimit, SheetVersion

__all__ = [
    "Coupling", "DataSheet", "Element", "Family", "Fit", "Grade", "GradeRow", "Instrument", "SheetJoint", "SheetLimit",
    "SheetVersion", "TargetPart",
]  # fmt: skip
