"""Signed-in browsers, and the form of a page as a browser would send it."""

import pytest
from django.test import Client

from tests.factories import NOW
from tests.plant.pages.conftest import form_of  # noqa: F401  the one way to read a form


@pytest.fixture(autouse=True)
def _clock_stands(time_machine):
    time_machine.move_to(NOW, tick=False)


@pytest.fixture
def browse():
    def client(person):
        signed_in = Client()
        signed_in.force_login(person)
        return signed_in

    return client
