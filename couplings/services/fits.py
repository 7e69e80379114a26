"""What is physically at a coupling: fitted, measured, removed, and the wearing elements in it."""

from __future__ import annotations

from datetime import date
from typing import Any
from uuid import UUID

from couplings import rules
from couplings.models import Coupling, Element, Fit, SheetVersion
from couplings.selectors.limit_changes import not_adoptable
from couplings.services.checking import refuse, saved
from plant import access
from plant.models import Site
from plant.recording import bump, changed, current, told
from plant.refusals import Refused
from plant.services.rows import errors_of, refuse_known_uuid, set_fields
from plant.sitetime import today_at

FIELDS = ("serial", "match_marks", "dbse_mm")
REMOVED_WITH_FIT = "removed with the coupling it was in"


def install_fit(
    *,
    coupling: Coupling,
    sheet_version: SheetVersion,
    fitted_on: date,
    serial: str = "",
    match_marks: str = "",
    dbse_mm: float | None = None,
    uuid: UUID | None = None,
) -> Fit:
    """Record what was put into an empty place on a day, and by which version of its data sheet."""
    unit = current()
    site = coupling.site
    _require(site)
    refuse_known_uuid(Fit, uuid)
    # Locked until the end, so that nobody retires the coupling meanwhile.
    retired_on = Coupling.objects.select_for_update().values_list("retired_on", flat=True).get(pk=coupling.pk)
    fit = Fit(
        site=site, coupling=coupling, sheet_version=sheet_version, fitted_on=fitted_on, serial=serial.strip(),
        match_marks=match_marks, dbse_mm=dbse_mm,
    )  # fmt: skip
    if uuid is not None:
        fit.uuid = uuid
    errors = errors_of(fit) | rules.fit_errors(
        fitted_on=fitted_on,
        today=today_at(site, unit.at),
        last_removed_on=coupling.fits.order_by("-removed_on").values_list("removed_on", flat=True).exclude(
            removed_on__isnull=True
        ).first(),
        retired_on=retired_on,
        published=sheet_version.published_at is not None,
    )  # fmt: skip
    if sheet_version.sheet.site_id != site.pk:
        errors["sheet_version"] = "This data sheet belongs to another site."
    elif "sheet_version" not in errors and (why := not_adoptable(sheet_version, fitted_on)):
        errors["sheet_version"] = why
    refuse(errors | _place_taken(coupling) | _serial_taken(fit))
    saved(fit, lambda: _place_taken(coupling) | _serial_taken(fit))
    changed(fit)
    told("fit.moved", coupling, {"fit": str(fit.uuid), "serial": fit.serial, "fitted_on": fitted_on.isoformat()})
    return fit


def change_fit(
    *, fit: Fit, expected: int | None = None, sheet_version: SheetVersion | None = None, **fields: Any
) -> Fit:
    """Correct serial number or match marks, take over a measured distance between shaft ends, or adopt another
    published version of the same data sheet. Signed visits keep the version they were judged by."""
    _require(fit.site)
    bump(fit, expected)
    set_fields(fit, fields, FIELDS)
    fit.serial = fit.serial.strip()
    errors = errors_of(fit) | _serial_taken(fit)
    if sheet_version is not None:
        if sheet_version.sheet_id != fit.sheet_version.sheet_id:
            errors["sheet_version"] = "This is another data sheet: remove this fit and record the new one."
        elif why := not_adoptable(sheet_version, today_at(fit.site, current().at)):
            errors["sheet_version"] = why
        else:
            fit.sheet_version = sheet_version
    refuse(errors)
    return saved(fit, lambda: _serial_taken(fit))


