"""Starter rows, each with its source, from fixtures/starters: families for everybody, grades for one site."""

from __future__ import annotations

import json
from typing import Any

from django.conf import settings

from couplings.models import Family, Grade
from couplings.services.grades import write_grade
from plant import access
from plant.models import Site
from plant.recording import current

FOLDER = settings.BASE_DIR / "fixtures" / "starters"


def load_starters(*, site: Site) -> None:
    """Give a site its starter grades, and the families to everybody; what stands already is left as it is."""
    access.require(current().by, "policy.write", site)
    for row in _rows("families"):
        Family.objects.get_or_create(code=row["code"], defaults=row)
    names = set(Grade.objects.filter(site=site).values_list("name", flat=True))
    for row in _rows("grades"):
        if row["name"] not in names:
            write_grade(site=site, **row)


def _rows(name: str) -> list[dict[str, Any]]:
    return json.loads((FOLDER / f"{name}.json").read_text(encoding="utf-8"))
