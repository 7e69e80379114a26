"""A coupling whose isolation stands, with its fit and a wrench in calibration."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from tests.factories import CouplingFactory, FitFactory, InstrumentFactory, WorkOrderFactory
from tests.inspections.visits import begin, fill_installation


@pytest.fixture
def fit(site):
    return FitFactory(coupling=CouplingFactory(train__site=site))


@pytest.fixture
def order(fit):
    return WorkOrderFactory(train=fit.coupling.train, isolated=True)


@pytest.fixture
def wrench(site):
    return InstrumentFactory(site=site, kind="torque-set", name="Click wrench", serial="T-1")


@pytest.fixture
def visit(fit, order, mechanic):
    return begin(fit, order, mechanic)


@pytest.fixture
def filled(visit, mechanic, wrench):
    return fill_installation(visit, mechanic, wrench)


@pytest.fixture
def connection_queries():
    """The statements of a block, for tests that compare how many there are."""
    return lambda: CaptureQueriesContext(connection)
