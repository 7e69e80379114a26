"""Checks of one train that fall together, offered as one outing."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date

from couplings.models import Fit
from inspections.models import Check, CheckKind
from plant.models import Site, Train


@dataclass
class Outing:
    """What can be done at one train at one time.

    `from_on` to `until_on` are the days on which every check of it is inside its window.
    """

    train: Train
    checks: list[Check]
    from_on: date
    until_on: date
    parts: list[str] = field(default_factory=list)

    @property
    def needs_stop(self) -> bool:
        return any(check.needs_stop for check in self.checks)

    @property
    def due_on(self) -> date:
        return min(check.due_on for check in self.checks)

    @property
    def crew_size(self) -> int:
        return max(check.crew_size for check in self.checks)

    @property
    def crew_hours(self) -> float:
        """Hours of work of all hands together."""
        return sum(check.crew_hours * check.crew_size for check in self.checks)

    @property
    def hours_by_craft(self) -> dict[str, float]:
        """Hours of work by craft: whoever aligns and tightens is one, who fills lubricant another."""
        hours: dict[str, float] = {}
        for check in self.checks:
            craft = CRAFTS.get(check.kind, MECHANICAL)
            hours[craft] = hours.get(craft, 0.0) + check.crew_hours * check.crew_size
        return hours

    @property
    def pinned_on(self) -> date | None:
        return next((check.pinned_on for check in self.checks if check.pinned_on is not None), None)


MECHANICAL, LUBRICATION, ROUNDS = "mechanical", "lubrication", "rounds"
CRAFTS = {CheckKind.LUBRICANT.value: LUBRICATION, CheckKind.LOOK.value: ROUNDS}


def outings_at(site: Site, until: date, *, train: Train | None = None) -> list[Outing]:
    """Open checks due by a day at a site, those of one train whose windows overlap as one outing, soonest first.

    A running look is offered with the others only where its window overlaps too; that the others need a stop does
    not hinder looking. Trains out of service or uncoupled don't come due.
    """
    rows = (
        Check.objects.filter(
            site=site,
            settled_on__isnull=True,
            due_on__lte=until,
            coupling__retired_on__isnull=True,
            coupling__train__service=Train.Service.IN,
        )
        .select_related("site", "coupling__train__area", "deferred_by", "owner")
        .order_by("coupling__train_id", "closes_on", "opens_on", "id")
    )
    if train is not None:
        rows = rows.filter(coupling__train=train)
    outings: list[Outing] = []
    for check in rows:
        first, last = _window(check)
        outing = next((one for one in reversed(outings) if _fits(one, check, first, last)), None)
        if outing is None:
            outings.append(Outing(check.coupling.train, [check], first, last))
        else:
            outing.checks.append(check)
            outing.from_on, outing.until_on = max(outing.from_on, first), min(outing.until_on, last)
    _read_parts(outings)
    return sorted(outings, key=lambda one: (one.due_on, one.train.tag))


def _window(check: Check) -> tuple[date, date]:
    """The days on which it may be done; where somebody pinned it, that one day."""
    return (check.pinned_on, check.pinned_on) if check.pinned_on is not None else (check.opens_on, check.closes_on)


def _fits(outing: Outing, check: Check, first: date, last: date) -> bool:
    same = outing.train.pk == check.coupling.train_id
    return same and first <= outing.until_on and last >= outing.from_on


def _read_parts(outings: list[Outing]) -> None:
    """The element that an element replacement needs, by its part number."""
    wanted = {check.coupling_id for one in outings for check in one.checks if check.kind == CheckKind.ELEMENT}
    parts = (
        dict(
            Fit.objects.filter(coupling_id__in=wanted, removed_on__isnull=True)
            .exclude(sheet_version__element_part="")
            .values_list("coupling_id", "sheet_version__element_part")
        )
        if wanted
        else {}
    )
    for one in outings:
        kinds = [check for check in one.checks if check.kind == CheckKind.ELEMENT]
        one.parts = [parts[check.coupling_id] for check in kinds if check.coupling_id in parts]
