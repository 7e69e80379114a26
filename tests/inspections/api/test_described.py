"""Every answer of the work's API is what its description says, read with the schema the site publishes."""

import jsonschema
import pytest
from drf_spectacular.drainage import GENERATOR_STATS
from drf_spectacular.generators import SchemaGenerator

from inspections.services.flags import open_flag
from inspections.services.policies import load_policies
from plant.recording import recording
from tests.factories import NOW
from tests.inspections.api.inches import SURVEY
from tests.inspections.visits import begin

pytestmark = pytest.mark.django_db
V1 = "/api/v1"


@pytest.fixture(scope="module")
def described():
    return SchemaGenerator().get_schema(request=None, public=True)


def check(described, path, method, answer):
    responses = described["paths"][V1 + path][method]["responses"]
    assert str(answer.status_code) in responses, (path, method, answer.status_code, answer.json())
    (content,) = responses[str(answer.status_code)]["content"].values()
    schema = content["schema"] | {"components": described["components"]}
    jsonschema.validate(answer.json(), schema, cls=jsonschema.Draft202012Validator)
    return answer


def test_answers_are_what_the_schema_says(described, as_person, mechanic, engineer, site, filled, fit, order):
    with recording(by=None, at=NOW):
        load_policies(site=site, kinds=("alignment", "torque"))
        open_flag(coupling=fit.coupling, kind="out-of-tolerance", evidence={})
    crew, entry = as_person(mechanic), "/visits/{id}/entries/{step}/"
    visit = f"{V1}/visits/{filled.uuid}/"
    rounds = "/visits/{id}/entries/{step}/{number}/"
    saved = crew.patch(f"{visit}entries/alignment/1/", {"fields": SURVEY}, format="json")
    check(described, rounds, "patch", saved)
    check(described, rounds, "get", crew.get(f"{visit}entries/alignment/2/"))
    clash = crew.patch(f"{visit}entries/placement/", {"fields": {"dbse": "1"}}, format="json")
    assert check(described, entry, "patch", clash).status_code == 412
    for step in ("as-found", "placement", "as-left", "element", "fasteners", "signature"):
        check(described, entry, "get", crew.get(f"{visit}entries/{step}/"))
    check(described, "/visits/{id}/entries/", "get", crew.get(f"{visit}entries/"))
    check(described, "/visits/{id}/summary/", "get", crew.get(f"{visit}summary/"))
    unsigned = crew.post(f"{visit}sign/", {}, format="json")
    assert check(described, "/visits/{id}/sign/", "post", unsigned).status_code == 428
    signed = crew.post(f"{visit}sign/", {}, format="json", headers={"If-Match": "*"})
    assert check(described, "/visits/{id}/sign/", "post", signed).status_code == 200
    check(described, "/visits/{id}/", "get", crew.get(visit))
    check(described, "/visits/{id}/records/", "get", crew.get(f"{visit}records/"))
    check(described, entry, "get", crew.get(f"{visit}entries/placement/"))
    check(described, "/visits/{id}/drop/", "post", crew.post(f"{visit}drop/", {}, format="json"))
    begin(fit, order, mechanic)
    assert as_person(engineer).get(f"{V1}/flags/?state=cleared").json()["results"], "in tolerance again"
    for noun in ("work-orders", "visits", "surveys", "checks", "flags", "policies"):
        found = check(described, f"/{noun}/", "get", as_person(engineer).get(f"{V1}/{noun}/")).json()["results"]
        assert found, noun
        if noun != "surveys":
            one = as_person(engineer).get(f"{V1}/{noun}/{found[0]['id']}/")
            check(described, f"/{noun}/{{id}}/", "get", one)


def test_the_schema_is_made_without_a_warning(described):
    # Warnings are printed once per process and counted ever after, so the count is asked.
    assert not GENERATOR_STATS, [*GENERATOR_STATS._warn_cache, *GENERATOR_STATS._error_cache]
