"""What drf-spectacular cannot see by itself: quantities, UUIDs of nouns, headers, problem details, delta reads."""

import inspect
from typing import Any

from drf_spectacular.extensions import OpenApiAuthenticationExtension, OpenApiSerializerFieldExtension
from drf_spectacular.openapi import AutoSchema
from drf_spectacular.utils import OpenApiParameter

from plant import units
from plant.api.fields import ExternalRefField, NounSerializer, QuantityField, RootField
from plant.api.problems import CONTENT_TYPE, TITLES
from plant.api.views import ApiView, RootViewSet

PROBLEM = {
    "type": "object",
    "description": "Problem details (RFC 9457).",
    "required": ["type", "title", "status"],
    "properties": {
        "type": {"type": "string", "format": "uri-reference", "description": "Names the sort of problem."},
        "title": {"type": "string"},
        "status": {"type": "integer"},
        "detail": {"type": "string"},
        "errors": {
            "type": "array",
            "items": {
                "type": "object",
                "required": ["detail", "code"],
                "properties": {
                    "pointer": {"type": "string", "description": "Into the body that was sent (RFC 6901)."},
                    "parameter": {"type": "string", "description": "Name of the parameter or header."},
                    "detail": {"type": "string"},
                    "code": {"type": "string"},
                },
            },
        },
        "current": {"type": "object", "description": "With 412: what stands now.", "additionalProperties": True},
    },
}
REMOVED = {
    "type": "object",
    "required": ["id", "removed"],
    "properties": {"id": {"type": "string", "format": "uuid"}, "removed": {"const": True}},
}
WORDS = {
    **{status: title for status, (_, title) in TITLES.items()},
    410: "The token is from before a restore or a move: begin again",
    412: "Somebody changed this in the meantime",
    422: "Something has to be corrected",
    428: "Say which version you are changing (If-Match)",
}


class QuantityExtension(OpenApiSerializerFieldExtension):
    target_class = QuantityField

    def map_serializer_field(self, auto_schema: AutoSchema, direction: str) -> dict[str, Any]:
        return {
            "type": "object",
            "required": ["value", "unit"],
            "additionalProperties": False,
            "properties": {
                "value": {"type": "number"},
                "unit": {"type": "string", "enum": units.units_for(self.target.kind)},
            },
        }


class RootExtension(OpenApiSerializerFieldExtension):
    target_class = RootField
    match_subclasses = True

    def map_serializer_field(self, auto_schema: AutoSchema, direction: str) -> dict[str, Any]:
        return {"type": "string", "format": "uuid"}


class ExternalRefExtension(OpenApiSerializerFieldExtension):
    target_class = ExternalRefField

    def map_serializer_field(self, auto_schema: AutoSchema, direction: str) -> dict[str, Any]:
        key = {"type": ["string", "null"], "minLength": 1, "maxLength": 120}
        return {
            "type": "object",
            "description": "One key per other system. A change merges; null takes a key away.",
            "propertyNames": {"minLength": 1, "maxLength": 40},
            "additionalProperties": key if direction == "request" else {"type": "string"},
        }


class TokenExtension(OpenApiAuthenticationExtension):
    target_class = "plant.api.authentication.TokenAuthentication"
    name = "token"

    def get_security_definition(self, auto_schema: AutoSchema) -> dict[str, Any]:
        return {"type": "http", "scheme": "bearer", "description": "A personal token."}


