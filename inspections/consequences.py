"""What a change in the register means for the checks and flags there, in the same unit of work.

Who owns the dates of a site or its time zone changed: its checks are brought up to date. A meter was read, a train went
out of service or came back or is of another criticality, a coupling was retired: the checks of those trains and
couplings alone are. An element or a whole coupling was exchanged: what was found on the old one stands no more. A fit
adopted another version of its data sheet: what is open follows. A machine was exchanged for another: the couplings
beside it tell so.
"""

from typing import Any

from django.db.models import Q, QuerySet

from couplings.models import Coupling, Element, Fit, Grade
from couplings.selectors.adoption import preview_with
from couplings.selectors.steps import say_steps
from inspections.models import Flag, OtherWork
from inspections.selectors.adoption import last_as_left_by
from inspections.selectors.dates import FOLLOWED
from inspections.services.checks import recompute_couplings, recompute_site
from inspections.services.drift import drift_by_hours, drift_from, drift_regrouped, recompute_drift
from inspections.services.exchanges import tell_exchanges
from inspections.services.flags import settle_flags_of_retired
from inspections.services.running_flags import flag_running_where_open
from inspections.services.visit_flags import flag_visits_where_open
from inspections.services.wear_flags import flag_wear_where_open
from inspections.steps import STEPS
from plant.models import MachineUnit, Meter, Site, Stop, Train, UnitStay
from plant.recording import current, follow
from plant.sitetime import today_at


def after_sites(sites: list[Any]) -> None:
    """Whose dates count here, and which day it is."""
    for site in sites:
        recompute_drift(couplings=drift_regrouped(site=site))
        recompute_site(site=site, today=today_at(site, current().at))


def after_meters(meters: list[Any]) -> None:
    recompute_drift(couplings=drift_by_hours(trains=[one.train_id for one in meters]))
    recompute_couplings(couplings=Coupling.objects.filter(train__meter__in=[one.pk for one in meters]))


def after_trains(trains: list[Any]) -> None:
    recompute_drift(couplings=Coupling.objects.filter(train__in=[one.pk for one in trains]))
    recompute_couplings(couplings=Coupling.objects.filter(train__in=[one.pk for one in trains]))


def after_couplings(couplings: list[Any]) -> None:
    settle_flags_of_retired(couplings=couplings)
    recompute_drift(couplings=[one.pk for one in couplings])
    recompute_couplings(couplings=Coupling.objects.filter(pk__in=[one.pk for one in couplings]))


def after_elements(elements: list[Any]) -> None:
    fits = list(Fit.objects.filter(pk__in=[one.fit_id for one in elements]))
    flag_wear_where_open(fits=fits)
    recompute_couplings(couplings=Coupling.objects.filter(pk__in=[one.coupling_id for one in fits]))


def after_fits(fits: list[Any]) -> None:
    flag_wear_where_open(fits=fits)
    recompute_drift(couplings=drift_from(fits=fits))
    flag_visits_where_open(fits=fits)
    flag_running_where_open(fits=fits)
    recompute_couplings(couplings=Coupling.objects.filter(pk__in=[one.coupling_id for one in fits]))


def after_flags(flags: list[Any]) -> None:
    """What was found stands no more, or somebody else deals with it: its follow-up goes with it."""
    followed = {one.coupling_id for one in flags if one.kind in FOLLOWED}
    if followed:
        recompute_couplings(couplings=Coupling.objects.filter(pk__in=followed))


def after_units(units: list[Any]) -> None:
    """Another machine stands there: what the shafts did from one to the other is no movement."""
    tell_exchanges(units)
    stood = UnitStay.objects.filter(unit__in=[one.pk for one in units]).values("machine_id")
    beside = Coupling.objects.filter(Q(driver_machine_id__in=stood) | Q(driven_machine_id__in=stood))
    _redraw(beside)


def after_grades(grades: list[Any]) -> None:
    """The limits of a speed grade changed: the forecasts that are held to it follow."""
    _redraw(Coupling.objects.filter(site_id__in={one.site_id for one in grades}, retired_on__isnull=True))


def after_stops(stops: list[Any]) -> None:
    """Stops moved: what is forecast out before the next one follows."""
    for site in Site.objects.filter(pk__in={one.site_id for one in stops}).order_by("pk"):
        recompute_site(site=site, today=today_at(site, current().at))


def _redraw(couplings: QuerySet[Coupling]) -> None:
    moved = recompute_drift(couplings=couplings)
    if moved:
        recompute_couplings(couplings=Coupling.objects.filter(pk__in=moved))


def after_other_work(works: list[Any]) -> None:
    recompute_couplings(couplings=Coupling.objects.filter(pk__in=[one.coupling_id for one in works]))


preview_with(last_as_left_by)
say_steps({key: str(step.title) for key, step in STEPS.items()})
follow(Flag, after_flags)
follow(OtherWork, after_other_work)
follow(Site, after_sites)
follow(Meter, after_meters)
follow(MachineUnit, after_units)
follow(Grade, after_grades)
follow(Stop, after_stops)
follow(Train, after_trains)
follow(Coupling, after_couplings)
follow(Element, after_elements)
follow(Fit, after_fits)
