"""What surrounds the measuring: cleaning, hold-down bolts with jack bolts, rotation and solo run, the guard."""

from __future__ import annotations

import re
from typing import Any

from inspections import rules
from inspections.models import Cleaning, GuardState, HoldDown, Rotation, Visit
from inspections.models.findings import SIDES
from inspections.steps.registry import Place, Read, Step, Typed
from inspections.steps.softfoot import feet_under, machines_of
from inspections.steps.typed import Reading, ended
from plant.calculations import FormField

WRENCHES = {HoldDown.How.SET: ("torque-set",), HoldDown.How.READ: ("torque-read",)}
HOLD_DOWN_FIELD = re.compile(r"(driver|driven)(\.(torque|how|instrument|jacks)|[0-3][lr]\.torque)")


def _names(visit: Visit) -> dict[str, str]:
    coupling = visit.coupling
    return {"driver": coupling.driver_machine.name.capitalize(), "driven": coupling.driven_machine.name.capitalize()}


def _clean_fields(visit: Visit, typed: Typed) -> list[FormField]:
    rows = []
    for side, words in SIDES:
        group = f"{_names(visit)[side]}, {words}"
        rows += [
            FormField(f"{side}.state", "Shaft and hub", "choice", group=group, choices=tuple(Cleaning.State.choices)),
            FormField(f"{side}.agent", "Cleaned with", "text", group=group),
            FormField(f"{side}.found", "What was found under it", "text", group=group, hint="Such as fretting rust."),
        ]
    return rows


def _clean(typed: Typed, place: Place) -> Read:
    reading, found = Reading(typed, place), []
    for side, words in SIDES:
        state = reading.choice(f"{side}.state", Cleaning.State.choices)
        agent, seen = reading.text(f"{side}.agent", 80), reading.text(f"{side}.found", 300)
        if not (state or agent or seen):
            continue
        reading.want(f"{side}.state", f"Say whether shaft and hub of the {words} are clean.")
        if state == Cleaning.State.NOT_DONE:
            reading.warn(f"Not cleaned, {words}: run-out and fit read on it say little.")
        found.append(Cleaning(visit=place.visit, side=side, state=state, agent=agent, found=seen))
    if not found:
        reading.read.missing.setdefault("driver.state", "Nothing is entered yet: say it for the side that was cleaned.")
    return reading.done(found)


def _hold_fields(visit: Visit, typed: Typed) -> list[FormField]:
    rows = []
    for side, machine in machines_of(visit):
        group = f"{machine.name.capitalize()}, {dict(SIDES)[side]}"
        rows += [
            FormField(f"{side}.torque", "Hold-down bolts, all feet", "torque", group=group),
            FormField(f"{side}.how", "How", "choice", group=group, choices=tuple(HoldDown.How.choices)),
            FormField(f"{side}.instrument", "Wrench", "instrument", group=group),
            FormField(f"{side}.jacks", "Jack bolts", "choice", group=group, choices=tuple(HoldDown.Jacks.choices)),
            *(
                FormField(f"{foot.at}.torque", f"Read at the {foot.name} foot", "torque", group=group, fold="field")
                for foot in feet_under(side, machine)
            ),
        ]
    return rows


def _hold(typed: Typed, place: Place) -> Read:
    reading, found = Reading(typed, place), []
    for side, machine in machines_of(place.visit):
        found += _machine(reading, place, side, machine)
    if not found:
        first = next((side for side, _machine in machines_of(place.visit)), "driver")
        reading.read.missing.setdefault(f"{first}.torque", "Nothing is entered yet: the torque, or the jack bolts.")
    return reading.done(found)


def _machine(reading: Reading, place: Place, side: str, machine: Any) -> list[HoldDown]:
    torque = reading.quantity(f"{side}.torque", "torque", 0.1, 1e5)
    how = reading.choice(f"{side}.how", HoldDown.How.choices)
    jacks = reading.choice(f"{side}.jacks", HoldDown.Jacks.choices)
    kinds = WRENCHES[HoldDown.How(how)] if how else ("torque-set", "torque-read")
    instrument = reading.instrument(f"{side}.instrument", kinds)
    rows = []
    if torque is not None:
        reading.want(f"{side}.how", "Say whether the wrench was set to this torque or read on it.")
    if jacks == HoldDown.Jacks.TOUCHING:
        reading.warn(f"Jack bolts left in contact, {dict(SIDES)[side]}: they push the machine when it warms up.")
    base = {"visit": place.visit, "side": side, "instrument": instrument}
    base["out_of_calibration"] = ended(instrument, place.visit.on)
    if torque is not None or jacks:
        rows.append(HoldDown(**base, foot="", torque_nm=torque, how=how if torque is not None else "", jacks=jacks))
    for foot in feet_under(side, machine):
        one = reading.quantity(f"{foot.at}.torque", "torque", 0.1, 1e5)
        if one is not None:
            rows.append(HoldDown(**base, foot=foot.name, torque_nm=one, how=HoldDown.How.READ))
    return rows


