"""Whom a new version of a data sheet touches: the fits still on older ones, and what would change for each."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date

from couplings.models import Fit, SheetVersion
from couplings.selectors.sheet_comparison import Difference, compare_versions
from couplings.selectors.sheets import with_rows
from plant.models import Person


@dataclass(frozen=True)
class Preview:
    """How the coupling was left last, and how the same figures read by the new limits. History is not judged again."""

    left_on: date
    verdict_then: str
    verdict_by_new: str
    tolerance_used_then: float | None
    tolerance_used_by_new: float | None


@dataclass(frozen=True)
class Touched:
    """One fit on an older version. `preview` is None where nothing was left on record."""

    fit: Fit
    number: int
    differences: tuple[Difference, ...]
    preview: Preview | None

    @property
    def held_to(self) -> tuple[Difference, ...]:
        """The differences that somebody is held to."""
        return tuple(one for one in self.differences if one.held_to)


Look = Callable[[list[Fit], SheetVersion], dict[int, Preview]]
_looks: list[Look] = []


def preview_with(look: Look) -> None:
    """Have previews made by the app that knows how couplings were left; told once at the start."""
    _looks[:] = [look]


def fits_on_older(version: SheetVersion, person: Person | None = None) -> list[Fit]:
    """Fits in place that were made by an earlier version of the same data sheet, by the tag of their coupling.

    With `person` only those that this person may see: a contractor reads the sheet, not the rest of the site.
    """
    rows = (Fit.objects.visible_to(person) if person is not None else Fit.objects.all()).filter(
        sheet_version__sheet_id=version.sheet_id, sheet_version__number__lt=version.number, removed_on__isnull=True
    )
    joined = rows.select_related("site", "coupling__train__area", "coupling__grade", "sheet_version__sheet__family")
    return list(joined.prefetch_related("coupling__target_parts").order_by("coupling__tag", "pk"))


def touched_by(version: SheetVersion, system: str, person: Person | None = None) -> list[Touched]:
    """Every fit that adopting this version would touch, with what changes for it and how it was left last.

    With `person` only those that this person may see.
    """
    fits = fits_on_older(version, person)
    previews = _looks[0](fits, version) if fits and _looks else {}
    apart = _differences({fit.sheet_version_id for fit in fits}, version, system)
    return [Touched(fit, fit.sheet_version.number, apart[fit.sheet_version_id], previews.get(fit.pk)) for fit in fits]


def _differences(keys: Iterable[int], version: SheetVersion, system: str) -> dict[int, tuple[Difference, ...]]:
    rows = {row.pk: row for row in with_rows(SheetVersion.objects.filter(pk__in=[*keys, version.pk]))}
    target = rows.get(version.pk, version)
    return {key: tuple(compare_versions(row, target, system)) for key, row in rows.items() if key != version.pk}
