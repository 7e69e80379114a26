"""What several nouns of the work share: people by UUID, typed text, and errors in fields whose names hold dots."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from rest_framework import serializers
from rest_framework.response import Response

from inspections.selectors.people import colleagues_of
from inspections.steps import STEPS
from plant.api.fields import NounSerializer, RootField
from plant.models import Person
from plant.refusals import FieldError, Refusal


class PersonField(RootField):
    """A person by UUID; whoever works at a site of the sender's can be named."""

    def __init__(self, **options: Any) -> None:
        super().__init__(Person, **options)

    def get_queryset(self) -> Any:
        return colleagues_of(self.context["request"].user)


class TypedText(serializers.CharField):
    """What was typed, as it was typed: blanks, commas and all. The service says what cannot be kept."""

    def __init__(self, **options: Any) -> None:
        super().__init__(allow_blank=True, trim_whitespace=False, **options)

    def run_validation(self, data: Any = None) -> Any:
        return data


class NothingSerializer(NounSerializer):
    """An act that needs no words: send an empty object or nothing."""


@dataclass(frozen=True)
class TypedError(FieldError):
    """An error in a typed field: the field's own name holds dots, so the parts of its pointer are told apart here."""

    parts: tuple[str, ...] = ()

    @property
    def pointer(self) -> str:
        return "".join("/" + part.replace("~", "~0").replace("/", "~1") for part in self.parts)


class TypedErrors:
    """Mix into a view whose services name typed fields: "fields.set0.12" becomes "/fields/set0.12".

    A field of a visit's step is pointed at as in the body of an amendment: "/steps/alignment.2/set0.12".
    """

    def handle_exception(self, exc: Exception) -> Response:
        if isinstance(exc, Refusal):
            exc.errors = [pointed(error) for error in exc.errors]
        return super().handle_exception(exc)  # type: ignore[misc]


def pointed(error: FieldError) -> FieldError:
    """The same error with a pointer that a sender finds in what was sent."""
    parts = parts_of(error.field)
    return TypedError(error.field, error.message, error.code, parts) if parts else error


def parts_of(field: str) -> tuple[str, ...]:
    """The parts of a path through typed fields; empty where it is none."""
    first, _, rest = field.partition(".")
    if first == "fields" and rest:
        return ("fields", rest)
    if first in STEPS:
        first, rest = "steps", field
    if first != "steps" or not rest:
        return ()
    key, _, name = rest.partition(".")
    if key in STEPS and STEPS[key].numbered and name:
        number, _, name = name.partition(".")
        key = f"{key}.{number}"
    elif key not in STEPS:
        key, name = rest, ""
    return ("steps", key, name) if name else ("steps", key)
