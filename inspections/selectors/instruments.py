"""Which visits an instrument measured in, and what its certificates say of those days."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import Q, QuerySet

from couplings.models import Calibration, Instrument
from couplings.selectors.instruments import calibration_then, next_calibration
from inspections.models import Mounting, PipeStrain, ReadingSet, RunOut, SetScrew, SoftFoot, Torque, Visit, Wear
from plant.models import Person

# What was measured, the model it stands in, its way to the signed text, its columns that name an instrument.
MEASURED = (
    ("alignment", ReadingSet, "survey__record", ("instrument",)),
    ("run-out", RunOut, "record", ("instrument",)),
    ("pipe strain", PipeStrain, "record", ("instrument",)),
    ("soft foot", SoftFoot, "record", ("instrument",)),
    ("mounting of the hubs", Mounting, "record", ("bore_instrument", "shaft_instrument", "wrench_instrument")),
    ("set screws", SetScrew, "record", ("instrument",)),
    ("fasteners", Torque, "record", ("instrument",)),
    ("wear", Wear, "record", ("instrument",)),
)


@dataclass(frozen=True)
class Use:
    """One visit that an instrument measured in: what, and whether its calibration held on that day.

    `next_one` is the certificate that followed: found outside by it, the figures of this visit are in doubt.
    """

    visit: Visit
    measured: tuple[str, ...]
    calibration: str
    next_one: Calibration | None

    @property
    def in_doubt(self) -> bool:
        """Whether the next certificate found the instrument outside its limits."""
        return self.next_one is not None and self.next_one.result != Calibration.Result.WITHIN


def instrument_visits(instrument: Instrument, person: Person) -> QuerySet[Visit]:
    """Signed visits this person may read whose texts in force name the instrument, the latest first."""
    found = Q(pk__in=[])
    for _what, model, record, columns in MEASURED:
        named = _naming(columns, instrument)
        rows = model._default_manager.filter(named, **{f"{record}__feeds__isnull": False})
        found |= Q(pk__in=rows.values(f"{record}__visit_id"))
    visits = Visit.objects.visible_to(person).filter(found)
    return visits.select_related("site", "coupling").order_by("-on", "-pk")


def instrument_uses(instrument: Instrument, visits: Iterable[Visit]) -> list[Use]:
    """What it measured in each of these visits; one query per kind of measurement, however many visits."""
    visits = list(visits)
    measured: dict[int, list[str]] = {visit.pk: [] for visit in visits}
    for what, model, record, columns in MEASURED if visits else ():
        rows = model._default_manager.filter(
            _naming(columns, instrument),
            **{f"{record}__feeds__isnull": False, f"{record}__visit__in": list(measured)},
        )
        for pk in rows.order_by().values_list(f"{record}__visit_id", flat=True).distinct():
            measured[pk].append(what)
    certificates = list(instrument.calibrations.all())
    return [
        Use(
            visit,
            tuple(measured[visit.pk]),
            calibration_then(instrument, certificates, visit.on),
            next_calibration(certificates, visit.on),
        )
        for visit in visits
    ]


def _naming(columns: Iterable[str], instrument: Instrument) -> Q:
    named = Q(pk__in=[])
    for column in columns:
        named |= Q(**{column: instrument})
    return named
