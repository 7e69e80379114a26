"""The alignment steps: as-found, numbered rounds, as-left. One reader, the same as the calculation without a record."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from couplings.calculations import field_of, form_fields, payload_from_typed, read_alignment, solve_alignment
from couplings.calculations.alignment_request import AlignmentRequest
from couplings.calculations.typed_sets import READINGS, base_of, owner_of
from couplings.engineering.alignment import METHODS, AlignmentError, Solution
from couplings.engineering.moves import check_feet
from couplings.engineering.upright import solve_upright
from couplings.models import Instrument
from inspections import rules
from inspections.models import Visit
from inspections.steps.registry import Place, Read, Step, Typed
from inspections.steps.typed import Reading
from inspections.steps.upright import METHODS_HERE, NO_FEET, NORTH, by_compass, lying_only, upright
from plant.calculations import FormField
from plant.refusals import Refused

SIDES = (("driver", "the driver-side machine"), ("driven", "the driven-side machine"))
VIEWS = (("movable", "from the movable machine"), ("stationary", "from the stationary machine"))
MEASURING = ("dial", "feeler", "straightedge", "caliper", "alignment")
DIALS = frozenset({"rim", "face", "flex-angle"})
# What the calculation asks for and the visit knows already: the data sheet's limits, the target, the decision.
KNOWN = re.compile(r"(limit|target|gap)(_|\d).*|rotor_from_place|decision|confidence|flex_[ab]")
SET_FIELD = re.compile(
    rf"{READINGS.pattern}|"
    r"set[0-3]\.(x|swing_radius|distance|sag|sag_u|u|return_to_zero|surface|carried_by|bracket|half|instrument)"
)
FEET_FIELD = re.compile(r"feet[0-3]\.(name|x)")
ROUND = re.compile(r"round:([1-9]\d?)")


@dataclass(frozen=True)
class Surveyed:
    """One set of alignment readings as understood: the request of the calculation, its solution, and who, when, how.

    `compass`: positions are compass points, N at 0 and E at 90 degrees; `north_is` says what N stands for, where it is
    not the plant's north. `same_as` stands alone where an as-left takes over another survey: "as-found" or "round:2".
    """

    request: AlignmentRequest | None = None
    solution: Solution | None = None
    stationary: str = "driven"
    taken_at: datetime | None = None
    loosened_at: datetime | None = None
    driver_support_degc: float | None = None
    driven_support_degc: float | None = None
    stopped_hours: float | None = None
    instruments: tuple[Instrument | None, ...] = ()
    typed: Mapping[str, str] | None = None
    same_as: str = ""
    compass: bool = False
    north_is: str = ""
    read_by: str = ""

    @property
    def movable(self) -> str:
        return "driver" if self.stationary == "driven" else "driven"

    @property
    def owners(self) -> tuple[int, ...]:
        """For every set of the request, which set of the form it was typed in: those taken again share one."""
        if self.request is None:
            return ()
        method = self.request.method
        return tuple(owner_of(method, one.name, place) for place, one in enumerate(self.request.sets))


def _methods(visit: Visit) -> tuple[tuple[str, str], ...]:
    rows = METHODS_HERE if upright(visit.coupling) else METHODS.values()
    return tuple((one.name, one.title) for one in rows)


def _own_fields(visit: Visit) -> list[FormField]:
    coupling, group = visit.coupling, "How it was read"
    machines = {"driver": coupling.driver_machine.name, "driven": coupling.driven_machine.name}
    sides = tuple((side, f"the {machines[side]} ({side} side)") for side, _words in SIDES)
    return [
        FormField("method", "Method", "choice", True, group, _methods(visit)),
        FormField("stationary", "Which machine stood still", "choice", True, group, sides),
        FormField("taken_at", "Taken at", "instant", False, group, hint="Time at the site, such as 08:20."),
        FormField("read_by", "Read by whom", "text", False, group, hint=_crew(visit)),
    ]


def _crew(visit: Visit) -> str:
    names = [one.name for one in visit.work_order.crew.all()] if visit.work_order is not None else []
    return f"Such as {names[0]}." if names else ""


def _thermal_fields() -> list[FormField]:
    group = "Thermal state"
    return [
        FormField("driver_support", "Driver-side supports", "temperature", False, group),
        FormField("driven_support", "Driven-side supports", "temperature", False, group),
        FormField("stopped", "Stopped for", "hours", False, group),
    ]


def _fields(visit: Visit, typed: Typed) -> list[FormField]:
    method = typed.get("method", "").strip()
    rows = _own_fields(visit)
    if method in METHODS:
        planes_known = visit.sheet_version.flex_distance_mm is not None
        for row in form_fields(method):
            if not KNOWN.fullmatch(row.name) or (row.name in ("flex_a", "flex_b") and not planes_known):
                rows.append(row)
        rows += [
            FormField(f"set{place}.instrument", f"Instrument, {one.label}", "instrument", False, one.label)
            for place, one in enumerate(METHODS[method].sets)
        ]
        if not METHODS[method].sets:
            rows.append(FormField("instrument", "Instrument", "instrument", False, "What the instrument reported"))
    rows += _thermal_fields()
    if not upright(visit.coupling):
        return rows
    rows = by_compass(rows)
    return [*rows[:2], NORTH, *rows[2:]]


def _found_fields(visit: Visit, typed: Typed) -> list[FormField]:
    return [
        FormField(
            "loosened_at",
            "First foot, element or pipe loosened at",
            "instant",
            hint="As-found ends with it. Leave it empty while nothing has been loosened.",
        ),
        *_fields(visit, typed),
        FormField("not_measured", "Not measured because", "text", False, "Not measured", hint="Instead of readings."),
    ]


def _left_fields(visit: Visit, typed: Typed) -> list[FormField]:
    rounds = sorted(entry.number for entry in visit.entries.all() if entry.step == "alignment")
    choices = (
        ("", "the readings below"),
        ("as-found", "nothing was moved: as-found is as-left"),
        *((f"round:{number}", f"round {number}") for number in rounds),
    )
    return [
        FormField("same_as", "As-left is", "choice", False, "", choices),
        *_fields(visit, typed),
        FormField("not_measured", "Not measured because", "text", False, "Not measured", hint="Instead of readings."),
    ]


def _knows_more(name: str, visit: Visit) -> bool:
    """Fields of a method chosen before, and positions a form does not show, stay what they are."""
    if name in ("viewed_from", "driver_support", "driven_support") and upright(visit.coupling):
        return True  # refused with its reason where something is typed there
    return bool(SET_FIELD.fullmatch(name) or FEET_FIELD.fullmatch(name)) or name in _direct_names()


def _direct_names() -> frozenset[str]:
    return frozenset(row.name for row in form_fields("direct") if not KNOWN.fullmatch(row.name)) | {"instrument"}


def _read(typed: Typed, place: Place) -> Read:
    reading = Reading(typed, place)
    values = _survey(reading, place)
    return reading.done(values)


def _found(typed: Typed, place: Place) -> Read:
    reading = Reading(typed, place)
    if excuse := _not_measured(reading):
        return _excused(reading, excuse)
    loosened_at = reading.instant("loosened_at")
    values = _survey(reading, place, loosened_at)
    if loosened_at is not None:
        reading.want("taken_at", "Something was loosened, so say when the as-found readings were taken.")
        taken_at = reading.instant("taken_at")
        if taken_at is not None:
            reading.refuse("taken_at", rules.loosened_refusal(taken_at, loosened_at))
    return reading.done(values)


def _left(typed: Typed, place: Place) -> Read:
    reading = Reading(typed, place)
    if excuse := _not_measured(reading):
        return _excused(reading, excuse)
    same_as = reading.given("same_as")
    if same_as:
        if same_as != "as-found" and not ROUND.fullmatch(same_as):
            reading.refuse(
                "same_as", f"“{same_as[:30]}” is no survey of this visit: as-found, or round:2 and the like."
            )
        elif any(
            typed.get(name, "").strip() for name in typed if SET_FIELD.fullmatch(name) and "instrument" not in name
        ):
            reading.refuse(
                "same_as", "There are readings here too: empty them, or say that as-left is the readings below."
            )
        return reading.done(Surveyed(same_as=same_as))
    return reading.done(_survey(reading, place))


def _not_measured(reading: Reading) -> str:
    excuse = reading.text("not_measured")
    if excuse and any(reading.given(name) for name in reading.typed if READINGS.fullmatch(name)):
        reading.refuse("not_measured", "There are readings here: empty them, or leave the reason out.")
    return excuse


def _excused(reading: Reading, excuse: str) -> Read:
    read = reading.done(None)
    read.excused = excuse
    return read


def _survey(reading: Reading, place: Place, loosened_at: datetime | None = None) -> Surveyed | None:
    typed = reading.typed
    stands = upright(place.visit.coupling)
    method = reading.choice("method", _methods(place.visit))
    stationary = reading.choice("stationary", SIDES)
    reading.want("method", "Say by which method the readings were taken.")
    reading.want("stationary", "Say which machine stood still.")
    if stands:
        _nothing_of_feet(reading)
    else:
        reading.choice("viewed_from", VIEWS)
        reading.want("viewed_from", "Say from which machine the clock was seen.")
    north_is = reading.text("north_is", 60)
    taken_at = reading.instant("taken_at")
    if taken_at is not None and place.visit.work_order is not None:
        reading.refuse("taken_at", rules.after_isolation_refusal(taken_at, place.visit.work_order.removed_at))
    driver = reading.quantity("driver_support", "temperature", -80, 400)
    driven = reading.quantity("driven_support", "temperature", -80, 400)
    stopped = reading.quantity("stopped", "hours", 0, 1e6)
    if not method:
        return None
    names = [f"set{number}.instrument" for number in range(len(METHODS[method].sets))] or ["instrument"]
    instruments = tuple(reading.instrument(name, MEASURING) for name in names)
    for number in range(len(METHODS[method].sets)):
        reading.text(f"set{number}.bracket", 80)
    request, solution = _solved(reading, place, method, instruments)
    if request is None or solution is None:
        return None
    for warning in (*solution.warnings, *(words for one in solution.sets for words in one.warnings)):
        reading.warn(warning[:1].upper() + warning[1:] + ("" if warning.endswith(".") else "."))
    return Surveyed(
        request,
        solution,
        stationary,
        taken_at,
        loosened_at,
        driver,
        driven,
        stopped,
        instruments,
        dict(typed),
        compass=stands,
        north_is=north_is,
        read_by=reading.text("read_by", 80),
    )


def _nothing_of_feet(reading: Reading) -> None:
    """What is typed of an upright machine as if it lay on feet is told to be wrong, not passed over."""
    for name in reading.typed:
        if not reading.given(name) or not lying_only(name):
            continue
        if name == "viewed_from":
            reading.refuse(name, "Compass points are the same from both machines: leave this out.")
        elif name.endswith(("sag", "sag_u", "bracket")):
            reading.refuse(name, "A bracket on an upright shaft does not sag: leave it out.")
        elif name.endswith("half"):
            reading.refuse(name, "On an upright machine write down what the dial showed, whole: leave this out.")
        elif name.endswith("_support"):
            reading.refuse(name, "An upright machine is not corrected for the growth of its feet: leave this out.")
        elif name.startswith("feet"):
            reading.refuse(name, NO_FEET)


def _solved(
    reading: Reading, place: Place, method: str, instruments: tuple[Instrument | None, ...]
) -> tuple[AlignmentRequest | None, Solution | None]:
    taken = {name: text for name, text in reading.typed.items() if not KNOWN.fullmatch(name)}
    distance = place.version.flex_distance_mm
    if distance is None:
        taken |= {name: reading.typed.get(name, "") for name in ("flex_a", "flex_b")}
    stands = upright(place.visit.coupling)
    if stands:
        taken = {name: text for name, text in taken.items() if not lying_only(name)}
    payload, errors = payload_from_typed(method, taken, place.system)
    for name, sentence in errors.items():
        reading.refuse(name, sentence)
    if distance is not None:
        payload["flex_planes"] = [{"value": sign * distance / 2, "unit": "mm"} for sign in (-1, 1)]
    _uncertainties(payload, place, instruments, errors)
    try:
        request = read_alignment(payload)
        if request.feet:
            check_feet(request.feet)
        if errors:
            return request, None
        return request, solve_upright(request.sets) if stands else solve_alignment(request)
    except (Refused, AlignmentError) as refused:
        found = refused.as_dict() if isinstance(refused, Refused) else refused.errors
    for path, sentence in found.items():
        name = "feet1.x" if path == "feet" else field_of(path, payload)
        # Readings that are not all there yet are missing, not wrong: the crew is still typing.
        unfinished = path == "reading_sets" or path.endswith(".readings") or not reading.given(name)
        if name not in errors:
            (reading.read.missing if unfinished else reading.read.errors).setdefault(name, sentence)
    return None, None


def _uncertainties(
    payload: dict[str, Any], place: Place, instruments: tuple[Instrument | None, ...], errors: Mapping[str, str]
) -> None:
    """Where none was typed: the instrument's own standard uncertainty, for a dial else the site's starter."""
    for order, row in enumerate(payload.get("reading_sets", [])):
        number = base_of(payload, order)
        if "standard_uncertainty" in row or f"set{number}.u" in errors:
            continue
        instrument = instruments[number] if number < len(instruments) else None
        u = instrument.standard_u_mm if instrument is not None else None
        if u is None and row["kind"] in DIALS:
            u = place.site.reading_u_mm
        if u is not None:
            row["standard_uncertainty"] = {"value": u, "unit": "mm"}


AS_FOUND = Step("as-found", "As-found", _found_fields, _found, surveys=True, knows_more=_knows_more)
ALIGNMENT = Step("alignment", "Alignment rounds", _fields, _read, surveys=True, numbered=True, knows_more=_knows_more)
AS_LEFT = Step("as-left", "As-left", _left_fields, _left, surveys=True, knows_more=_knows_more)
