"""The run-up after a visit: readings of the running machines as context, and whether it is accepted."""

from __future__ import annotations

from typing import Any

from inspections import rules
from inspections.models import RunUp, Visit
from inspections.steps.passing import CHOICES, FIGURES, figure_fields, figures_of
from inspections.steps.registry import Place, Read, Step, Typed
from inspections.steps.typed import Reading
from plant.calculations import FormField
from plant.sitetime import today_at


def _fields(visit: Visit, typed: Typed) -> list[FormField]:
    context = "As context, as far as it was read"
    return [
        FormField("outcome", "The run-up is", "choice", True, choices=tuple(RunUp.Outcome.choices)),
        FormField("ran_at", "Read at", "instant", True, hint="Day and time at the site, such as 2026-11-02 14:30."),
        FormField("running", "Running for", "hours", group=context),
        *figure_fields(FIGURES, context),
        FormField("noise", "Noise", "choice", choices=CHOICES["noise"], group=context),
        FormField("remarks", "Remarks", "long", group=context),
    ]


def _read(typed: Typed, place: Place) -> Read:
    reading = Reading(typed, place)
    outcome = reading.choice("outcome", RunUp.Outcome.choices)
    ran_at = reading.instant("ran_at")
    remarks = reading.text("remarks", 1000)
    columns: dict[str, Any] = {"ran_at": ran_at, **figures_of(reading, FIGURES)}
    reading.want("outcome", "Say whether the run-up is accepted.")
    reading.want("ran_at", "Say when the readings were taken.")
    if outcome and outcome != RunUp.Outcome.ACCEPTED:
        reading.want("remarks", "Say what is remarked, or why it is not accepted.")
    if ran_at is not None:
        reading.refuse("ran_at", rules.run_up_day_refusal(today_at(place.site, ran_at), place.visit.on))
    return reading.done(
        RunUp(
            visit=place.visit,
            outcome=outcome,
            running_hours=reading.quantity("running", "hours", 0, 1e6),
            noise=reading.choice("noise", CHOICES["noise"]),
            remarks=remarks,
            **columns,
        )
    )


RUN_UP = Step(
    "run-up",
    "Run-up",
    _fields,
    _read,
    lambda values, place: [values],
    RunUp,
    needs_isolation=False,
    caution="Guard on, isolation removed and the start released by the site's procedure; everybody clear at the start. "
    "Read from outside the guard.",
)
