"""The API's own documentation page: the schema as plain tables, without scripts and without foreign assets."""

from dataclasses import dataclass
from functools import cache
from typing import Any

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_safe
from drf_spectacular.generators import SchemaGenerator

from plant.pages.context import render_sheet

METHODS = ("get", "post", "patch", "put", "delete")
_DEEPEST = 4


@dataclass(frozen=True)
class Row:
    """One field or parameter: its path, what it may be, whether it must be there, what it means."""

    name: str
    what: str
    required: bool
    text: str = ""


@dataclass(frozen=True)
class Operation:
    anchor: str
    method: str
    path: str
    text: str
    parameters: list[Row]
    sent: list[Row]
    answers: list[tuple[str, str]]
    answered: list[Row]


@login_required
@require_safe
def api_docs(request: HttpRequest) -> HttpResponse:
    return render_sheet(request, "plant/api_docs.html", {"groups": _groups()})


@cache
def _groups() -> list[tuple[str, list[Operation]]]:
    """The addresses do not change while the process runs."""
    return groups_of(SchemaGenerator().get_schema(request=None, public=True))


def groups_of(schema: dict[str, Any]) -> list[tuple[str, list[Operation]]]:
    """Every operation of the schema, by noun."""
    found: dict[str, list[Operation]] = {}
    for path, operations in sorted(schema["paths"].items()):
        for method in METHODS:
            if method in operations:
                noun = path.removeprefix("/api/v1/").split("/")[0]
                found.setdefault(noun, []).append(_operation(schema, path, method, operations[method]))
    return sorted(found.items())


def _operation(schema: dict[str, Any], path: str, method: str, said: dict[str, Any]) -> Operation:
    responses = said["responses"]
    good: dict[str, Any] = next((responses[status] for status in ("200", "201") if status in responses), {})
    return Operation(
        anchor=said["operationId"],
        method=method.upper(),
        path=path,
        text=said.get("description") or said.get("summary") or "",
        parameters=[
            Row(each["name"], _what(schema, each["schema"]), each.get("required", False), each.get("description", ""))
            for each in said.get("parameters", [])
        ],
        sent=_rows(schema, _body(said.get("requestBody", {}))),
        answers=[(status, each.get("description", "")) for status, each in sorted(responses.items())],
        answered=_rows(schema, _body(good)),
    )


def _body(said: dict[str, Any]) -> dict[str, Any]:
    return said.get("content", {}).get("application/json", {}).get("schema", {})


def _resolved(schema: dict[str, Any], part: dict[str, Any]) -> dict[str, Any]:
    """A schema with its reference followed; of alternatives the first, which is the noun itself."""
    for key in ("allOf", "anyOf", "oneOf"):
        if part.get(key):
            part = {**part[key][0], **{name: value for name, value in part.items() if name != key}}
    if "$ref" in part:
        target = schema["components"]["schemas"][part["$ref"].rsplit("/", 1)[1]]
        return _resolved(schema, {**target, **{name: value for name, value in part.items() if name != "$ref"}})
    return part


def _rows(schema: dict[str, Any], part: dict[str, Any], under: str = "", depth: int = 0) -> list[Row]:
    part = _resolved(schema, part)
    if part.get("type") == "array":
        return _rows(schema, part.get("items", {}), f"{under}[].", depth)
    found: list[Row] = []
    if depth >= _DEEPEST:
        return found
    required = part.get("required", [])
    for name, child in part.get("properties", {}).items():
        full = _resolved(schema, child)
        found.append(Row(under + name, _what(schema, full), name in required, full.get("description", "")))
        if not _is_quantity(full):
            step = f"{under}{name}" if full.get("type") == "array" else f"{under}{name}."
            found += _rows(schema, full, step, depth + 1)
    return found


def _is_quantity(part: dict[str, Any]) -> bool:
    return set(part.get("properties", {})) == {"value", "unit"}


def _what(schema: dict[str, Any], part: dict[str, Any]) -> str:
    """The kind of a value in a few words."""
    part = _resolved(schema, part)
    if _is_quantity(part):
        return "quantity in " + ", ".join(_resolved(schema, part["properties"]["unit"]).get("enum", []))
    if "const" in part:
        return str(part["const"]).lower()
    if choices := [choice for choice in part.get("enum", []) if choice is not None]:
        return "one of " + ", ".join(str(choice) for choice in choices)
    kinds = part.get("type", "anything")
    kind = " or ".join(kinds) if isinstance(kinds, list) else kinds
    return f"{kind} ({part['format']})" if part.get("format") else kind
