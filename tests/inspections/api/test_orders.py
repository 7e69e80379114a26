"""Work orders over the API: crew, the other program's key, isolation from permit to removal, closing."""

import pytest

from inspections.models import WorkOrder
from plant.models import ExternalRef
from tests.factories import WorkOrderFactory
from tests.inspections.visits import begin

pytestmark = pytest.mark.django_db
ORDERS = "/api/v1/work-orders/"


@pytest.fixture
def body(fit):
    return {"train": str(fit.coupling.train.uuid), "number": "WO-1", "planned_on": "2026-10-20"}


def act(client, order, name, body=None, **headers):
    named = {name.replace("_", "-"): value for name, value in headers.items()}
    return client.post(f"{ORDERS}{order.uuid}/{name}/", body or {}, format="json", headers=named)


def test_an_order_is_changed_by_its_version_with_its_whole_crew(as_person, planner, body):
    client = as_person(planner)
    made = client.post(ORDERS, body | {"crew": [{"name": "One"}, {"name": "Two"}]}, format="json")
    assert (made.status_code, made["ETag"]) == (201, '"1"')
    where = made["Location"]
    assert client.patch(where, {"title": "Re-check"}, format="json").status_code == 428
    change = {"title": "Re-check", "crew": [{"name": "Three"}], "external_ref": {"orders": "9"}}
    changed = client.patch(where, change, format="json", headers={"If-Match": '"1"'})
    assert [member["name"] for member in changed.json()["crew"]] == ["Three"]
    assert changed.json()["external_ref"] == {"orders": "9"}
    stale = client.patch(where, {"title": "Late"}, format="json", headers={"If-Match": '"1"'})
    assert (stale.status_code, stale.json()["current"]["title"]) == (412, "Re-check")
    back = client.patch(where, client.get(where).json(), format="json", headers={"If-Match": changed["ETag"]})
    assert back.status_code == 200, "what was read can be sent back"


def test_every_fault_of_an_order_is_named_and_nothing_is_saved(as_person, planner, stranger, body, order):
    body |= {"number": order.number, "crew": [{"name": "One"}, {"name": "One"}, {"person": str(stranger.uuid)}, {}]}
    answer = as_person(planner).post(ORDERS, body, format="json")
    assert answer.status_code == 422
    assert {error["pointer"] for error in answer.json()["errors"]} == {"/crew/2/person"}, "unknown to this person"
    body["crew"].pop(2)
    answer = as_person(planner).post(ORDERS, body, format="json")
    assert {error["pointer"] for error in answer.json()["errors"]} == {"/number", "/crew/1/name", "/crew/2/name"}
    assert WorkOrder.objects.count() == 1


def test_one_key_of_the_other_program_names_one_order(as_person, client_account, body):
    client = as_person(client_account)
    assert client.post(ORDERS, body | {"external_ref": {"orders": "7"}}, format="json").status_code == 201
    again = client.post(ORDERS, body | {"number": "WO-2", "external_ref": {"orders": "7"}}, format="json")
    assert again.json()["errors"][0]["pointer"] == "/external_ref/orders"
    assert (WorkOrder.objects.count(), ExternalRef.objects.count()) == (1, 1)


def test_isolation_runs_from_permit_to_removal(as_person, mechanic, fit):
    client, order = as_person(mechanic), WorkOrderFactory(train=fit.coupling.train)
    early = act(client, order, "verify-isolation")
    assert (early.status_code, "Nothing is isolated yet" in early.json()["detail"]) == (422, True)
    wordless = act(client, order, "isolate")
    assert wordless.json()["errors"][0]["pointer"] == "/permit"
    both = act(client, order, "isolate", {"permit": "P", "no_permit_reason": "bench"})
    assert both.json()["errors"][0]["pointer"] == "/no_permit_reason"
    assert act(client, order, "isolate", {"permit": "P-7"}, If_Match='"9"').status_code == 412
    isolated = act(client, order, "isolate", {"permit": "P-7"}, If_Match='"1"', Idempotency_Key="k")
    assert (isolated.json()["isolated_by"], isolated.json()["isolation_stands"]) == (str(mechanic.uuid), False)
    again = act(client, order, "isolate", {"permit": "P-7"}, If_Match='"1"', Idempotency_Key="k")
    assert again.json() == isolated.json()
    assert act(client, order, "verify-isolation").json()["isolation_stands"] is True
    standing = act(client, order, "close")
    assert standing.json()["errors"][0]["pointer"] == "/state"
    assert act(client, order, "remove-isolation").json()["isolation_stands"] is False
    assert act(client, order, "close").json()["state"] == "closed"


def test_an_order_with_a_draft_stays_open(as_person, mechanic, fit, order):
    begin(fit, order, mechanic)
    refused = act(as_person(mechanic), order, "close")
    assert "Still being written" in refused.json()["errors"][0]["detail"]


def test_a_planner_writes_orders_and_confirms_no_isolation(as_person, planner, manager, stranger, order, body):
    assert as_person(planner).post(ORDERS, body, format="json").status_code == 201
    assert act(as_person(planner), order, "isolate", {"permit": "P"}).status_code == 403
    assert as_person(manager).post(ORDERS, body, format="json").status_code == 403
    foreign = as_person(stranger)
    assert foreign.get(f"{ORDERS}{order.uuid}/").status_code == 404
    assert act(foreign, order, "isolate", {"permit": "P"}).status_code == 404
    assert foreign.post(ORDERS, body, format="json").json()["errors"][0]["pointer"] == "/train"


def test_orders_are_found_by_train_and_state(as_person, planner, site, fit, order):
    WorkOrderFactory(train__site=site, state="closed")
    client = as_person(planner)
    found = client.get(f"{ORDERS}?train={fit.coupling.train.uuid}&state=open").json()["results"]
    assert [row["id"] for row in found] == [str(order.uuid)]
    assert client.get(f"{ORDERS}?state=closed&train={fit.coupling.train.uuid}").json()["results"] == []
