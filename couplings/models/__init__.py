"""What a coupling is made of and what it may be held to."""

from couplings.models.fits import Coupling, Element, Fit, Instrument, TargetPart
from couplings.models.grades import Grade, GradeRow
from couplings.models.growth import GrowthCoefficient
from couplings.models.sheets import DataSheet, Family, SheetJoint, SheetLimit, SheetVersion
from couplings.models.wear import SheetWearLimit, StorageRule, WearCode

__all__ = [
    "Coupling", "DataSheet", "Element", "Family", "Fit", "Grade", "GradeRow", "GrowthCoefficient", "Instrument",
    "SheetJoint", "SheetLimit", "SheetVersion", "SheetWearLimit", "StorageRule", "TargetPart", "WearCode",
]  # fmt: skip
