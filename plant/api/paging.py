"""Lists in pages: a cursor remembers the last row shown, so that rows added meanwhile shift nothing."""

from typing import Any
from urllib.parse import urlencode

from django.core import signing
from django.core.exceptions import ValidationError
from django.db.models import Q
from rest_framework.pagination import BasePagination
from rest_framework.request import Request
from rest_framework.response import Response

from plant.api.problems import BadQuery

LIMIT, MOST = 50, 500


def limit_of(request: Request) -> int:
    """`?limit=`, from 1 to MOST; LIMIT where it is not given."""
    given = request.query_params.get("limit")
    if given is None:
        return LIMIT
    if not (given.isascii() and given.isdigit() and 1 <= int(given[:9]) <= MOST):
        raise BadQuery({"limit": f"Write a whole number from 1 to {MOST}."})
    return int(given[:9])


class Pages(BasePagination):
    """Keyset pages over the view's `ordering`: columns that are never null, the last of them unique."""

    def paginate_queryset(self, queryset: Any, request: Request, view: Any = None) -> list[Any]:
        self.request = request
        self.ordering: tuple[str, ...] = (*view.ordering, "pk")
        self.limit = limit_of(request)
        queryset = queryset.order_by(*self.ordering)
        if given := request.query_params.get("cursor"):
            queryset = queryset.filter(self._after(queryset.model, given))
        rows = list(queryset[: self.limit + 1])
        self.last = rows[self.limit - 1] if len(rows) > self.limit else None
        return rows[: self.limit]

    def get_paginated_response(self, data: Any) -> Response:
        return Response({"results": data, "next": self._next()})

    def get_paginated_response_schema(self, schema: dict[str, Any]) -> dict[str, Any]:
        return {
            "type": "object",
            "required": ["results", "next"],
            "properties": {
                "results": schema,
                "next": {
                    "type": ["string", "null"],
                    "format": "uri-reference",
                    "description": "Address of the next page; null on the last one.",
                },
            },
        }

    def get_schema_operation_parameters(self, view: Any) -> list[dict[str, Any]]:
        return [
            {
                "name": "cursor",
                "in": "query",
                "required": False,
                "description": "Where the next page begins, as `next` of the page before says it.",
                "schema": {"type": "string"},
            },
            {
                "name": "limit",
                "in": "query",
                "required": False,
                "description": "Rows in one page.",
                "schema": {"type": "integer", "minimum": 1, "maximum": MOST, "default": LIMIT},
            },
        ]

    def _next(self) -> str | None:
        if self.last is None:
            return None
        place = [_plain(self.last, name.lstrip("-")) for name in self.ordering]
        query = [(name, value) for name, value in self.request.query_params.lists() if name != "cursor"]
        pairs = [(name, value) for name, values in query for value in values]
        return f"{self.request.path}?{urlencode([*pairs, ('cursor', signing.dumps(place, salt=self._salt()))])}"

    def _after(self, model: Any, given: str) -> Q:
        try:
            place = signing.loads(given, salt=self._salt())
            columns = [name.lstrip("-") for name in self.ordering]
            values = [_field(model, name).to_python(value) for name, value in zip(columns, place, strict=True)]
        except (signing.BadSignature, ValidationError, ValueError, TypeError):
            raise BadQuery({"cursor": "This cursor is not of this list. Begin without one."}) from None
        beyond, same = Q(), Q()
        for name, column, value in zip(self.ordering, columns, values, strict=True):
            compare = "lt" if name.startswith("-") else "gt"
            beyond |= same & Q(**{f"{column}__{compare}": value})
            same &= Q(**{column: value})
        return beyond

    def _salt(self) -> str:
        return f"cursor:{self.request.path}:{','.join(self.ordering)}"


def _plain(row: Any, column: str) -> Any:
    value: Any = row
    for part in column.split("__"):
        value = getattr(value, part)
    return value if isinstance(value, int | float | str) else value.isoformat()


def _field(model: Any, column: str) -> Any:
    field: Any = None
    for part in column.split("__"):
        field = model._meta.pk if part == "pk" else model._meta.get_field(part)
        model = field.related_model or model
    return field
