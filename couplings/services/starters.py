"""Starter rows, each with its source, from fixtures/starters and the tables of couplings/engineering.

Families and wear codes are for everybody; grades, storage rules, coefficients of growth, reasons for removals and
tables for one site.
"""

from __future__ import annotations

import json
from typing import Any

from django.conf import settings

from couplings.engineering.tables.coefficients import STARTER_COEFFICIENTS
from couplings.engineering.tables.elastomers import STORAGE_POLICIES
from couplings.engineering.wear import WORDS, wear_codes
from couplings.models import Family, Grade, GrowthCoefficient, RemovalReason, StorageRule, WearCode
from couplings.services.grades import write_grade
from couplings.services.growth import write_growth_coefficient
from couplings.services.stock import write_removal_reason
from couplings.services.storage import write_storage_rule
from couplings.services.tables import TABLES, load_table
from plant import access
from plant.models import Site
from plant.recording import current

FOLDER = settings.BASE_DIR / "fixtures" / "starters"


def load_starters(*, site: Site) -> None:
    """Give a site its starter grades, storage rules, coefficients and tables, families and wear codes to everybody.

    What stands already is left as it is. Of two policies that speak of one polymer the first is in use.
    """
    access.require(current().by, "policy.write", site)
    load_for_everybody()
    load_grades(site=site)
    load_storage_rules(site=site)
    load_removal_reasons(site=site)
    load_growth_coefficients(site=site)
    for model in TABLES:
        load_table(model=model, site=site)


def load_for_everybody() -> None:
    """The families and wear codes there are not yet."""
    standing = set(Family.objects.values_list("code", flat=True))
    Family.objects.bulk_create([Family(**row) for row in _rows("families") if row["code"] not in standing])
    _load_wear_codes()


def load_grades(*, site: Site) -> list[Grade]:
    """Give a site the starter grades it does not have."""
    access.require(current().by, "policy.write", site)
    names = set(Grade.objects.filter(site=site).values_list("name", flat=True))
    held = set("".join(Grade.objects.filter(site=site).values_list("criticalities", flat=True)))
    loaded = []
    for row in _rows("grades"):
        if row["name"] not in names:
            # Criticalities that the site holds to a grade of its own stay with that one.
            free = "".join(letter for letter in row["criticalities"] if letter not in held)
            loaded.append(write_grade(site=site, **row | {"criticalities": free}))
    return loaded


def _load_wear_codes() -> None:
    families = {family.code: family for family in Family.objects.all()}
    rows = _rows("wear_codes")
    wear_codes(rows, tuple(families))  # refuses a row that cannot be meant
    standing = set(WearCode.objects.values_list("code", flat=True))
    fresh = {row["code"]: row for row in rows if row["code"] not in standing}
    codes = WearCode.objects.bulk_create([_wear_code(row) for row in fresh.values()])
    link = WearCode.families.through
    link.objects.bulk_create(
        [
            link(wearcode_id=code.pk, family_id=families[name].pk)
            for code in codes
            for name in fresh[code.code]["families"]
        ]
    )


def _wear_code(row: dict[str, Any]) -> WearCode:
    words = {f"grade_{grade}": row["grades"][grade] or "" for grade in range(len(WORDS))}
    plain = {name: row[name] for name in ("code", "title", "number", "kind", "source") if name in row}
    marks = {name: row.get(name, False) for name in ("fracture", "of_element")}
    return WearCode(**plain, **words, **marks)


def load_storage_rules(*, site: Site) -> list[StorageRule]:
    """Give a site the starter rules of storage it does not have; of two for one polymer the first is in use."""
    access.require(current().by, "policy.write", site)
    loaded = []
    standing = set(StorageRule.objects.filter(site=site).values_list("polymer", "policy", "in_use"))
    known = {(polymer, policy) for polymer, policy, _ in standing}
    used = {polymer for polymer, _, in_use in standing if in_use}
    for policy, rows in STORAGE_POLICIES.items():
        for row in rows:
            if (row.polymer, policy) in known:
                continue
            rule = write_storage_rule(
                site=site,
                polymer=row.polymer,
                policy=policy,
                mark=StorageRule.Mark.PUBLISHED,
                group=row.group,
                initial_years=row.initial_years,
                extension_years=row.extension_years,
                in_use=row.polymer not in used,
                source=row.source,
            )
            loaded.append(rule)
            used.add(row.polymer)
    return loaded


def load_removal_reasons(*, site: Site) -> list[RemovalReason]:
    """Give a site the starter reasons for removals that it does not have."""
    access.require(current().by, "policy.write", site)
    standing = set(RemovalReason.objects.filter(site=site).values_list("code", flat=True))
    return [write_removal_reason(site=site, **row) for row in _rows("removal_reasons") if row["code"] not in standing]


def load_growth_coefficients(*, site: Site) -> list[GrowthCoefficient]:
    """Give a site the starter coefficients it does not have."""
    access.require(current().by, "policy.write", site)
    loaded = []
    standing = set(GrowthCoefficient.objects.filter(site=site).values_list("material", flat=True))
    for row in STARTER_COEFFICIENTS:
        if row.material in standing:
            continue
        coefficient = write_growth_coefficient(
            site=site,
            material=row.material,
            mark=row.mark,
            # A figure printed per degree Fahrenheit comes with dust from its conversion.
            per_k=round(row.alpha, 6),
            per_k_u=round(row.alpha_u, 6),
            source=row.source,
        )
        loaded.append(coefficient)
    return loaded


def _rows(name: str) -> list[dict[str, Any]]:
    return json.loads((FOLDER / f"{name}.json").read_text(encoding="utf-8"))
