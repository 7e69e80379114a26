"""The fasteners entry over the API: order, what one press would enter, and the summary of what was read."""

import pytest

from tests.factories import InstrumentFactory
from tests.inspections.visits import begin

pytestmark = pytest.mark.django_db


def test_the_api_tells_order_offer_and_summary(as_person, fit, order, mechanic, site, wrench):
    InstrumentFactory(site=site, kind="torque-read", name="Dial wrench", serial="R-1", standard_u_share=0.01)
    visit = begin(fit, order, mechanic, kind="torque")
    client, url = as_person(mechanic), f"/api/v1/visits/{visit.uuid}/entries/fasteners/"
    before = client.get(url).json()
    joint = before["advice"]["joints"][0]
    assert joint["passes"][0]["positions"] == [1, 5, 3, 7, 2, 6, 4, 8]
    assert joint["passes"][-1]["torque"] == {"value": 45.0, "unit": "N*m"}
    assert joint["summary"] is None
    assert before["offers"][0]["fields"]["joint0.how"] == "set"
    fields = {"joint0.how": "read", "joint0.instrument": "R-1", "joint0.position1": "45", "joint0.position2": "44 N*m"}
    after = client.patch(url + "?units=us", {"fields": fields}, format="json").json()
    summary = after["advice"]["joints"][0]["summary"]
    assert (summary["lowest_position"], summary["below"], summary["not_read"]) == (2, [2], [3, 4, 5, 6, 7, 8])
    assert summary["lowest"]["unit"] == "lbf*ft"
    assert summary["positions"][1]["compared"][0]["ratio"] == pytest.approx(44 / 45)
    screws = client.get(f"/api/v1/visits/{visit.uuid}/entries/set-screws/").json()["advice"]["sides"]
    assert [one["side"] for one in screws] == ["driver", "driven"]
