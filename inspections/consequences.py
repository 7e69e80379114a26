"""What a change in the register means for the checks there: dates follow their causes in the same unit of work.

A meter was read, a train went out of service or came back or is of another criticality, a coupling was retired: the
checks of those trains and couplings alone are brought up to date.
"""

from typing import Any

from couplings.models import Coupling
from inspections.services.checks import recompute_couplings
from plant.models import Meter, Train
from plant.recording import follow


def after_meters(meters: list[Any]) -> None:
    recompute_couplings(couplings=Coupling.objects.filter(train__meter__in=[one.pk for one in meters]))


def after_trains(trains: list[Any]) -> None:
    recompute_couplings(couplings=Coupling.objects.filter(train__in=[one.pk for one in trains]))


def after_couplings(couplings: list[Any]) -> None:
    recompute_couplings(couplings=Coupling.objects.filter(pk__in=[one.pk for one in couplings]))


follow(Meter, after_meters)
follow(Train, after_trains)
follow(Coupling, after_couplings)
