"""Which group a coupling learns from, and the parameters of its last fit."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from couplings.models import Coupling
from inspections.forecasting.parameters import GroupFit as Fitted
from inspections.models import GroupFit
from plant.models import Machine, Person
from plant.models.roots import RootQuerySet

LISTS = ("rate", "rate_error", "rate_variance", "diffusion", "jump_variance", "left_variance")
PLAIN = ("jumps_per_year", "by_hours", "couplings", "legs", "flagged", "log_likelihood")


def kind_of(coupling: Coupling) -> str:
    """Support type and machine class of both machines in words: what couplings of one kind have in common."""

    def of(machine: Machine) -> str:
        name, mounting = " ".join(machine.name.casefold().split()), machine.mounting
        material = machine.support_material or coupling.site.support_material
        return f"{name}, {mounting}, {material}" if mounting == Machine.Mounting.FEET else f"{name}, {mounting}"

    return f"{of(coupling.driver_machine)}; {of(coupling.driven_machine)}"


def fits_for(couplings: Iterable[Coupling]) -> dict[int, GroupFit]:
    """The fit that each coupling goes by, by coupling id: of its kind, else of its site, else of all; in one query."""
    couplings = list(couplings)
    rows = GroupFit.objects.filter(site_id__in={one.site_id for one in couplings}, current=True)
    known = {(row.site_id, row.level, row.key): row for row in rows}
    found = {}
    for coupling in couplings:
        for level, key in (
            (GroupFit.Level.KIND, kind_of(coupling)), (GroupFit.Level.SITE, ""), (GroupFit.Level.ALL, ""),
        ):  # fmt: skip
            if (fit := known.get((coupling.site_id, level, key))) is not None:
                found[coupling.pk] = fit
                break
    return found


def fitted(row: GroupFit) -> Fitted:
    """The parameters of a fit, for computing with. [mm/year, mrad/year] and squares"""
    lists: dict[str, Any] = {name: tuple(float(one) for one in getattr(row, name)) for name in LISTS}
    return Fitted(**lists, **{name: getattr(row, name) for name in PLAIN})


def group_fits_visible_to(person: Person) -> RootQuerySet:
    """Fits at the sites a person reads."""
    rows: RootQuerySet = GroupFit.objects.visible_to(person).select_related("site")
    return rows
