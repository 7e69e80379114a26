"""Couplings to talk about over the API, and the clock standing at the factories' now."""

import pytest
from rest_framework.test import APIClient

from plant.models import Person
from tests.factories import (
    NOW,
    CouplingFactory,
    DataSheetFactory,
    FitFactory,
    SheetVersionFactory,
    TrainFactory,
)


@pytest.fixture(autouse=True)
def _clock_stands(time_machine):
    time_machine.move_to(NOW, tick=False)


@pytest.fixture
def as_person():
    """A client signed in as this person, read afresh: roles are cached on the instance."""

    def client(person: Person) -> APIClient:
        signed_in = APIClient()
        signed_in.force_authenticate(Person.objects.get(pk=person.pk))
        return signed_in

    return client


@pytest.fixture
def train(site):
    return TrainFactory(site=site, tag="BF-21")


@pytest.fixture
def coupling(train):
    return CouplingFactory(train=train, tag="BF-21-C1")


@pytest.fixture
def version(site):
    return SheetVersionFactory(sheet=DataSheetFactory(site=site, designation="Jaw 80"))


@pytest.fixture
def fit(coupling, version):
    return FitFactory(coupling=coupling, sheet_version=version)


def mm(value):
    return {"value": value, "unit": "mm"}


def faults(answer):
    """The errors of problem details: sentence by pointer."""
    assert answer["Content-Type"] == "application/problem+json", answer.content
    return {error["pointer"]: error["detail"] for error in answer.json().get("errors", [])}