class Schema(AutoSchema):
    """Operations with the parameters and statuses that the base views give every noun."""

    def get_override_parameters(self) -> list[Any]:
        if not isinstance(self.view, ApiView):
            return []
        query: Any = OpenApiParameter.QUERY
        header: Any = OpenApiParameter.HEADER
        found = [OpenApiParameter("units", str, query, enum=list(units.SYSTEMS), description="Units of the answer.")]
        if self._is_delta():
            found += [
                OpenApiParameter("site", str, query, description="UUID of a site."),
                OpenApiParameter(
                    "updated_since",
                    str,
                    query,
                    description=(
                        "Begin a delta read of one site: an instant with its zone. Gives what was committed after it, "
                        "and may repeat up to five minutes from before. Needs `site`, takes no filters."
                    ),
                ),
                OpenApiParameter(
                    "after", str, query, description="Continue a delta read: the token of the page before."
                ),
            ]
        if self.method in ("PATCH", "DELETE") and isinstance(self.view, RootViewSet):
            found.append(
                OpenApiParameter("If-Match", str, header, required=True, description="The ETag that was read.")
            )
        if self.method == "POST" and getattr(self.view, "keyed", True):
            found.append(
                OpenApiParameter(
                    "Idempotency-Key",
                    str,
                    header,
                    description="The same key and body again gives the same answer; another body is refused.",
                )
            )
        if isinstance(self.view, RootViewSet) and self.view.action in ("retrieve", "create", "partial_update"):
            found.append(OpenApiParameter("ETag", str, header, response=[200, 201], description="The version."))
            found.append(OpenApiParameter("Location", str, header, response=[201], description="Where it is now."))
        return found

    def get_response_serializers(self) -> Any:
        if self.method == "POST" and isinstance(self.view, RootViewSet) and self.view.detail:
            # An extra action answers with the noun itself.
            return type(self.view).serializer_class
        return super().get_response_serializers()

    def _is_create_operation(self) -> bool:
        return self.method == "POST" and getattr(self.view, "action", None) == "create"

    def _is_delta(self) -> bool:
        return isinstance(self.view, RootViewSet) and self.view.delta and self.view.action == "list"


def complete(result: dict[str, Any], **_: Any) -> dict[str, Any]:
    """Postprocessing hook: the answers that every operation may give, ETag headers, delta pages, closed requests."""
    schemas = result["components"].setdefault("schemas", {})
    schemas["Problem"], schemas["Removed"] = PROBLEM, REMOVED
    inherited = inspect.getdoc(NounSerializer)
    for name, schema in schemas.items():
        if schema.get("description") == inherited:
            del schema["description"]
        if name.endswith("Request") and schema.get("type") == "object":
            schema.setdefault("additionalProperties", False)
    for operations in result["paths"].values():
        for method, operation in operations.items():
            _complete(method, operation, schemas)
    return result


def _complete(method: str, operation: dict[str, Any], schemas: dict[str, Any]) -> None:
    parameters = {parameter["name"]: parameter for parameter in operation.get("parameters", [])}
    responses = operation["responses"]
    statuses = [400, 401, 403, 404, 406, 429]
    if method in ("post", "patch", "put"):
        statuses += [409, 412, 415, 422]
    if "If-Match" in parameters:
        statuses += [409, 412, 422, 428]
    if "updated_since" in parameters:
        statuses.append(410)
        _as_delta(responses, schemas)
    for status in sorted(set(statuses)):
        responses.setdefault(
            str(status),
            {
                "description": WORDS[status],
                "content": {CONTENT_TYPE: {"schema": {"$ref": "#/components/schemas/Problem"}}},
            },
        )
    for name in ("site", "parent", "area"):
        if name in parameters and parameters[name].get("in") == "query":
            parameters[name]["schema"] = {"type": "string", "format": "uuid"}


def _as_delta(responses: dict[str, Any], schemas: dict[str, Any]) -> None:
    body = responses["200"]["content"]["application/json"]["schema"]
    page = schemas[body["$ref"].rsplit("/", 1)[1]] if "$ref" in body else body
    items = page["properties"]["results"]["items"]
    if "anyOf" in items:
        return
    page["properties"]["results"]["items"] = {"anyOf": [items, {"$ref": "#/components/schemas/Removed"}]}
    page["required"] = ["results"]
    page["properties"]["after"] = {"type": "string", "description": "Delta reads: the token to continue with."}
    page["properties"]["more"] = {"type": "boolean", "description": "Delta reads: whether to continue at once."}
