"""An API client per person, the clock at the factories' now, and texts in inches."""

import pytest
from rest_framework.test import APIClient

from plant.models import Person
from tests.factories import NOW


@pytest.fixture
def as_person():
    """A client signed in as this person, read afresh: roles are cached on the instance."""

    def client(person):
        signed_in = APIClient(raise_request_exception=True)
        signed_in.force_authenticate(Person.objects.get(pk=person.pk))
        return signed_in

    return client


@pytest.fixture(autouse=True)
def _at_the_factories_now(time_machine):
    time_machine.move_to(NOW, tick=False)


@pytest.fixture
def strict_sheet(fit):
    """The data sheet with the limits of the survey printed in the calculation's description: 0.05 mm and 0.5 mm/m."""
    fit.sheet_version.limits.filter(quantity="offset").update(stated_value=0.05, value=0.05)
    fit.sheet_version.limits.filter(quantity="angularity").update(stated_value=0.5, value=0.5)
    return fit.sheet_version
