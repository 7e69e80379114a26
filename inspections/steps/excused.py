"""The reason why a step was not done or measured, in its place: nobody has to enter what a crew cannot know."""

from __future__ import annotations

from dataclasses import replace

from inspections.models import Visit
from inspections.steps.registry import Place, Read, Step, Typed
from inspections.steps.typed import Reading
from plant.calculations import FormField

NAME = "not_measured"


def excusable(step: Step) -> Step:
    """The same step, which also takes "not done or measured, because"."""

    def fields(visit: Visit, typed: Typed) -> list[FormField]:
        hint = "Such as: no access, no tool, the shift ended. Leave it empty where it was done."
        return [*step.fields(visit, typed), FormField(NAME, "Not done or measured, because", "text", hint=hint)]

    def read(typed: Typed, place: Place) -> Read:
        if not typed.get(NAME, "").strip():
            return step.read(typed, place)
        reading = Reading(typed, place)
        reason = reading.text(NAME)
        if any(text.strip() for name, text in typed.items() if name != NAME):
            reading.refuse(NAME, "Something is entered here too: empty it, or leave the reason out.")
        found = reading.done(None)
        found.excused = reason
        return found

    return replace(step, fields=fields, read=read)
