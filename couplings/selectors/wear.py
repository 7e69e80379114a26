"""What to look for on a coupling, and how old its element is against the site's storage policy."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import date
from typing import Any

from django.db.models import OuterRef, Subquery

from couplings.engineering.ageing import ElementAge, element_age
from couplings.engineering.tables.elastomers import StorageRow
from couplings.engineering.wear import WearCode as Code
from couplings.models import Family, SheetVersion, SheetWearLimit, StorageRule, WearCode, WearWording
from plant.models import Site

NO_POLICY = "none"
WORDED = ("title", "grade_0", "grade_1", "grade_2", "grade_3", "grade_4", "source")


def wear_codes_for(family: Family, site: Site | None = None) -> list[WearCode]:
    """The codes to look for on a family, in their order; with a site in its words, where it has its own."""
    codes = list(WearCode.objects.filter(families=family))
    own = {row.code: row for row in WearWording.objects.filter(site=site)} if site is not None else {}
    for code in codes:
        if code.code in own:
            for name in WORDED:
                setattr(code, name, getattr(own[code.code], name))
    return codes


def worded_at(site: Site, codes: Sequence[Code]) -> tuple[Code, ...]:
    """Codes for computing with in the site's words, where it has its own."""
    own = {row.code: row for row in WearWording.objects.filter(site=site)}
    return tuple(
        replace(code, title=own[code.code].title, grades=_grades(own[code.code]), source=own[code.code].source)
        if code.code in own
        else code
        for code in codes
    )


def _grades(row: WearWording) -> tuple[str | None, ...]:
    return tuple(text or None for text in (row.grade_0, row.grade_1, row.grade_2, row.grade_3, row.grade_4))


def code_of(row: WearCode) -> Code:
    """The same row for computing with; which family it is for has been asked already."""
    return Code(row.code, (), row.title, row.words, row.number, row.kind, row.fracture, row.source)


def wear_limits_for(version: SheetVersion) -> dict[str, float]:
    """The data sheet's limits by code. [mm], [deg], [1]"""
    return dict(SheetWearLimit.objects.filter(version=version).values_list("code__code", "limit"))


def with_kind(wordings: Any) -> Any:
    """Wordings of a site with the `kind` of their number, which the program's row of the code has."""
    return wordings.annotate(kind=Subquery(WearCode.objects.filter(code=OuterRef("code")).values("kind")[:1]))


def site_wear_limits(site: Site) -> dict[str, float]:
    """The site's own limits by code, which hold where a data sheet gives none. [mm], [deg], [1]"""
    rows = WearWording.objects.filter(site=site, limit__isnull=False).values_list("code", "limit")
    return {code: limit for code, limit in rows if limit is not None}


def age_of(site: Site, polymer: str, cured_on: date | None, on: date) -> ElementAge | None:
    """Age of an element by the rule that the site has in use for its polymer; None where too little is known.

    What other policies say differently stands in `conflicts`; without a rule in use the verdict is not known.
    """
    if not polymer:
        return None
    return age_by(StorageRule.objects.filter(site=site, polymer=polymer.upper()), polymer, cured_on, on)


def age_by(rules: Iterable[StorageRule], polymer: str, cured_on: date | None, on: date) -> ElementAge | None:
    """The same by rules of one site that were fetched before."""
    if not polymer or cured_on is None or on < cured_on:
        return None
    policies: dict[str, list[StorageRow]] = {NO_POLICY: []}
    chosen = NO_POLICY
    for rule in rules:
        if rule.polymer != polymer.upper():
            continue
        row = StorageRow(rule.polymer, rule.initial_years, rule.extension_years, rule.group, rule.source, rule.mark)
        policies.setdefault(rule.policy, []).append(row)
        if rule.in_use:
            chosen = rule.policy
    found = element_age(polymer, cured_on, on, chosen, policies)
    if chosen == NO_POLICY:
        reason = f"No storage rule is in use for {polymer.upper()} at this site: an engineer chooses one."
        return replace(found, policy="", reason=reason)
    return found


def age_sentence(age: ElementAge) -> str:
    """How old it is, what the rule in use says of it, and what other sources say differently."""
    by = f" By {age.policy}:" if age.policy else ""
    return " ".join(
        [f"{age.polymer.upper()}, {age.age_years:.1f} years since its cure date.{by} {age.reason}", *age.conflicts]
    )
