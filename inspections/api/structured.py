"""A survey sent as the request of `calculations/alignment`, kept as the typed fields of its step."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from couplings.calculations.as_typed import text_of, typed_from_request
from plant import units
from plant.refusals import Refused

# What a visit keeps beside the request of the calculation.
WORDS = ("stationary", "taken_at", "loosened_at", "north_is", "read_by")
QUANTITIES = ("driver_support", "driven_support", "stopped")


def fields_of(survey: Mapping[str, Any], typed: Mapping[str, str]) -> dict[str, str]:
    """The fields that this survey makes; what stands in the step and is not in it is emptied.

    An instrument is named in its set, by serial number or UUID. Raises Refused by the paths below "survey" for all
    that typed fields cannot hold.
    """
    errors: dict[str, str] = {}
    fields: dict[str, str] = {}
    request = dict(survey)
    for name in WORDS:
        if name in request:
            fields[name] = request.pop(name)
            if not isinstance(fields[name], str):
                errors[name] = "Text is expected here."
    for name in QUANTITIES:
        if name in request:
            try:
                fields[name] = text_of(request.pop(name))
            except units.UnitError as error:
                errors[name] = str(error)
    try:
        fields |= typed_from_request(request)
    except Refused as refused:
        errors |= refused.as_dict()
    if errors:
        raise Refused({f"survey.{path}": sentence for path, sentence in errors.items()})
    return {name: "" for name in typed if name not in fields} | fields
