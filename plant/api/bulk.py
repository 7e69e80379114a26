"""Many at once: up to 1,000 rows in one request, each with its own answer."""

from dataclasses import replace
from typing import Any

from django.db import IntegrityError
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from plant.api import etags
from plant.api.acting import acting, answered
from plant.api.fields import NounSerializer, outside
from plant.api.problems import TITLES, errors_of, refused
from plant.recording import part
from plant.refusals import FieldError, Refusal, Refused

MOST = 1000


class RowsSerializer(NounSerializer):
    """What is sent: `{"rows": [...]}`, each row as a single one would be sent."""

    rows = serializers.ListField(child=serializers.DictField(), min_length=1, max_length=MOST)


class CreateMany:
    """POST on `bulk/`. A row that is refused stops no other; all that were accepted are one unit of work."""

    @extend_schema(request=RowsSerializer, responses={200: dict[str, Any]})
    @action(detail=False, methods=["post"], url_path="bulk")
    def bulk(self: Any, request: Request) -> Response:
        """Create up to 1,000; the answer has one row per row: status with id and etag, or with errors."""
        form = RowsSerializer(data=request.data)
        with acting(request) as unit:
            form.is_valid(raise_exception=True)
            rows = [self._one(index, row) for index, row in enumerate(form.validated_data["rows"])]
            made = sum(row["status"] == 201 for row in rows)
            return answered(unit, {"made": made, "refused": len(rows) - made, "rows": rows})

    def _one(self: Any, index: int, sent: dict[str, Any]) -> dict[str, Any]:
        serializer = self.get_serializer(data=sent)
        try:
            with part():
                serializer.is_valid(raise_exception=True)
                root = self.make(**serializer.validated_data)
        except serializers.ValidationError as exc:
            return _refused(index, refused(exc))
        except Refusal as exc:
            exc.errors = [replace(error, field=outside(error.field, serializer)) for error in exc.errors]
            return _refused(index, exc)
        except IntegrityError:
            conflict = Refused()
            conflict.status = 409
            conflict.errors = [FieldError("", TITLES[409][1], TITLES[409][0])]
            return _refused(index, conflict)
        return {"index": index, "status": 201, "id": str(root.uuid), "etag": etags.etag(root)}


def _refused(index: int, exc: Refusal) -> dict[str, Any]:
    errors = errors_of(exc.errors) or [{"pointer": "", "detail": exc.title, "code": exc.code}]
    return {"index": index, "status": exc.status, "errors": errors}
