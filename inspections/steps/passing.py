"""The look in passing at a running coupling, and how the machines stood or ran when the crew came."""

from __future__ import annotations

from typing import Any

from inspections.models import Conditions, RunningLook, Visit
from inspections.selectors.passing import last_look
from inspections.steps.registry import Offer, Place, Read, Step, Typed
from inspections.steps.typed import Reading
from plant import units
from plant.calculations import FormField

LOOKED = ("strobe", "noise", "below", "leak")
ORDINARY = {
    "strobe": {"", RunningLook.Strobe.NONE, RunningLook.Strobe.WHOLE, RunningLook.Strobe.HIDDEN},
    "noise": {"", RunningLook.Noise.USUAL},
    "below": {"", RunningLook.Below.NOTHING},
    "leak": {"", RunningLook.Leak.NONE},
}
# What asks for a stop whatever else is seen: common practice.
STOP_FOR = {
    ("strobe", "broken"): "the element is torn, cracked or has parts missing",
    ("below", "much"): "the element comes out as crumbs or shreds",
    ("below", "metal"): "metal is worn off",
    ("noise", "squeal"): "it squeals or grinds",
}
CHOICES = {
    "strobe": tuple(RunningLook.Strobe.choices),
    "noise": tuple(RunningLook.Noise.choices),
    "below": tuple(RunningLook.Below.choices),
    "leak": tuple(RunningLook.Leak.choices),
}
FIGURES = (
    ("driver_bearing", "driver_bearing_degc", "Driver-side bearing", "temperature", -100, 400),
    ("driven_bearing", "driven_bearing_degc", "Driven-side bearing", "temperature", -100, 400),
    ("coupling", "coupling_degc", "Coupling, or the guard above it", "temperature", -100, 400),
    ("driver_vibration", "driver_vibration_mm_s", "Vibration at the driver-side bearing", "vibration", 0, 1e3),
    ("driven_vibration", "driven_vibration_mm_s", "Vibration at the driven-side bearing", "vibration", 0, 1e3),
    ("current", "current_a", "Current of the motor", "current", 0, 1e5),
    ("speed", "speed_rpm", "Speed", "speed", 0, 2e5),
)
STOOD = (
    ("ambient", "ambient_degc", "Air round the machines", "temperature", -100, 100),
    ("driver_casing", "driver_casing_degc", "Driver-side casing", "temperature", -100, 400),
    ("driven_casing", "driven_casing_degc", "Driven-side casing", "temperature", -100, 400),
    ("stopped", "stopped_hours", "Stopped for", "hours", 0, 1e6),
)


def _fields(visit: Visit, typed: Typed) -> list[FormField]:
    last = last_look(visit)
    was = {name: getattr(last, f"get_{name}_display")() for name in LOOKED} if last is not None else {}
    labels = {
        "strobe": "By strobe",
        "noise": "Noise",
        "below": "Below the guard",
        "leak": "Leak",
    }
    system = visit.site.units
    warm = last.temperature_degc if last is not None else None
    return [
        *(
            FormField(
                name, label, "choice", choices=CHOICES[name], hint=f"Last time: {was[name]}." if was.get(name) else ""
            )
            for name, label in labels.items()
        ),
        FormField(
            "temperature",
            "Temperature of the coupling, or of the guard above it",
            "temperature",
            hint=f"Last time {units.written(warm, 'temperature', system)}." if warm is not None else "",
        ),
        FormField("ambient", "Air round it", "temperature"),
        FormField(
            "odd",
            "What else was odd",
            "text",
            hint=f"Last time: {last.odd}" if last is not None and last.odd else "",
        ),
    ]


def _read(typed: Typed, place: Place) -> Read:
    reading = Reading(typed, place)
    seen = {name: reading.choice(name, CHOICES[name]) for name in LOOKED}
    temperature = reading.quantity("temperature", "temperature", -100, 400)
    ambient = reading.quantity("ambient", "temperature", -100, 100)
    odd = reading.text("odd", 300)
    if not any(text.strip() for text in typed.values()):
        reading.read.missing["noise"] = "Nothing is entered yet: say what was seen or heard, or why nobody looked."
    stops = [words for (name, code), words in STOP_FOR.items() if seen[name] == code]
    stop_for = "; ".join(stops)
    if stops:
        reading.warn(f"This asks for a stop: {stop_for}. Tell whoever runs the machine now; keep away from the guard.")
    ordinary = not odd and all(seen[name] in ORDINARY[name] for name in LOOKED)
    if not ordinary and not stops:
        reading.warn("Out of the ordinary: look again soon, or plan a stop.")
    return reading.done(
        RunningLook(
            visit=place.visit,
            temperature_degc=temperature,
            ambient_degc=ambient,
            odd=odd,
            ordinary=ordinary,
            stop_for=stop_for,
            **seen,
        )
    )


def _offers(visit: Visit, typed: Typed) -> list[Offer]:
    """One press for what is seen; a temperature is never taken over from another day."""
    last = last_look(visit)
    if last is None or not any(getattr(last, name) for name in LOOKED):
        usual = {"noise": "usual", "below": "nothing", "leak": "none"}
        return [Offer("ordinary", "Nothing out of the ordinary", usual)]
    same = {name: getattr(last, name) for name in LOOKED} | {"odd": last.odd}
    return [Offer("last", "Same as last time", same)]


def figure_fields(rows: tuple[Any, ...], group: str = "") -> list[FormField]:
    """The rows of figures as fields of a form."""
    return [FormField(name, label, kind, group=group) for name, _column, label, kind, _low, _high in rows]


def figures_of(reading: Reading, rows: tuple[Any, ...]) -> dict[str, float | None]:
    """The rows of figures by their columns, as typed."""
    return {column: reading.quantity(name, kind, low, high) for name, column, _label, kind, low, high in rows}


def _condition_fields(visit: Visit, typed: Typed) -> list[FormField]:
    before = "While it still ran, before the stop"
    return [
        *figure_fields(STOOD, "As it stands"),
        *figure_fields(FIGURES, before),
        FormField("noise", "Noise", "choice", choices=CHOICES["noise"], group=before),
        FormField("note", "Anything else", "text", group=before),
    ]


def _conditions(typed: Typed, place: Place) -> Read:
    reading = Reading(typed, place)
    columns = figures_of(reading, STOOD) | figures_of(reading, FIGURES)
    noise, note = reading.choice("noise", CHOICES["noise"]), reading.text("note", 300)
    if not any(text.strip() for text in typed.values()):
        reading.read.missing["ambient"] = "Nothing is entered yet. Every figure is welcome, none has to be there."
    return reading.done(Conditions(visit=place.visit, noise=noise, note=note, **columns))


RUNNING_LOOK = Step(
    "running-look",
    "Look in passing",
    _fields,
    _read,
    lambda values, place: [values],
    RunningLook,
    needs_isolation=False,
    offers=_offers,
    caution="The machine runs. The guard stays on: look and listen from outside it, hands, hair and clothing clear.",
)
CONDITIONS = Step(
    "conditions",
    "Conditions",
    _condition_fields,
    _conditions,
    lambda values, place: [values],
    Conditions,
    needs_isolation=False,
    caution="Casings and bearings may burn. While it runs, read from outside the guard.",
)
