"""What is physically at a coupling: fitted, measured, removed, and the wearing elements in it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any
from uuid import UUID

from couplings import rules
from couplings.models import Coupling, Element, Fit, RemovalReason, SheetVersion, StockLot
from couplings.selectors.limit_changes import not_adoptable
from couplings.services.checking import refuse, saved
from couplings.services.hubs import close_hubs, hub_errors, put_hubs, write_hubs
from couplings.services.stock import take_one
from plant import access
from plant.models import Site
from plant.recording import bump, changed, current, told
from plant.refusals import Refused
from plant.services.rows import errors_of, refuse_known_uuid, set_fields
from plant.sitetime import today_at

FACTS = ("spacer_serial", "spacer_position", "bolt_set", "bolt_batch", "bolts_fitted_on", "bolts_reused")
FIELDS = ("serial", "match_marks", "dbse_mm", *FACTS)
REMOVAL = ("removal_code", "removal_reason", "removal_finding", "went", "went_to")
REMOVED_WITH_FIT = "removed with the coupling it was in"


def install_fit(
    *,
    coupling: Coupling,
    sheet_version: SheetVersion,
    fitted_on: date,
    serial: str = "",
    match_marks: str = "",
    dbse_mm: float | None = None,
    hubs: Sequence[Mapping[str, Any]] = (),
    moved_from: Fit | None = None,
    uuid: UUID | None = None,
    **facts: Any,
) -> Fit:
    """Record what was put into an empty place on a day, and by which version of its data sheet.

    `hubs` are its halves by `side` with what `couplings.services.hubs.FIELDS` lists; `facts` the spacer and the bolts.
    """
    unit = current()
    site = coupling.site
    _require(site)
    refuse_known_uuid(Fit, uuid)
    # Locked until the end, so that nobody retires the coupling meanwhile.
    retired_on = Coupling.objects.select_for_update().values_list("retired_on", flat=True).get(pk=coupling.pk)
    fit = Fit(
        site=site, coupling=coupling, sheet_version=sheet_version, fitted_on=fitted_on, serial=serial.strip(),
        match_marks=match_marks, dbse_mm=dbse_mm, moved_from=moved_from,
    )  # fmt: skip
    set_fields(fit, facts, FACTS)
    _strip(fit)
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
    errors |= _bolt_errors(fit) | hub_errors(fit, hubs)
    refuse(errors | _place_taken(coupling) | _serial_taken(fit))
    saved(fit, lambda: _place_taken(coupling) | _serial_taken(fit))
    put_hubs(fit, hubs)
    changed(fit)
    told("fit.moved", coupling, {"fit": str(fit.uuid), "serial": fit.serial, "fitted_on": fitted_on.isoformat()})
    return fit


def change_fit(
    *,
    fit: Fit,
    expected: int | None = None,
    sheet_version: SheetVersion | None = None,
    hubs: Sequence[Mapping[str, Any]] = (),
    **fields: Any,
) -> Fit:
    """Correct serial numbers, marks or bolts, take over what was measured, or adopt another published version of the
    same data sheet. Signed visits keep the version they were judged by.

    `hubs` mend the halves in place, side by side; what a row does not name stays. Another half is `swap_hub`.
    """
    _require(fit.site)
    bump(fit, expected)
    set_fields(fit, fields, FIELDS)
    _strip(fit)
    errors = errors_of(fit) | _serial_taken(fit) | _bolt_errors(fit) | hub_errors(fit, hubs)
    if sheet_version is not None:
        if sheet_version.sheet_id != fit.sheet_version.sheet_id:
            errors["sheet_version"] = "This is another data sheet: remove this fit and record the new one."
        elif why := not_adoptable(sheet_version, today_at(fit.site, current().at)):
            errors["sheet_version"] = why
        else:
            fit.sheet_version = sheet_version
    refuse(errors)
    write_hubs(fit, hubs)
    return saved(fit, lambda: _serial_taken(fit))


def remove_fit(
    *, fit: Fit, removed_on: date, removal_reason: str = "", went_to: str = "", expected: int | None = None
) -> Fit:
    """Close a fit, with why and where it went; its hub halves and the element still in it leave with it."""
    unit = current()
    _require(fit.site)
    bump(fit, expected)
    if fit.removed_on is not None:
        raise Refused({"removed_on": f"This fit was removed on {fit.removed_on} already."})
    element = fit.elements.order_by("-fitted_on", "-pk").first()
    halves = list(fit.hubs.all())
    fit.removal_reason, fit.went_to = removal_reason.strip(), went_to.strip()
    texts = errors_of(fit)
    refuse(
        rules.fit_removal_errors(
            fitted_on=fit.fitted_on,
            removed_on=removed_on,
            today=today_at(fit.site, unit.at),
            last_element_on=element.fitted_on if element is not None else None,
            last_hub_on=max((half.fitted_on for half in halves), default=None),
        )
        | {name: texts[name] for name in ("removal_reason", "went_to") if name in texts}
    )
    fit.removed_on = removed_on
    fit.save()
    close_hubs(halves, removed_on, fit.removal_reason, fit.went_to)
    if element is not None and element.removed_on is None:
        _close(element, removed_on, removal_reason=REMOVED_WITH_FIT, went_to=fit.went_to)
    told("fit.moved", fit.coupling, {"fit": str(fit.uuid), "serial": fit.serial, "removed_on": removed_on.isoformat()})
    return fit


def fit_element(
    *,
    fit: Fit,
    fitted_on: date,
    part_number: str = "",
    batch: str = "",
    cured_on: date | None = None,
    lot: StockLot | None = None,
    continues: Element | None = None,
    uuid: UUID | None = None,
    **removal: Any,
) -> Element:
    """Put a new element into a fit; the one in place is closed on that day with the reason it was taken out.

    `removal` is what `REMOVAL` lists and speaks of the one in place. From a `lot` of the stores one is issued, and
    part number, batch and cure date are the lot's.
    """
    unit = current()
    _require(fit.site)
    refuse_known_uuid(Element, uuid)
    # Locked until the end, so that nobody removes the fit meanwhile.
    removed_on = Fit.objects.select_for_update().values_list("removed_on", flat=True).get(pk=fit.pk)
    present = fit.elements.filter(removed_on__isnull=True).first()
    element = Element(
        site=fit.site, fit=fit, part_number=part_number.strip(), batch=batch.strip(), cured_on=cured_on,
        fitted_on=fitted_on, continues=continues, lot=lot,
    )  # fmt: skip
    errors = _of_lot(element)
    if uuid is not None:
        element.uuid = uuid
    errors = errors_of(element) | errors | rules.element_errors(
        cured_on=element.cured_on,
        fitted_on=fitted_on,
        today=today_at(fit.site, unit.at),
        fit_fitted_on=fit.fitted_on,
        fit_removed_on=removed_on,
        present_fitted_on=present.fitted_on if present is not None else None,
        removal_reason=_said(removal),
    )  # fmt: skip
    if not fit.sheet_version.sheet.family.element_name:
        errors["fit"] = "A coupling of this family has no wearing element."
    if present is not None:
        errors |= _removal_errors(present, removal)
    elif given := [name for name in REMOVAL if removal.get(name)]:
        errors[given[0]] = "No element is in place that could have been taken out."
    refuse(errors)
    if present is not None:
        _close(present, fitted_on, **removal)
    saved(element, lambda: {"fit": "Somebody else recorded an element in this fit just now: look at it first."})
    if lot is not None:
        take_one(lot, element)
    changed(element)
    told(
        "element.fitted",
        fit.coupling,
        {
            "element": str(element.uuid),
            "fit": str(fit.uuid),
            "part_number": element.part_number,
            "batch": element.batch,
            "fitted_on": fitted_on.isoformat(),
            "replaced": str(present.uuid) if present is not None else None,
            "continues": str(continues.uuid) if continues is not None else None,
        },
    )
    return element


def remove_element(*, element: Element, removed_on: date, expected: int | None = None, **removal: Any) -> Element:
    """Take an element out and leave the place empty: why, what was found on it, and where it went."""
    unit = current()
    _require(element.site)
    bump(element, expected)
    if element.removed_on is not None:
        raise Refused({"removed_on": f"This element was taken out on {element.removed_on} already."})
    errors = rules.element_removal_errors(
        fitted_on=element.fitted_on,
        removed_on=removed_on,
        today=today_at(element.site, unit.at),
        removal_reason=_said(removal),
    )
    refuse(errors | _removal_errors(element, removal))
    _close(element, removed_on, **removal)
    return element


def change_element(*, element: Element, expected: int | None = None, **fields: Any) -> Element:
    """Mend what is written of an element: its batch, and of one that is out what was found on it and where it went."""
    _require(element.site)
    bump(element, expected)
    errors: dict[str, str] = {}
    if element.removed_on is None and (given := [name for name in REMOVAL if fields.get(name)]):
        errors[given[0]] = "This element is still in place: take it out first."
    if element.lot_id is not None and fields.get("batch", element.batch) != element.batch:
        errors["batch"] = "It came out of a lot of the stores, whose batch it has."
    said = _said({name: getattr(element, name) for name in REMOVAL})
    set_fields(element, fields, ("batch", *REMOVAL))
    removal = {name: getattr(element, name) for name in REMOVAL}
    if said and not _said(removal):
        errors["removal_reason"] = "Say why it was taken out: its life is learned from it."
    texts = errors_of(element)
    refuse(_removal_errors(element, removal) | errors | {name: texts[name] for name in ("batch",) if name in texts})
    element.save()
    return element


def _close(element: Element, on: date, **removal: Any) -> None:
    bump(element)
    if element.removed_on is not None:
        raise Refused({"fit": "Somebody else took the element out just now: look at it first."})
    set_fields(element, removal, REMOVAL)
    element.removed_on, element.removal_reason = on, element.removal_reason.strip()
    element.save()


def _of_lot(element: Element) -> dict[str, str]:
    """Part, batch and cure date of the lot it is taken from; what was said differently is refused."""
    lot = element.lot
    errors: dict[str, str] = {}
    if lot is None:
        return {} if element.part_number else {"part_number": "Name the part, or the lot of the stores it came from."}
    if lot.site_id != element.site_id:
        return {"lot": "This lot lies at another site."}
    for name, empty in (("part_number", ""), ("batch", ""), ("cured_on", None)):
        said, its = getattr(element, name), getattr(lot, name)
        if said not in (empty, its):
            errors[name] = f"The lot says {its or 'nothing'}: leave this empty, or choose another lot."
        setattr(element, name, its)
    if lot.count < 1:
        errors["lot"] = "Nothing of this lot is left in store: count it and enter the correction first."
    return errors


def _said(removal: Mapping[str, Any]) -> str:
    """Why it came out, in words of one's own or by a reason of the site."""
    code: RemovalReason | None = removal.get("removal_code")
    return str(removal.get("removal_reason") or "").strip() or (code.title if code is not None else "")


