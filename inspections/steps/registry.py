"""What a visit step is. The rows themselves stand in inspections/steps/__init__.py."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from functools import cached_property
from typing import Any, Protocol

from django.db import models
from django.db.models import prefetch_related_objects

from couplings.models import HubHalf, Instrument, SheetScrew
from inspections import rules
from inspections.models import Torque, Visit
from inspections.selectors.torques import earlier_torques
from plant.calculations import FormField
from plant.sitetime import today_at


@dataclass
class Place:
    """Where a step is read: the visit, and the instant at which its entry was typed (what "future" is measured by)."""

    visit: Visit
    at: datetime
    amending: bool = False

    @property
    def site(self) -> Any:
        return self.visit.site

    @property
    def system(self) -> str:
        return self.visit.site.units

    @property
    def version(self) -> Any:
        return self.visit.sheet_version

    @property
    def today(self) -> date:
        return today_at(self.visit.site, self.at)

    @cached_property
    def instruments(self) -> list[Instrument]:
        found = list(Instrument.objects.filter(site_id=self.visit.site_id, retired_on__isnull=True))
        prefetch_related_objects([one for one in found if one.operations_limit is not None], "calibrations")
        return found

    @cached_property
    def hubs(self) -> list[HubHalf]:
        """The hub halves in the fit now."""
        return list(HubHalf.objects.filter(fit_id=self.visit.fit_id, removed_on__isnull=True))

    @cached_property
    def screws(self) -> list[SheetScrew]:
        """Screws by bore of the data sheet."""
        return list(SheetScrew.objects.filter(version_id=self.visit.sheet_version_id))

    @cached_property
    def joints(self) -> list[Any]:
        return list(self.visit.sheet_version.joints.all())

    @cached_property
    def earlier_torques(self) -> list[Torque]:
        return earlier_torques(self.visit)


@dataclass(frozen=True)
class Found:
    """One figure of a step against its limit, in words: what it is of, what it says, and the verdict."""

    subject: str
    sentence: str
    verdict: str

    @property
    def words(self) -> str:
        return f"{self.subject}: {self.verdict}. {self.sentence}"


@dataclass
class Read:
    """A step as it was understood.

    `errors`: what was typed and cannot be taken, by field. `missing`: what is not there yet, by field. `warnings`:
    findings that stop nobody. `found`: what was judged, whatever the verdict; `notes`: what follows from it. `values`
    is None unless there are neither errors nor anything missing. `excused` holds the reason where a step was not
    measured.
    """

    values: Any = None
    errors: dict[str, str] = field(default_factory=dict)
    missing: dict[str, str] = field(default_factory=dict)
    warnings: list[str] = field(default_factory=list)
    found: list[Found] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    excused: str = ""

    @property
    def complete(self) -> bool:
        return not self.errors and not self.missing


Typed = Mapping[str, str]
FieldsOf = Callable[[Visit, Typed], list[FormField]]
Reader = Callable[[Typed, Place], Read]


@dataclass(frozen=True)
class Offer:
    """What one press of a button enters; it is saved like anything typed."""

    name: str
    label: str
    fields: dict[str, str]


class Told(Protocol):
    """What a step tells beside its form: by a fragment above it, one in its result, and over the API."""

    @property
    def above(self) -> str: ...

    @property
    def below(self) -> str: ...

    def answer(self, system: str) -> dict[str, Any]: ...


@dataclass(frozen=True)
class Step:
    """One step of a visit.

    - `fields(visit, typed)`: the rows of its form; their kind is one of plant.units, or text, choice, date, instant,
      count, instrument.
    - `read(typed, place)`: what was typed, understood.
    - `facts(values, place)`: the unsaved rows of the model `stores` (and of those `beside` it) that signing writes;
      `surveys` says that it gives a survey instead.
    - `strange(names, visit, typed)`: which of these names belong to no field of it.
    - `tells(visit, typed)`: what it says beside the form; `offers(visit, typed)`: what its buttons enter.
    - `applies(visit)`: whether the data sheet or the machines give it anything to ask; else `spared` says why not.
    - `caution`: what can hurt whoever does it.
    - `wanted(visit)`: whether signing may wait for it, where the kind of visit does.
    """

    key: str
    title: str
    fields: FieldsOf
    read: Reader
    facts: Callable[[Any, Place], list[Any]] = lambda values, place: []
    stores: type[models.Model] | None = None
    needs_isolation: bool = True
    numbered: bool = False
    surveys: bool = False
    filled: bool = True
    tells: Callable[[Visit, Typed], Told | None] = lambda visit, typed: None
    offers: Callable[[Visit, Typed], list[Offer]] = lambda visit, typed: []
    knows_more: Callable[[str, Visit], bool] = lambda name, visit: False
    applies: Callable[[Visit], bool] = lambda visit: True
    spared: str = "The data sheet has nothing to enter here."
    wanted: Callable[[Visit], bool] = lambda visit: True
    beside: tuple[type[models.Model], ...] = ()
    caution: str = ""

    def asked(self, visit: Visit) -> bool:
        """Whether this visit has the step: its kind asks for it, and the data sheet or machines give it something."""
        return rules.asks(visit.kind, self.key) and self.applies(visit)

    def why_spared(self, visit: Visit) -> str:
        """Why this visit does not have the step."""
        if not rules.asks(visit.kind, self.key):
            return f"A visit of the kind {visit.get_kind_display()} does not have this step."
        return self.spared

    @property
    def kept(self) -> tuple[type[models.Model], ...]:
        """Every model whose rows signing writes for this step."""
        return ((self.stores,) if self.stores is not None else ()) + self.beside

    def strange(self, names: Iterable[str], visit: Visit, typed: Typed) -> list[str]:
        """Names of fields that do not belong to the step."""
        own = {row.name for row in self.fields(visit, typed)}
        return [name for name in names if name not in own and not self.knows_more(name, visit)]
