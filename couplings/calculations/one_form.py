"""The form of a calculation that is asked in one way: no variant to choose, none in the request."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from couplings.calculations.plain_form import Row, Variant, form_of
from plant.calculations import Form

YES = (("", "no"), ("yes", "yes"))


def one_form(rows: Sequence[Row]) -> Form:
    """The form of these rows; each path is a place in the request."""
    form = form_of({"": Variant("", tuple(rows))})

    def payload(_variant: str, typed: Mapping[str, str], system: str) -> tuple[dict[str, Any], dict[str, str]]:
        made, errors = form.payload("", typed, system)
        made.pop("method")
        return made, errors

    return Form(variants=lambda: (), fields=lambda _variant: form.fields(""), payload=payload, field_of=form.field_of)


def truth(text: str, _system: str) -> bool:
    """A choice of yes or no as the request has it."""
    return text == "yes"
