"""From the page of a coupling, a fit, an element or a lot to what it belongs to."""

from collections.abc import Callable, Iterable
from typing import Any

from django.urls import reverse

from couplings.models import Coupling, Element, Fit
from couplings.selectors.fits import element_in, fit_at
from plant.pages.register import Part
from plant.pages.register import lazily as _

Ways = Iterable[tuple[str, str, str]]  # address, what it is, which


def ways(of: Callable[[Any], Ways]) -> Part:
    """The entry of a page that leads on."""
    rows = lambda _request, root: {"ways": list(of(root))}  # noqa: E731
    return Part(_("Belongs together"), "couplings/register/ways.html", rows)


def of_coupling(coupling: Coupling) -> Ways:
    """Its record, its train, what is fitted, and its neighbours in time."""
    yield reverse("coupling", args=[coupling.uuid]), str(_("Record")), str(_("state, next check, visits"))
    yield reverse("register-trains-one", args=[coupling.train.uuid]), str(_("Train")), coupling.train.tag
    fit = fit_at(coupling)
    if fit is not None:
        yield _fit(fit)
    if coupling.successor is not None:
        yield (
            reverse("register-couplings-one", args=[coupling.successor.uuid]),
            str(_("Successor")),
            (coupling.successor.tag),
        )
    for before in coupling.predecessors.all():
        yield reverse("register-couplings-one", args=[before.uuid]), str(_("Predecessor")), before.tag


def of_fit(fit: Fit) -> Ways:
    """Its place, its data sheet, its element, and the fits it was before and after."""
    yield _place(fit.coupling)
    sheet = fit.sheet_version.sheet
    yield reverse("register-data-sheets-one", args=[sheet.uuid]), str(_("Data sheet")), sheet.designation
    element = element_in(fit)
    if element is not None:
        yield reverse("register-elements-one", args=[element.uuid]), str(_("Element")), str(element)
    if fit.moved_from is not None:
        yield _fit(fit.moved_from, str(_("Moved from")))
    if (after := getattr(fit, "moved_to", None)) is not None:
        yield _fit(after, str(_("Moved to")))


def of_element(element: Element) -> Ways:
    """The fit it is or was in, its coupling, and the lot of the stores it came from."""
    yield _place(element.fit.coupling)
    yield _fit(element.fit)
    if element.lot is not None:
        yield reverse("register-stock-one", args=[element.lot.uuid]), str(_("Came from the stores")), str(element.lot)


def _place(coupling: Coupling) -> tuple[str, str, str]:
    return reverse("register-couplings-one", args=[coupling.uuid]), str(_("Coupling")), coupling.tag


def _fit(fit: Fit, what: str = "") -> tuple[str, str, str]:
    number = f", {fit.serial}" if fit.serial else ""
    words = f"{fit.sheet_version.sheet.designation}, {fit.coupling.tag}{number}"
    return reverse("register-fits-one", args=[fit.uuid]), what or str(_("What is fitted")), words
