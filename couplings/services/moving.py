"""A coupling that goes to another place: one fit is closed, another opened, and the serial numbers go along."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

from couplings.models import Coupling, Element, Fit, HubHalf
from couplings.services.checking import refuse
from couplings.services.couplings import register_coupling, retire_coupling
from couplings.services.fits import FACTS, fit_element, install_fit, remove_fit
from couplings.services.hubs import FIELDS, OF_THE_HALF
from couplings.services.renaming import named
from plant import access
from plant.recording import bump, current
from plant.refusals import Refused


def move_fit(
    *,
    fit: Fit,
    to: Coupling,
    on: date,
    reason: str = "",
    match_marks: str | None = None,
    with_element: bool = True,
    expected: int | None = None,
) -> Fit:
    """Move what is fitted to another place of the same site, on one day. The new fit says where it came from.

    Serial numbers, bolts, keys and bores go along. How the hubs were mounted, their orientation and the distance
    between shaft ends do not: they are of the old place. The element goes along unless it is said to stay out.
    """
    bump(fit, expected)
    errors: dict[str, str] = {}
    if to.site_id != fit.site_id:
        errors["to"] = "This place belongs to another site: remove it here, and record it there."
    elif to.pk == fit.coupling_id:
        errors["to"] = "It is there already: name another place."
    if (present := to.fits.filter(removed_on__isnull=True).first()) is not None and not errors:
        errors["to"] = f"What was fitted on {present.fitted_on} is still recorded as being there: remove it first."
    refuse(errors)
    leaving = _closed(fit, on, reason.strip() or f"moved to {to.tag}", to.tag)
    return _opened(leaving, to, on, fit.match_marks if match_marks is None else match_marks, with_element)


def succeed_coupling(
    *,
    coupling: Coupling,
    on: date,
    tag: str,
    with_fit: bool = False,
    expected: int | None = None,
    **fields: Any,
) -> Coupling:
    """Retire a coupling and register its successor between the same machines on the same day.

    `fields` are those of `register_coupling`; what is not said stays as it was. With `with_fit` what is fitted goes
    over to the successor; otherwise it has to be removed before.
    """
    access.require(current().by, "register.write", coupling.site)
    bump(coupling, expected)
    if coupling.retired_on is not None:
        raise Refused({"on": f"This coupling was retired on {coupling.retired_on} already."})
    # The place has to be free before its successor can be registered: what is fitted waits meanwhile.
    fit = coupling.fits.filter(removed_on__isnull=True).select_related("site", "sheet_version__sheet__family").first()
    if fit is not None and not with_fit:
        raise Refused(
            {"": f"What was fitted on {fit.fitted_on} is still recorded as being here: remove that fit first, "
             "or let it go over to the successor."}
        )  # fmt: skip
    if tag.strip() == coupling.tag:
        raise Refused({"tag": "The successor needs a tag of its own: records are found by it."})
    same = {name: getattr(coupling, name) for name in ("name", "rpm", "lowest_rpm", "power_kw")}
    leaving = _closed(fit, on, f"the place became {tag}", tag) if fit is not None else None
    retire_coupling(coupling=coupling, on=on)
    successor = register_coupling(
        train=coupling.train,
        driver_machine=coupling.driver_machine,
        driven_machine=coupling.driven_machine,
        tag=tag,
        **same | fields,
    )
    retire_coupling(coupling=coupling, on=on, successor=successor)
    if leaving is not None:
        _opened(leaving, successor, on, leaving.fit.match_marks, with_element=True, stays=True)
    return successor


@dataclass(frozen=True)
class _Leaving:
    """What left a place and is about to be put into another."""

    fit: Fit
    halves: list[HubHalf]
    element: Element | None


def _closed(fit: Fit, on: date, reason: str, went_to: str) -> _Leaving:
    leaving = _Leaving(
        fit,
        [half for half in fit.hubs.all() if half.removed_on is None],
        fit.elements.filter(removed_on__isnull=True).first(),
    )
    with named(lambda field: {"removed_on": "on", "removal_reason": "reason", "went_to": "to"}.get(field, field)):
        remove_fit(fit=fit, removed_on=on, removal_reason=reason, went_to=went_to)
    return leaving


def _opened(
    leaving: _Leaving, to: Coupling, on: date, match_marks: str, with_element: bool, stays: bool = False
) -> Fit:
    """`stays`: only the name of the place changed, so that how everything is mounted there still holds."""
    fit, element = leaving.fit, leaving.element
    of_half = FIELDS if stays else OF_THE_HALF
    of_fit = FACTS if stays else tuple(name for name in FACTS if name != "spacer_position")
    with named(lambda field: {"fitted_on": "on", "coupling": "to"}.get(field, field)):
        moved = install_fit(
            coupling=to,
            sheet_version=fit.sheet_version,
            fitted_on=on,
            serial=fit.serial,
            match_marks=match_marks,
            dbse_mm=fit.dbse_mm if stays else None,
            hubs=[{"side": half.side} | {name: getattr(half, name) for name in of_half} for half in leaving.halves],
            moved_from=fit,
            **{name: getattr(fit, name) for name in of_fit},
        )
        if element is not None and with_element:
            fit_element(
                fit=moved,
                part_number=element.part_number,
                batch=element.batch,
                cured_on=element.cured_on,
                fitted_on=on,
                continues=element,
            )
    return moved
