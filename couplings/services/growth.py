"""Coefficients of thermal expansion: what a site takes its machines' supports to grow by, and by which source."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from couplings.models import GrowthCoefficient
from couplings.services.checking import refuse, saved
from plant import access
from plant.models import Site
from plant.recording import bump, changed, current, removed
from plant.services.rows import errors_of, refuse_known_uuid, set_fields, taken

FIELDS = ("per_k", "per_k_u", "source")


def write_growth_coefficient(
    *,
    site: Site,
    material: str,
    mark: str = GrowthCoefficient.Mark.SITE,
    uuid: UUID | None = None,
    **fields: Any,
) -> GrowthCoefficient:
    """Write down what one material grows by, with its uncertainty, in millionths per kelvin."""
    access.require(current().by, "policy.write", site)
    refuse_known_uuid(GrowthCoefficient, uuid)
    row = GrowthCoefficient(site=site, material=material, mark=mark)
    set_fields(row, fields, FIELDS)
    if uuid is not None:
        row.uuid = uuid
    refuse(_errors(row) | _taken(row))
    saved(row, lambda: _taken(row))
    changed(row)
    return row


def change_growth_coefficient(
    *, row: GrowthCoefficient, expected: int | None = None, **fields: Any
) -> GrowthCoefficient:
    """Change a coefficient. With other figures or another source it is the site's own from then on."""
    access.require(current().by, "policy.write", row.site)
    bump(row, expected)
    before = {name: getattr(row, name) for name in FIELDS}
    set_fields(row, fields, FIELDS)
    if any(getattr(row, name) != value for name, value in before.items()):
        row.mark = GrowthCoefficient.Mark.SITE
    refuse(_errors(row))
    return saved(row, lambda: _taken(row))


def remove_growth_coefficient(*, row: GrowthCoefficient, expected: int | None = None) -> None:
    """Take a coefficient away: the starter of this material holds again. What was signed keeps its figure."""
    access.require(current().by, "policy.write", row.site)
    bump(row, expected)
    removed(row)
    row.delete()


def _errors(row: GrowthCoefficient) -> dict[str, str]:
    errors = errors_of(row)
    if not row.source.strip():
        errors["source"] = "Name the source of this coefficient: published ones do not agree."
    if not {"per_k", "per_k_u"} & set(errors) and row.per_k_u >= row.per_k:
        errors["per_k_u"] = "An uncertainty as large as the coefficient leaves nothing known: is the unit right?"
    return errors


def _taken(row: GrowthCoefficient) -> dict[str, str]:
    if not taken(row, "site_id", "material"):
        return {}
    return {"material": f"This site has a coefficient of {row.material} already: change that one."}
