"""Addresses of the work's API, below /api/v1/."""

from rest_framework.routers import SimpleRouter

from inspections.api.checks import CheckViewSet
from inspections.api.drift import DriftStateViewSet, GroupFitViewSet, LegViewSet
from inspections.api.flags import FlagViewSet
from inspections.api.instruments import InstrumentUseViewSet
from inspections.api.lives import LifeFitViewSet
from inspections.api.orders import WorkOrderViewSet
from inspections.api.other_work import OtherWorkViewSet
from inspections.api.photos import PhotoViewSet
from inspections.api.policies import PolicyViewSet
from inspections.api.surveys import SurveyViewSet
from inspections.api.visits import VisitViewSet

router = SimpleRouter(use_regex_path=False)
router.register("work-orders", WorkOrderViewSet, basename="api-work-order")
router.register("visits", VisitViewSet, basename="api-visit")
router.register("photos", PhotoViewSet, basename="api-photo")
router.register("surveys", SurveyViewSet, basename="api-survey")
router.register("checks", CheckViewSet, basename="api-check")
router.register("flags", FlagViewSet, basename="api-flag")
router.register("life-fits", LifeFitViewSet, basename="api-life-fit")
router.register("instruments/<uuid:id>/uses", InstrumentUseViewSet, basename="api-instrument-uses")
router.register("other-works", OtherWorkViewSet, basename="api-other-work")
router.register("legs", LegViewSet, basename="api-leg")
router.register("drift-states", DriftStateViewSet, basename="api-drift-state")
router.register("group-fits", GroupFitViewSet, basename="api-group-fit")
router.register("policies", PolicyViewSet, basename="api-policy")

urlpatterns = router.urls
