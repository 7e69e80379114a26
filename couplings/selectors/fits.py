"""What is at a coupling now and what was there before."""

from __future__ import annotations

from django.db.models import QuerySet

from couplings.models import Coupling, Element, Fit
from plant.models import Person


def fit_at(coupling: Coupling) -> Fit | None:
    """What is fitted there now, with its data sheet."""
    return coupling.fits.filter(removed_on__isnull=True).select_related("site", "sheet_version__sheet__family").first()


def element_in(fit: Fit) -> Element | None:
    """The element in place."""
    return fit.elements.filter(removed_on__isnull=True).first()


def fits_visible_to(person: Person) -> QuerySet[Fit]:
    return Fit.objects.visible_to(person).select_related("site", "coupling", "sheet_version__sheet__family")
