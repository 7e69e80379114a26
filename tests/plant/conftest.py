"""An API client per person, and a register to look at."""

import pytest
from rest_framework.test import APIClient

from plant.models import Person
from tests.factories import NOW, AreaFactory, TrainFactory


@pytest.fixture
def as_person():
    """A client signed in as this person, read afresh: roles are cached on the instance."""

    def client(person: Person) -> APIClient:
        signed_in = APIClient(raise_request_exception=True)
        signed_in.force_authenticate(Person.objects.get(pk=person.pk))
        return signed_in

    return client


@pytest.fixture
def train(site):
    return TrainFactory(site=site, area__site=site, tag="BF-21")


@pytest.fixture
def area(site):
    return AreaFactory(site=site)


@pytest.fixture
def time_machine_at(time_machine):
    """The clock of the tests stands at the factories' now."""
    time_machine.move_to(NOW, tick=False)
    return time_machine
