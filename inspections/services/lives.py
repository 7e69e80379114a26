"""The lives of elements, fitted again each week; every fit is kept, one of each part is current."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from datetime import date
from typing import Any

from inspections.forecasting.life import FEW, Estimate, estimates
from inspections.forecasting.survival import Curve
from inspections.models import LifeFit
from inspections.selectors.lives import ElementLife, as_lives, by_type, counts_by_hours, element_lives
from plant.models import Site
from plant.recording import changed

FIGURES = 10
CURVE_ROWS = 200


def fit_lives(*, site: Site, today: date) -> list[LifeFit]:
    """Fit every family at a site; one with fewer than three failures there goes by the records of all sites."""
    mine = by_type(element_lives(site, today))
    everywhere: dict[str, dict[str, list[ElementLife]]] | None = None
    kept: list[LifeFit] = []
    for family in sorted(mine):
        types, level = mine[family], LifeFit.Level.SITE
        if _failures(types) < FEW and Site.objects.count() > 1:
            if everywhere is None:
                everywhere = by_type(
                    one for other in Site.objects.order_by("pk") for one in element_lives(other, today)
                )
            if _failures(everywhere[family]) >= FEW:
                types, level = everywhere[family], LifeFit.Level.ALL
        by_hours = counts_by_hours([one for group in types.values() for one in group])
        found = estimates({part: as_lives(group, by_hours) for part, group in types.items()})
        kept += [_kept(site, family, part, found[part], level, by_hours, today) for part in sorted(mine[family])]
    ids = {fit.pk for fit in kept}
    for fit in LifeFit.objects.filter(site=site, current=True).exclude(pk__in=ids):
        _end(fit)
    return kept


def _failures(types: Mapping[str, Iterable[ElementLife]]) -> int:
    return sum(math.isfinite(one.days[1]) for group in types.values() for one in group)


def _kept(
    site: Site, family: str, part: str, found: Estimate, level: str, by_hours: bool, today: date
) -> LifeFit:  # fmt: skip
    columns: dict[str, Any] = {
        "level": level,
        "basis": found.basis,
        "by_hours": by_hours,
        "elements": round(found.elements),
        "failures": round(found.failures),
        "family_failures": round(found.family_failures),
        "observed": _short(found.observed),
        "eta": _short(found.eta),
        "beta": _short(found.beta),
        "b10": _short(found.b10),
        "b10_limits": [_short(one) for one in found.b10_limits or ()],
        "beta_limits": [_short(one) for one in found.beta_limits or ()],
        "covariance": [_short(one) for one in found.covariance or ()],
        "limits_by": found.limits_by,
        "left_open": found.open,
        "curve": _rows(found.curve),
    }
    before = LifeFit.objects.filter(site=site, family=family, part_number=part, current=True).first()
    if before is not None:
        if all(getattr(before, name) == value for name, value in columns.items()):
            return before
        _end(before)
    fit = LifeFit.objects.create(site=site, family=family, part_number=part, fitted_on=today, **columns)
    changed(fit)
    return fit


def _end(fit: LifeFit) -> None:
    fit.current = False
    fit.version += 1
    fit.save(update_fields=["current", "version"])
    changed(fit)


def _rows(curve: Curve) -> list[list[float | None]]:
    """At most so many rows, the last among them."""
    columns = (curve.age, curve.at_risk, curve.failed, curve.survival, curve.low, curve.high)
    rows = [[_short(float(one)) for one in row] for row in zip(*columns, strict=True)]
    step = max(1, math.ceil(len(rows) / CURVE_ROWS))
    return rows[::-1][::step][::-1]


def _short(number: float | None) -> float | None:
    return None if number is None or not math.isfinite(number) else float(f"{number:.{FIGURES}g}")
