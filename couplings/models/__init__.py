"""What a coupling is made of and what it may be held to."""

from couplings.models.fits import Coupling, Element, Fit, Instrument, TargetPart
from couplings.models.grades import Grade, GradeRow
from couplings.models.growth import GrowthCoefficient
from couplings.models.sheets import DataSheet, Family, SheetJoint, SheetLimit, SheetVersion
from couplings.models.tables import (
    FailureCode,
    FitClass,
    Mark,
    NutFactor,
    SecondScrewFactor,
    TableRow,
    TighteningScatter,
)
from couplings.models.wear import SheetWearLimit, StorageRule, WearCode

__all__ = [
    "Coupling", "DataSheet", "Element", "FailureCode", "Family", "Fit", "FitClass", "Grade", "GradeRow",
    "GrowthCoefficient", "Instrument", "Mark", "NutFactor", "SecondScrewFactor", "SheetJoint", "SheetLimit",
    "SheetVersion", "SheetWearLimit", "StorageRule", "TableRow", "TargetPart", "TighteningScatter", "WearCode",
]  # fmt: skip
