"""Legs in use of many couplings as arrays, read from their rows a group at a time, and the groups themselves."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from random import Random

import numpy as np

from couplings.models import Coupling
from inspections.forecasting.envelope import Envelope
from inspections.forecasting.groups import BY_ALL, BY_KIND, BY_SITE, ENOUGH, SAMPLE, Prior, weak_prior
from inspections.forecasting.legs import Legs
from inspections.models import DriftState, Leg
from inspections.selectors.beliefs import limits_from
from inspections.selectors.groups import kind_of

# Where a group's couplings have no limits of their own: a usual size of what speed grades allow, our own starter.
USUAL_OFFSET_MM, USUAL_SLOPE_MRAD = 0.05, 0.5
SEED = 8
PART = 2000  # couplings read at once


@dataclass(frozen=True)
class Group:
    """One group to fit: its level, the site (none for all), the kind, and its couplings that have a leg."""

    level: str
    site: int | None
    key: str
    couplings: tuple[int, ...]


def groups_to_fit() -> list[Group]:
    """All groups with enough couplings that have a leg in use, and the one of all, in a fixed order.

    A kind and a site make a group of their own from `ENOUGH` couplings on; what is fewer goes by the next larger one.
    """
    kinds: dict[tuple[int, str], list[int]] = {}
    sites: dict[int, list[int]] = {}
    everyone: list[int] = []
    with_legs = Leg.objects.filter(why_not="").values("coupling_id")
    rows = Coupling.objects.filter(pk__in=with_legs).select_related("site", "driver_machine", "driven_machine")
    for coupling in rows.order_by("pk").iterator(chunk_size=PART):
        kinds.setdefault((coupling.site_id, kind_of(coupling)), []).append(coupling.pk)
        sites.setdefault(coupling.site_id, []).append(coupling.pk)
        everyone.append(coupling.pk)
    found = [Group(BY_KIND, site, key, tuple(ids)) for (site, key), ids in sorted(kinds.items()) if len(ids) >= ENOUGH]
    found += [Group(BY_SITE, site, "", tuple(ids)) for site, ids in sorted(sites.items()) if len(ids) >= ENOUGH]
    return [*found, Group(BY_ALL, None, "", tuple(everyone))] if everyone else found


def sampled(group: Group, most: int = SAMPLE) -> list[int]:
    """Couplings of a group that a fit looks at: all, or so many of them, the same each time."""
    if len(group.couplings) <= most:
        return list(group.couplings)
    return sorted(Random(SEED).sample(group.couplings, most))


def legs_of_couplings(ids: Sequence[int], until: date | None = None) -> tuple[Legs, Envelope]:
    """Legs in use of these couplings, numbered in their order, and their limits; read a part at a time.

    `until`: only legs that had ended by that day.
    """
    place = {pk: number for number, pk in enumerate(ids)}
    parts: list[tuple[float, ...]] = []
    arrays: list[np.ndarray] = []
    for begin in range(0, len(ids), PART):
        rows = Leg.objects.filter(coupling_id__in=ids[begin : begin + PART], why_not="")
        rows = rows.filter(to_on__lte=until) if until is not None else rows
        columns = ("coupling_id", "days", "hours", "reset", "start", "end", "start_variance", "end_variance")
        for pk, days, hours, reset, *numbers in rows.order_by("coupling_id", "to_on", "pk").values_list(*columns):
            flat = [np.nan if one is None else one for four in numbers for one in four]
            parts.append((place[pk], days, np.nan if hours is None else hours, not reset, *flat))
        arrays.append(np.array(parts, dtype=float).reshape(-1, 20))
        parts = []
    all_rows = np.concatenate(arrays) if arrays else np.zeros((0, 20))
    all_rows = all_rows[np.argsort(all_rows[:, 0], kind="stable")]
    n = len(all_rows)
    nothing = np.zeros(n, dtype=np.int64)
    legs = Legs(
        all_rows[:, 0].astype(np.int64), all_rows[:, 1], all_rows[:, 2], all_rows[:, 4:8], all_rows[:, 8:12],
        all_rows[:, 12:16], all_rows[:, 16:20], all_rows[:, 3] > 0, np.zeros((n, 4)), nothing, nothing,
    )  # fmt: skip
    return legs, _limits(ids)


def _limits(ids: Sequence[int]) -> Envelope:
    kept: dict[int, dict[str, list[object]]] = {}
    for begin in range(0, len(ids), PART):
        kept |= dict(
            DriftState.objects.filter(coupling_id__in=ids[begin : begin + PART]).values_list("coupling_id", "limits")
        )
    return limits_from([kept.get(pk, {}) for pk in ids])


def prior_of(limits: Envelope) -> Prior:
    """A weak prior from the usual limits of a group: what offset alone, and slope alone, would use them up."""

    def usual(columns: Iterable[int], otherwise: float) -> float:
        steepest = np.abs(limits.arms[:, :, list(columns)]).max(axis=(1, 2))
        return float(np.median(1 / steepest[steepest > 0])) if (steepest > 0).any() else otherwise

    return weak_prior(usual((0, 1), USUAL_OFFSET_MM), usual((2, 3), USUAL_SLOPE_MRAD))
