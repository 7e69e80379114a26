"""What a coupling is made of and what it may be held to."""

from couplings.models.fits import Calibration, Coupling, Element, Fit, HubHalf, Instrument, TargetPart
from couplings.models.grades import Grade, GradeRow
from couplings.models.growth import GrowthCoefficient
from couplings.models.hubs import SheetHub, SheetScrew, SheetSpacer
from couplings.models.limit_changes import LimitChange
from couplings.models.sheet_orders import SheetHoldPoint, SheetPart
from couplings.models.sheets import DataSheet, Family, SheetJoint, SheetLimit, SheetVersion
from couplings.models.stock import RemovalReason, StockLot, StockMovement
from couplings.models.tables import (
    FailureCode,
    FitClass,
    Mark,
    NutFactor,
    SecondScrewFactor,
    TableRow,
    TighteningScatter,
    WearWording,
)
from couplings.models.wear import SheetWearLimit, StorageRule, WearCode

__all__ = [
    "Calibration", "Coupling", "DataSheet", "Element", "FailureCode", "Family", "Fit", "FitClass", "Grade",
    "GradeRow", "GrowthCoefficient", "HubHalf", "Instrument", "LimitChange", "Mark", "NutFactor", "RemovalReason",
    "SecondScrewFactor", "SheetHoldPoint", "SheetHub", "SheetJoint", "SheetLimit", "SheetPart", "SheetScrew",
    "SheetSpacer", "SheetVersion", "SheetWearLimit", "StockLot", "StockMovement", "StorageRule", "TableRow",
    "TargetPart", "TighteningScatter", "WearCode", "WearWording",
]  # fmt: skip