def remove_fit(*, fit: Fit, removed_on: date, expected: int | None = None) -> Fit:
    """Close a fit; the element still in it leaves with it."""
    unit = current()
    _require(fit.site)
    bump(fit, expected)
    if fit.removed_on is not None:
        raise Refused({"removed_on": f"This fit was removed on {fit.removed_on} already."})
    element = fit.elements.order_by("-fitted_on", "-pk").first()
    refuse(
        rules.fit_removal_errors(
            fitted_on=fit.fitted_on,
            removed_on=removed_on,
            today=today_at(fit.site, unit.at),
            last_element_on=element.fitted_on if element is not None else None,
        )
    )
    fit.removed_on = removed_on
    fit.save()
    if element is not None and element.removed_on is None:
        _close(element, removed_on, REMOVED_WITH_FIT, "")
    told("fit.moved", fit.coupling, {"fit": str(fit.uuid), "serial": fit.serial, "removed_on": removed_on.isoformat()})
    return fit


def fit_element(
    *,
    fit: Fit,
    part_number: str,
    fitted_on: date,
    batch: str = "",
    cured_on: date | None = None,
    removal_reason: str = "",
    went_to: str = "",
    uuid: UUID | None = None,
) -> Element:
    """Put a new element into a fit; the one in place is closed on that day with the reason it was taken out."""
    unit = current()
    _require(fit.site)
    refuse_known_uuid(Element, uuid)
    # Locked until the end, so that nobody removes the fit meanwhile.
    removed_on = Fit.objects.select_for_update().values_list("removed_on", flat=True).get(pk=fit.pk)
    present = fit.elements.filter(removed_on__isnull=True).first()
    element = Element(
        site=fit.site, fit=fit, part_number=part_number.strip(), batch=batch, cured_on=cured_on, fitted_on=fitted_on
    )
    if uuid is not None:
        element.uuid = uuid
    errors = errors_of(element) | rules.element_errors(
        cured_on=cured_on,
        fitted_on=fitted_on,
        today=today_at(fit.site, unit.at),
        fit_fitted_on=fit.fitted_on,
        fit_removed_on=removed_on,
        present_fitted_on=present.fitted_on if present is not None else None,
        removal_reason=removal_reason,
    )
    if not fit.sheet_version.sheet.family.element_name:
        errors["fit"] = "A coupling of this family has no wearing element."
    if present is not None:
        present.removal_reason, present.went_to = removal_reason, went_to
        closing = errors_of(present)
        errors |= {name: closing[name] for name in ("removal_reason", "went_to") if name in closing}
    elif removal_reason or went_to:
        errors["removal_reason" if removal_reason else "went_to"] = (
            "No element is in place that could have been taken out."
        )
    refuse(errors)
    if present is not None:
        _close(present, fitted_on, removal_reason.strip(), went_to)
    saved(element, lambda: {"fit": "Somebody else recorded an element in this fit just now: look at it first."})
    changed(element)
    told(
        "element.fitted",
        fit.coupling,
        {
            "element": str(element.uuid),
            "fit": str(fit.uuid),
            "part_number": element.part_number,
            "batch": batch,
            "fitted_on": fitted_on.isoformat(),
            "replaced": str(present.uuid) if present is not None else None,
        },
    )
    return element


def _close(element: Element, on: date, reason: str, went_to: str) -> None:
    bump(element)
    if element.removed_on is not None:
        raise Refused({"fit": "Somebody else took the element out just now: look at it first."})
    element.removed_on, element.removal_reason, element.went_to = on, reason, went_to
    element.save()


def _require(site: Site) -> None:
    """Whoever fills visits records what was fitted there; whoever keeps the register may enter it from papers."""
    by = current().by
    if not access.may(by, "register.write", site):
        access.require(by, "visit.fill", site)


def _place_taken(coupling: Coupling) -> dict[str, str]:
    present = coupling.fits.filter(removed_on__isnull=True).first()
    if present is None:
        return {}
    return {"coupling": f"What was fitted on {present.fitted_on} is still recorded as being here: remove it first."}


def _serial_taken(fit: Fit) -> dict[str, str]:
    if not fit.serial or fit.removed_on is not None:
        return {}
    other = (
        Fit.objects.filter(site_id=fit.site_id, serial=fit.serial, removed_on__isnull=True)
        .exclude(pk=fit.pk)
        .select_related("coupling")
        .first()
    )
    if other is None:
        return {}
    return {"serial": f"This serial number is recorded as fitted at {other.coupling.tag}: remove it there first."}
