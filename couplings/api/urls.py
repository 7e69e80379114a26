"""Addresses of the couplings' API, below /api/v1/."""

from rest_framework.routers import SimpleRouter

from couplings.api.couplings import CouplingViewSet
from couplings.api.families import FamilyViewSet
from couplings.api.fits import ElementViewSet, FitViewSet
from couplings.api.grades import GradeViewSet
from couplings.api.growth import GrowthCoefficientViewSet
from couplings.api.instruments import InstrumentViewSet
from couplings.api.limit_changes import LimitChangeViewSet
from couplings.api.sheets import DataSheetViewSet
from couplings.api.stock import RemovalReasonViewSet, StockLotViewSet
from couplings.api.tables import (
    FailureCodeViewSet,
    FitClassViewSet,
    NutFactorViewSet,
    ScatterViewSet,
    SecondScrewViewSet,
)
from couplings.api.wear import StorageRuleViewSet, WearCodeViewSet
from couplings.api.wear_wordings import WearWordingViewSet

router = SimpleRouter(use_regex_path=False)
router.register("families", FamilyViewSet, basename="api-family")
router.register("wear-codes", WearCodeViewSet, basename="api-wear-code")
router.register("wear-wordings", WearWordingViewSet, basename="api-wear-wording")
router.register("storage-rules", StorageRuleViewSet, basename="api-storage-rule")
router.register("growth-coefficients", GrowthCoefficientViewSet, basename="api-growth-coefficient")
router.register("nut-factors", NutFactorViewSet, basename="api-nut-factor")
router.register("tightening-scatter", ScatterViewSet, basename="api-tightening-scatter")
router.register("second-screw-factors", SecondScrewViewSet, basename="api-second-screw-factor")
router.register("fit-classes", FitClassViewSet, basename="api-fit-class")
router.register("failure-codes", FailureCodeViewSet, basename="api-failure-code")
router.register("data-sheets", DataSheetViewSet, basename="api-data-sheet")
router.register("limit-changes", LimitChangeViewSet, basename="api-limit-change")
router.register("grades", GradeViewSet, basename="api-grade")
router.register("couplings", CouplingViewSet, basename="api-coupling")
router.register("fits", FitViewSet, basename="api-fit")
router.register("elements", ElementViewSet, basename="api-element")
router.register("removal-reasons", RemovalReasonViewSet, basename="api-removal-reason")
router.register("stock-lots", StockLotViewSet, basename="api-stock-lot")
router.register("instruments", InstrumentViewSet, basename="api-instrument")

urlpatterns = router.urls
