"""What lies in store, and how old it is by the storage rules of its site."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime
from typing import Any

from django.db.models import QuerySet

from couplings.engineering.ageing import ElementAge
from couplings.engineering.conformity import NOT_KNOWN as UNKNOWN
from couplings.models import RemovalReason, SheetVersion, StockLot, StorageRule
from couplings.selectors.wear import age_by
from plant.models import Person, Site
from plant.sitetime import today_at


def stock_visible_to(person: Person) -> QuerySet[StockLot]:
    """Lots of the person's sites."""
    return StockLot.objects.visible_to(person).select_related("site")


def lots_to_fit(site: Site, part_number: str = "") -> list[StockLot]:
    """Lots that have something left, of one part or of all; the oldest first, for they go first."""
    lots = StockLot.objects.filter(site=site, count__gt=0).order_by("part_number", "cured_on", "pk")
    return list(lots.filter(part_number=part_number) if part_number else lots)


def removal_reasons(site: Site) -> list[RemovalReason]:
    """Reasons that a site offers."""
    return list(RemovalReason.objects.filter(site=site, in_use=True))


def storage_ages(lots: Sequence[StockLot], on: date) -> list[ElementAge | None]:
    """Age of each lot on a day by the rule that its site has in use; None where cure date or polymer is not known.

    In two queries, however many lots.
    """
    return _ages(lots, [on] * len(lots))


def _ages(lots: Sequence[StockLot], days: Sequence[date]) -> list[ElementAge | None]:
    sites = {lot.site_id for lot in lots}
    rules = list(StorageRule.objects.filter(site__in=sites)) if sites else []
    polymers = _polymers(lots)
    return [
        age_by(
            [rule for rule in rules if rule.site_id == lot.site_id],
            lot.polymer or polymers.get((lot.site_id, lot.part_number), ""),
            lot.cured_on,
            on,
        )
        for lot, on in zip(lots, days, strict=True)
    ]


def lots_by_verdict(lots: Sequence[StockLot], at: datetime, verdict: str) -> list[StockLot]:
    """Those of the lots whose age has this verdict on the day it is at their site; without a rule it is not known."""
    give_ages(lots, at)
    return [lot for lot in lots if _verdict(lot) == verdict]


def give_ages(lots: Sequence[StockLot], at: datetime) -> None:
    """Set `age` on each lot, on the day it is at its site."""
    for lot, age in zip(lots, _ages(lots, [today_at(lot.site, at) for lot in lots]), strict=True):
        lot.age = age  # type: ignore[attr-defined]


def _verdict(lot: Any) -> str:
    return lot.age.verdict if lot.age is not None else UNKNOWN


def _polymers(lots: Sequence[StockLot]) -> dict[tuple[int, str], str]:
    """What the published data sheets say a part is made of; nothing where they do not agree."""
    asked = {lot.part_number for lot in lots if not lot.polymer}
    if not asked:
        return {}
    said: dict[tuple[int, str], set[str]] = {}
    rows = SheetVersion.objects.filter(element_part__in=asked, published_at__isnull=False).exclude(element_polymer="")
    for site_id, part, polymer in rows.values_list("sheet__site_id", "element_part", "element_polymer"):
        said.setdefault((site_id, part), set()).add(polymer)
    return {key: next(iter(names)) for key, names in said.items() if len(names) == 1}
