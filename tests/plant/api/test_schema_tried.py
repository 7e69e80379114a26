"""Whatever the schema allows, and what it does not, is answered as it says: nothing breaks, nothing is a surprise."""

import warnings
from datetime import timedelta

import pytest
import schemathesis
from django.core.signals import request_finished, request_started
from django.core.wsgi import get_wsgi_application
from django.db import close_old_connections, transaction
from drf_spectacular.generators import SchemaGenerator
from hypothesis import HealthCheck, Phase, given, settings
from schemathesis import GenerationMode
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi.checks import response_schema_conformance, status_code_conformance
from zeal import zeal_ignore

from plant.access import ACTIONS
from plant.recording import recording
from plant.services.tokens import make_token
from tests.factories import NOW, MembershipFactory, PersonFactory, SiteFactory
from tests.world import World

EXAMPLES = 8
# What stands at the addresses with an id, so that more than 404 is tried.
THERE = {
    "areas": "area", "checks": "check", "couplings": "fitted_coupling", "data-sheets": "sheet_with_version",
    "elements": "element", "fits": "fit", "flags": "flag", "grades": "grade", "instruments": "instrument",
    "machine-units": "machine_unit",
    "people": "person", "policies": "policy", "sites": "site", "trains": "train", "visits": "visit",
    "work-orders": "order",
}  # fmt: skip
CHECKS = [not_a_server_error, status_code_conformance, response_schema_conformance]
SCHEMA = schemathesis.openapi.from_dict(SchemaGenerator().get_schema(request=None, public=True))
SCHEMA.app = get_wsgi_application()
OPERATIONS = [result.ok() for result in SCHEMA.get_all_operations()]


@pytest.fixture(autouse=True)
def _one_connection():
    """A request to the application itself would close the connection, and with it the test's transaction."""
    for signal in (request_started, request_finished):
        signal.disconnect(close_old_connections)
    yield
    for signal in (request_started, request_finished):
        signal.connect(close_old_connections)


@pytest.fixture
def world(db, time_machine):
    time_machine.move_to(NOW, tick=False)
    site, person = SiteFactory(), PersonFactory(username="all hands")
    for role in ["mechanic", "planner", "engineer", "manager", "keeper", "client"]:
        MembershipFactory(person=person, site=site, role=role)
    return World(site, person)


@pytest.fixture
def secret(world):
    with recording(by=world.by, at=NOW):
        return make_token(person=world.by, name="t", scopes=ACTIONS, sites=[], expires_at=NOW + timedelta(days=1))[1]


@pytest.mark.engine
@pytest.mark.parametrize("mode", [GenerationMode.POSITIVE, GenerationMode.NEGATIVE], ids=["allowed", "not allowed"])
@pytest.mark.parametrize("operation", OPERATIONS, ids=lambda operation: operation.label)
def test_every_answer_is_documented(operation, mode, world, secret):
    noun = operation.path.removeprefix("/api/v1/").split("/")[0]
    of = getattr(world, THERE[noun]) if noun in THERE else None

    @settings(
        max_examples=EXAMPLES,
        deadline=None,
        derandomize=True,
        database=None,
        phases=[Phase.explicit, Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    @given(case=operation.as_strategy(generation_mode=mode))
    def tried(case):
        if of is not None and "id" in case.path_parameters:
            case.path_parameters["id"] = str(of.uuid)
        with transaction.atomic(), zeal_ignore(), warnings.catch_warnings():
            response = case.call(headers={"Authorization": f"Bearer {secret}"})
            transaction.set_rollback(True)
        case.validate_response(response, checks=CHECKS)

    tried()
