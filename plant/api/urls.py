"""Addresses of the register's API, below /api/v1/."""

from django.urls import path
from drf_spectacular.views import SpectacularJSONAPIView
from rest_framework.routers import SimpleRouter

from plant.api.calculations import CalculationList, CalculationRun
from plant.api.events import EventViewSet
from plant.api.invitations import InvitationViewSet
from plant.api.people import PersonViewSet
from plant.api.sites import AreaViewSet, SiteViewSet
from plant.api.stops import StopViewSet
from plant.api.tokens import TokenViewSet
from plant.api.trains import TrainViewSet
from plant.api.units import MachineUnitViewSet
from plant.api.webhooks import WebhookViewSet

router = SimpleRouter(use_regex_path=False)
router.register("sites", SiteViewSet, basename="api-site")
router.register("areas", AreaViewSet, basename="api-area")
router.register("trains", TrainViewSet, basename="api-train")
router.register("machine-units", MachineUnitViewSet, basename="api-machine-unit")
router.register("stops", StopViewSet, basename="api-stop")
router.register("people", PersonViewSet, basename="api-person")
router.register("invitations", InvitationViewSet, basename="api-invitation")
router.register("events", EventViewSet, basename="api-event")
router.register("tokens", TokenViewSet, basename="api-token")
router.register("webhooks", WebhookViewSet, basename="api-webhook")

urlpatterns = [
    *router.urls,
    path("calculations/", CalculationList.as_view(), name="api-calculations"),
    path("calculations/<slug:name>/", CalculationRun.as_view(), name="api-calculation"),
    path("schema/", SpectacularJSONAPIView.as_view(), name="api-schema"),
]
