"""Run hours of a train, as its meter showed them."""

from datetime import datetime, timedelta

from plant import access
from plant.models import Meter, MeterReading, Train
from plant.recording import bump, changed, current
from plant.refusals import Refused
from plant.services.rows import errors_of

# A meter on the wall and our clock may differ a little; an hour gained on top of the time passed is no mistake.
_SLACK_HOURS = 1.0
NONE_THEN = "The meter has no reading of this time that could be struck."


def record_run_hours(*, train: Train, at: datetime, hours: float, replaced: bool = False) -> MeterReading:
    """One reading of the hour meter. `replaced`: a new meter was put in, and it stood at `hours`.

    The total is the reading plus an offset, which carries on where the meter before stopped. Hours never fall, and
    never rise faster than time passes.
    """
    unit = current()
    access.require(unit.by, "meter.write", train.site_id)
    meter = Meter.objects.filter(train=train).first()
    if meter is None:
        meter = Meter.objects.create(train=train, site_id=train.site_id)
        changed(meter)
    else:
        bump(meter)
    counted = MeterReading.objects.counted().filter(meter=meter)
    before = counted.filter(at__lt=at).order_by("-at").first()
    after = counted.filter(at__gt=at).order_by("at").first()
    offset = before.offset_hours if before else 0.0
    errors: dict[str, str] = {}
    if replaced:
        if before is None:
            errors["replaced"] = "There is no earlier reading that a new meter could carry on from."
        elif after is not None:
            errors["replaced"] = "There are later readings: a meter cannot be replaced before them."
        else:
            offset = _total(before) - hours
    reading = MeterReading(meter=meter, at=at, hours=hours, offset_hours=offset)
    errors |= errors_of(reading)
    if at > unit.at + timedelta(minutes=5):
        errors["at"] = "This lies in the future."
    elif counted.filter(at=at).exists():
        errors["at"] = "The meter was read at this time already."
    problem = _against(before, reading) or _against(reading, after)
    if problem and not replaced:
        errors.setdefault("hours", problem)
    if errors:
        raise Refused(errors)
    reading.save()
    return reading


def strike_run_hours(*, train: Train, at: datetime, reason: str, expected: int | None = None) -> MeterReading:
    """Strike the reading of this time as mistyped. It is kept and shown struck, and counts for nothing.

    Dates that were reckoned with it follow in the same unit of work. `expected` is the version of the meter.
    """
    unit = current()
    access.require(unit.by, "meter.write", train.site_id)
    meter = Meter.objects.filter(train=train).first()
    if meter is None:
        raise Refused({"at": NONE_THEN})
    bump(meter, expected)
    counted = MeterReading.objects.counted().filter(meter=meter)
    reading = counted.filter(at=at).first()
    if reading is None:
        raise Refused({"at": NONE_THEN})
    before, after = counted.filter(at__lt=at).order_by("-at").first(), counted.filter(at__gt=at).order_by("at").first()
    reading.struck_at, reading.struck_by, reading.struck_reason = unit.at, unit.by, reason.strip()
    errors = {field.replace("struck_reason", "reason"): message for field, message in errors_of(reading).items()}
    if not reading.struck_reason:
        errors["reason"] = "Say what is wrong with it, such as a digit too many."
    if before is not None and after is not None and reading.offset_hours != before.offset_hours:
        errors["at"] = "A new meter was put in with this reading and later ones count on from it: strike those first."
    if errors:
        raise Refused(errors)
    reading.save()
    return reading


def _total(reading: MeterReading) -> float:
    return reading.hours + reading.offset_hours


def _against(earlier: MeterReading | None, later: MeterReading | None) -> str | None:
    """What is wrong between two readings that follow each other, if anything."""
    if earlier is None or later is None:
        return None
    run = _total(later) - _total(earlier)
    passed = (later.at - earlier.at).total_seconds() / 3600
    if run < 0:
        return (
            f"The meter would run backwards: {earlier.hours:g} h at {earlier.at:%Y-%m-%d %H:%M} UTC, then "
            f"{later.hours:g} h. If a new meter was put in, say so."
        )
    if run > passed + _SLACK_HOURS:
        return f"{run:g} h of running do not fit into the {passed:.1f} h between two readings."
    return None
