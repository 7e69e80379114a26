"""Adopting a version of a data sheet: from now on these fits are held to it. What was signed keeps its own version."""

from __future__ import annotations

from collections.abc import Sequence

from couplings.models import Fit, SheetVersion
from couplings.selectors.limit_changes import not_adoptable
from plant import access
from plant.recording import bump, current, told
from plant.refusals import Refused
from plant.sitetime import today_at


def adopt_version(*, version: SheetVersion, fits: Sequence[Fit], expected: int | None = None) -> list[Fit]:
    """Hold these fits to a published version of their data sheet; with `expected`, as the sheet was read.

    Every fit is of this sheet, in place, and on another version. A limit change has to be approved and its day to have
    come. Open checks and flags follow; nothing that was judged before is judged again.
    """
    unit = current()
    site = version.sheet.site
    access.require(unit.by, "limit.approve", site)
    bump(version.sheet, expected)
    if why := not_adoptable(version, today_at(site, unit.at)):
        raise Refused({"version": why}, "not-adoptable")
    if not fits:
        raise Refused({"fits": "Choose at least one fit that adopts this version."})
    for fit in {fit.pk: fit for fit in fits}.values():
        bump(fit)
    # Read under the locks the bumps took, so that what somebody changed meanwhile is seen.
    keys = [fit.pk for fit in fits]
    rows = {row.pk: row for row in Fit.objects.filter(pk__in=keys).select_related("coupling", "sheet_version")}
    errors = {
        f"fits.{no}": why for no, pk in enumerate(keys) if (why := _refusal(rows[pk], version, keys.index(pk) < no))
    }
    if errors:
        raise Refused(errors)
    for fit in fits:
        row, before = rows[fit.pk], rows[fit.pk].sheet_version.number
        fit.sheet_version = version
        fit.save()
        told(
            "sheet.adopted",
            row.coupling,
            {
                "fit": str(fit.uuid),
                "data_sheet": str(version.sheet.uuid),
                "from_version": before,
                "to_version": version.number,
            },
        )
    return list(fits)


def _refusal(fit: Fit, version: SheetVersion, again: bool) -> str:
    """Why this fit cannot adopt the version; empty where it can."""
    if again:
        return "This fit is named twice."
    if fit.sheet_version.sheet_id != version.sheet_id:
        return f"{fit.coupling.tag} is fitted by another data sheet."
    if fit.removed_on is not None:
        return f"This fit was removed from {fit.coupling.tag} on {fit.removed_on}."
    if fit.sheet_version_id == version.pk:
        return f"{fit.coupling.tag} is held to version {version.number} already."
    return ""
