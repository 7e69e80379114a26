"""What is at a coupling now and what was there before."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from django.db.models import Q, QuerySet

from couplings.models import Coupling, Element, Fit, HubHalf
from plant.models import Person, Site


@dataclass(frozen=True)
class Whereabouts:
    """One stay of a numbered part: what it is, in which fit, from when, until when (None: still there)."""

    what: str
    fit: Fit
    since: date
    until: date | None
    reason: str = ""
    went_to: str = ""


def fit_at(coupling: Coupling) -> Fit | None:
    """What is fitted there now, with its data sheet."""
    return coupling.fits.filter(removed_on__isnull=True).select_related("site", "sheet_version__sheet__family").first()


def element_in(fit: Fit) -> Element | None:
    """The element in place."""
    return fit.elements.filter(removed_on__isnull=True).first()


def fits_visible_to(person: Person) -> QuerySet[Fit]:
    return Fit.objects.visible_to(person).select_related("site", "coupling", "sheet_version__sheet__family")


def whereabouts(site: Site, serial: str, person: Person | None = None) -> list[Whereabouts]:
    """Everywhere a serial number was at a site, the first stay first: of a coupling, a spacer, a hub half, a bolt set.

    History follows the number, not the place. Nothing typed is found nowhere; a `person` is shown the stays in fits
    that this person may see.
    """
    serial = serial.strip()
    if not serial:
        return []
    seen = Fit.objects.visible_to(person) if person is not None else Fit.objects.all()
    fits = seen.filter(site=site).select_related("coupling", "sheet_version__sheet")
    found = []
    for fit in fits.filter(Q(serial=serial) | Q(spacer_serial=serial) | Q(bolt_set=serial)):
        parts = (("coupling", fit.serial), ("spacer", fit.spacer_serial), ("bolt set", fit.bolt_set))
        found += [
            Whereabouts(what, fit, fit.fitted_on, fit.removed_on, fit.removal_reason, fit.went_to)
            for what, number in parts
            if number == serial
        ]
    halves = HubHalf.objects.filter(fit__in=seen.filter(site=site), serial=serial)
    for half in halves.select_related("fit__coupling", "fit__sheet_version__sheet"):
        what = f"hub half, {half.get_side_display()}"
        found.append(Whereabouts(what, half.fit, half.fitted_on, half.removed_on, half.removal_reason, half.went_to))
    return sorted(found, key=lambda one: (one.since, one.until or date.max, one.fit.pk))