def _removal_errors(element: Element, removal: Mapping[str, Any]) -> dict[str, str]:
    set_fields(element, dict(removal), REMOVAL)
    errors = errors_of(element)
    found = {name: errors[name] for name in REMOVAL if name in errors}
    if element.removal_code is not None and element.removal_code.site_id != element.site_id:
        found["removal_code"] = "This reason belongs to another site."
    return found


def _strip(fit: Fit) -> None:
    for name in ("serial", "spacer_serial", "spacer_position", "bolt_set", "bolt_batch"):
        setattr(fit, name, getattr(fit, name).strip())


def _bolt_errors(fit: Fit) -> dict[str, str]:
    on = fit.bolts_fitted_on
    if on is not None and on > today_at(fit.site, current().at):
        return {"bolts_fitted_on": f"{on} is still to come."}
    if fit.bolts_reused and not (fit.bolt_set or fit.bolt_batch):
        return {"bolts_reused": "Name the set or its batch: how often it was used belongs to that set."}
    return {}


def _require(site: Site) -> None:
    """Whoever fills visits records what was fitted there; whoever keeps the register may enter it from papers."""
    by = current().by
    # Tokens are given for visits or for the register: each may do it too.
    if not (access.may(by, "register.write", site) or access.may(by, "visit.fill", site)):
        access.require(by, "fit.write", site)


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
