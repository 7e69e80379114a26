"""Calculations without a record: the same functions that serve the pages. Nothing is stored."""

from collections.abc import Mapping
from typing import Any

from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from plant import calculations
from plant.api.views import ApiView
from plant.refusals import Refused


class CalculationList(ApiView):
    @extend_schema(responses={200: OpenApiTypes.OBJECT}, operation_id="calculations_list")
    def get(self, request: Request) -> Response:
        """Every calculation with its title, what it is for, and a request to begin with."""
        rows: list[dict[str, Any]] = [
            {"name": each.name, "title": each.title, "summary": each.summary, "example": each.example}
            for each in calculations.all_calculations()
        ]
        return Response({"results": rows, "next": None})


class CalculationRun(ApiView):
    # Nothing is kept, so nothing needs a key.
    keyed = False

    @extend_schema(request=OpenApiTypes.OBJECT, responses={200: OpenApiTypes.OBJECT}, operation_id="calculations_run")
    def post(self, request: Request, name: str) -> Response:
        """Compute. Units of the answer: `?units=`, else those of your site.

        What goes by tables that a site keeps (nut factors, scatter, second screws, fit classes) takes `site`, else goes
        by your first one.
        """
        payload: Any = request.data
        site = next(iter(self.sites.values()), None)
        if calculations.get(name).at is not None and isinstance(payload, Mapping) and "site" in payload:
            named = str(payload["site"])
            site = next((one for one in self.sites.values() if str(one.uuid) == named), None)
            if site is None:
                raise Refused({"site": "There is nothing here by that name."})
            payload = {key: value for key, value in payload.items() if key != "site"}
        return Response(calculations.run(name, payload, self.system, site))
