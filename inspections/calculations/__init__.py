"""Calculations without a record, as this app offers them: conformity, drift, life of elements and their replacement."""

from inspections.calculations.conformity import CONFORMITY
from inspections.calculations.drift import DRIFT
from inspections.calculations.element_life import ELEMENT_LIFE
from inspections.calculations.replacement_age import REPLACEMENT_AGE
from plant.calculations import register


def register_all() -> None:
    """Make this app's calculations known; harmless when called twice."""
    for each in (CONFORMITY, DRIFT, ELEMENT_LIFE, REPLACEMENT_AGE):
        register(each)


register_all()  # importing the package is enough for an app that is made ready