def _hold_knows(name: str, visit: Visit) -> bool:
    """Fields of a machine whose feet were entered otherwise before stay what they are."""
    return bool(HOLD_DOWN_FIELD.fullmatch(name)) and name[:6] in {side for side, _machine in machines_of(visit)}


def _turn_fields(visit: Visit, typed: Typed) -> list[FormField]:
    solo = "Driver run alone"
    yes_no = (("yes", "yes"), ("no", "no: it turned the wrong way"))
    return [
        FormField("proved", "Rotation proved", "choice", True, choices=tuple(Rotation.Proved.choices)),
        FormField("right", "It turns the way it should", "choice", choices=yes_no),
        FormField("solo_from", "From", "instant", group=solo, hint="Such as 08:20, or 2026-10-12 08:20."),
        FormField("solo_until", "Until", "instant", group=solo),
        FormField("vibration", "Vibration at the coupling's end", "vibration", group=solo),
        FormField("bearing", "Bearing at the coupling's end", "temperature", group=solo),
        FormField("note", "Anything else", "text", group=solo),
    ]


def _turn(typed: Typed, place: Place) -> Read:
    reading = Reading(typed, place)
    proved = reading.choice("proved", Rotation.Proved.choices)
    right = reading.choice("right", (("yes", ""), ("no", "")))
    begun, ended_at = reading.instant("solo_from"), reading.instant("solo_until")
    reading.want("proved", "Say how the direction of rotation was proved.")
    if proved == Rotation.Proved.UNCOUPLED:
        reading.want("right", "Say whether it turned the way it should.")
    reading.refuse("solo_until", rules.solo_refusal(begun, ended_at))
    if right == "no":
        reading.warn("It turned the wrong way: do not couple it before this is put right and proved again.")
    if proved == Rotation.Proved.NOT_YET:
        reading.warn(
            "The direction of rotation is not proved: some couplings and pumps are spoilt by turning backwards."
        )
    return reading.done(
        Rotation(
            visit=place.visit,
            proved=proved,
            right={"yes": True, "no": False}.get(right),
            solo_from=begun,
            solo_until=ended_at,
            vibration_mm_s=reading.quantity("vibration", "vibration", 0, 1e3),
            bearing_degc=reading.quantity("bearing", "temperature", -100, 400),
            note=reading.text("note", 300),
        )
    )


def _guard_fields(visit: Visit, typed: Typed) -> list[FormField]:
    return [
        FormField("state", "The guard is", "choice", True, choices=tuple(GuardState.State.choices)),
        FormField("why", "Why it is not whole, and who knows of it", "text"),
    ]


def _guard(typed: Typed, place: Place) -> Read:
    reading = Reading(typed, place)
    state, why = reading.choice("state", GuardState.State.choices), reading.text("why", 300)
    reading.want("state", "Say how the guard was left.")
    if state == GuardState.State.ON and why:
        reading.refuse("why", "The guard is on and whole: leave this empty, or say what is missing.")
    elif state and state != GuardState.State.ON:
        reading.want("why", "Say why the guard is not whole, and who knows of it.")
        reading.warn("The guard is not whole: the machine must not be started before it is.")
    return reading.done(GuardState(visit=place.visit, state=state, why=why))


CLEANING = Step(
    "cleaning",
    "Cleaning",
    _clean_fields,
    _clean,
    lambda values, place: values,
    Cleaning,
    caution="Solvents burn and their vapour harms: no flame or hot hub near them; gloves against burrs.",
)
HOLD_DOWN = Step(
    "hold-down",
    "Hold-down and jack bolts",
    _hold_fields,
    _hold,
    lambda values, place: values,
    HoldDown,
    applies=lambda visit: any(True for _ in machines_of(visit)),
    spared="Neither machine stands on feet.",
    knows_more=_hold_knows,
    caution="Keep hands clear of the wrench's swing; tighten crosswise and step by step.",
)
ROTATION = Step(
    "rotation",
    "Rotation and solo run",
    _turn_fields,
    _turn,
    lambda values, place: [values],
    Rotation,
    caution="Before it is run: coupling apart, every loose part secured or out, guard on, everybody clear, isolation "
    "removed by the site's procedure. Isolate and try again before anybody touches it.",
)
GUARD = Step(
    "guard",
    "Guard",
    _guard_fields,
    _guard,
    lambda values, place: [values],
    GuardState,
    caution="The guard goes on before the isolation comes off.",
)
