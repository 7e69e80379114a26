"""Isolation and signature: the two ends of a visit. Both show what stands elsewhere and store no measurement."""

from __future__ import annotations

from inspections import rules
from inspections.models import Visit
from inspections.steps.registry import Place, Read, Step, Typed
from inspections.steps.typed import Reading
from plant.calculations import FormField


def _no_fields(visit: Visit, typed: Typed) -> list[FormField]:
    return []


def _isolation(typed: Typed, place: Place) -> Read:
    order = place.visit.work_order
    read = Read(values=order)
    if place.visit.from_paper or not rules.waits_for_isolation(place.visit.kind):
        return read  # a paper says what stood then; what was seen in passing or before the work needs none
    if order is None or (sentence := rules.isolation_refusal(order.number, order.verified_at)):
        read.values, read.missing = None, {"": sentence if order is not None else "This visit has no work order."}
    return read


def _signature_fields(visit: Visit, typed: Typed) -> list[FormField]:
    return [
        FormField(
            "left_so_reason",
            "Why it is left out of tolerance",
            "text",
            hint="Only where the as-left verdict is out of tolerance; it opens a flag that somebody must deal with.",
        )
    ]


def _signature(typed: Typed, place: Place) -> Read:
    reading = Reading(typed, place)
    return reading.done(reading.text("left_so_reason", 1000))


ISOLATION = Step(
    "isolation", "Isolation", _no_fields, _isolation, needs_isolation=False, filled=False
)  # confirmed on the work order, which several visits share
SIGNATURE = Step("signature", "Signature", _signature_fields, _signature, needs_isolation=False)
