"""What couplings of a group have in common, fitted again each week; every fit is kept, one of each group is current."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from inspections.forecasting.groups import BY_ALL, fit_group
from inspections.forecasting.parameters import GroupFit as Fitted
from inspections.models import DriftState, GroupFit
from inspections.selectors.fleet_legs import Group, groups_to_fit, legs_of_couplings, prior_of, sampled
from inspections.selectors.groups import LISTS, PLAIN
from plant.models import Site
from plant.recording import changed, current

FIGURES = 12


def fit_groups(*, on: date, done: Iterable[str] = ()) -> None:
    """Fit every group at once; for a demonstration plant and for a few sites. The weekly job does one at a time."""
    groups = groups_to_fit()
    for group in groups:
        if name_of(group) not in done:
            fit_one(group=group, on=on)
    end_others(groups=groups)


def name_of(group: Group) -> str:
    """A group by a short text that a run keeps as its progress."""
    return f"{group.level}:{group.site or ''}:{group.key}"


def fit_one(*, group: Group, on: date) -> list[GroupFit]:
    """Fit one group on the legs in use and keep the result for the sites that go by it.

    A second fit on the same day replaces nothing that is the same. Couplings follow when their forecasts are drawn
    again.
    """
    ids = sampled(group)
    legs, limits = legs_of_couplings(ids)
    if not len(legs):
        return []
    found = fit_group(legs, prior_of(limits), limits)
    sites = [group.site] if group.site is not None else list(_sites_of(group))
    return [_kept(site, group, found, on) for site in sites if site is not None]


def end_others(*, groups: Iterable[Group]) -> None:
    """Fits of groups that are none any more are kept and no longer gone by."""
    kept = {(group.level, group.site, group.key) for group in groups}
    for fit in GroupFit.objects.filter(current=True):
        place = (fit.level, None if fit.level == BY_ALL else fit.site_id, fit.key)
        if place not in kept:
            _end(fit)


def sites_with_states() -> list[Site]:
    """Sites whose forecasts follow a new fit."""
    return list(Site.objects.filter(pk__in=DriftState.objects.values("site_id")).order_by("pk"))


def _sites_of(group: Group) -> Iterable[int]:
    """Every site, so that a coupling without company of its own kind has the fit of all to go by."""
    return Site.objects.order_by("pk").values_list("pk", flat=True)


def _kept(site_id: int, group: Group, found: Fitted, on: date) -> GroupFit:
    columns = {name: [_short(one) for one in getattr(found, name)] for name in LISTS}
    plain = {name: getattr(found, name) for name in PLAIN}
    plain |= {name: _short(plain[name]) for name in ("jumps_per_year", "log_likelihood")}
    standing = GroupFit.objects.filter(site_id=site_id, level=group.level, key=group.key, current=True).first()
    wanted = columns | plain
    if standing is not None:
        if standing.fitted_on == on and all(getattr(standing, name) == value for name, value in wanted.items()):
            return standing
        _end(standing)
    unit = current()
    fit = GroupFit.objects.create(
        site_id=site_id, level=group.level, key=group.key, fitted_on=on, fitted_at=unit.at, **wanted
    )
    changed(fit)
    return fit


def _end(fit: GroupFit) -> None:
    fit.current = False
    fit.version += 1
    fit.save(update_fields=["current", "version"])
    changed(fit)


def _short(number: float) -> float:
    return float(f"{number:.{FIGURES}g}")
