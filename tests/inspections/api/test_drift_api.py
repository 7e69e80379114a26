"""Legs, forecasts and group fits as other programs read them; leaving a leg out; another day's risk."""

from datetime import date, timedelta

import pytest
import time_machine

from inspections.models import Check, DriftState, GroupFit, Leg
from inspections.selectors.drift_due import chance_on
from inspections.services.checks import recompute_site
from inspections.services.policies import load_policies
from plant.recording import recording
from tests.inspections.drifting import fitted, fleet, noon

TODAY = date(2026, 1, 15)


@pytest.fixture
def plant(site, mechanic):
    with recording(by=None, at=noon(date(2023, 10, 1))):
        load_policies(site=site, kinds=("alignment",))
    made = fleet(site, mechanic, 3, rate_sd=0.012, at_most=0.5)
    fitted(site, TODAY)
    with recording(by=None, at=noon(TODAY)):
        recompute_site(site=site, today=TODAY)
    with time_machine.travel(noon(TODAY), tick=False):
        yield made


def test_legs_say_what_moved_in_the_units_asked_for_and_name_both_visits(plant, as_person, mechanic):
    client = as_person(mechanic)
    leg = Leg.objects.order_by("to_on", "pk").first()
    row = client.get(f"/api/v1/legs/{leg.uuid}/", {"units": "us"}).json()
    assert row["from_visit"] == str(leg.from_visit.uuid)
    assert row["to_visit"] == str(leg.to_visit.uuid)
    # A thousandth of an inch is 0.0254 mm.
    assert row["move"]["offset_v"]["unit"] == "thou"
    assert row["move"]["offset_v"]["value"] == pytest.approx(leg.move_offset_v_mm / 0.0254)
    assert row["why_not"] == ""
    found = client.get("/api/v1/legs/", {"coupling": str(plant[0].coupling.uuid)}).json()["results"]
    assert [one["to_on"] for one in found] == sorted(one["to_on"] for one in found)
    assert len(found) == 2


def test_a_leg_is_left_out_with_its_reason_by_an_engineer_who_saw_it_as_it_is(plant, as_person, engineer, mechanic):
    leg = Leg.objects.first()
    address = f"/api/v1/legs/{leg.uuid}/leave-out/"
    body = {"reason": "read on a bent bracket"}
    assert as_person(mechanic).post(address, body, format="json").status_code == 403
    client = as_person(engineer)
    assert client.post(address, {"reason": " "}, format="json").status_code == 422
    stale = client.post(address, body, format="json", headers={"If-Match": '"99"'})
    assert stale.status_code == 412
    done = client.post(address, body, format="json")
    assert (done.status_code, done.json()["why_not"]) == (200, "left-out")
    assert done.json()["left_out_by"] == str(engineer.uuid)
    again = client.post(f"/api/v1/legs/{leg.uuid}/count-again/", {}, format="json")
    assert (again.status_code, again.json()["why_not"]) == (200, "")


def test_forecasts_and_fits_are_read_and_followed(plant, site, as_person, planner):
    client = as_person(planner)
    state = DriftState.objects.order_by("coupling__tag").first()
    row = client.get(f"/api/v1/drift-states/{state.uuid}/").json()
    assert row["due_on"] == state.due_on.isoformat()
    assert [(one["days"], one["chance"]) for one in row["risk_curve"]] == [tuple(one) for one in state.curve]
    assert row["used_when_due"]["low"] <= row["used_when_due"]["middle"] <= row["used_when_due"]["high"]
    assert client.get(row["links"]["legs"]).json()["results"]
    fit = client.get(row["links"]["group_fit"]).json()
    assert (fit["couplings"], fit["clock"], fit["current"]) == (3, "calendar", True)
    assert fit["rate"]["offset_v"] == GroupFit.objects.get().rate[0]
    feed = client.get("/api/v1/drift-states/", {"site": str(site.uuid), "updated_since": "2020-01-01T00:00:00Z"}).json()
    assert len(feed["results"]) == 3
    with recording(by=None, at=noon(TODAY)):
        recompute_site(site=site, today=TODAY)
    assert client.get("/api/v1/drift-states/", {"after": feed["after"]}).json()["results"] == []


def test_what_a_look_in_june_would_mean(plant, as_person, planner):
    client = as_person(planner)
    check = Check.objects.get(coupling=plant[0].coupling, kind="alignment", settled_on=None)
    state = DriftState.objects.get(coupling=plant[0].coupling)
    on = date(2027, 6, 1)
    said = client.get(f"/api/v1/checks/{check.uuid}/look/", {"on": on.isoformat()}).json()
    assert said["chance"] == chance_on(state, on)
    assert said["due_on"] == state.due_on.isoformat()
    for wrong in ("June", "2027-13-01", "NaN", ""):
        assert client.get(f"/api/v1/checks/{check.uuid}/look/", {"on": wrong}).status_code == 400
    DriftState.objects.filter(pk=state.pk).update(curve=[], risk=None)
    nothing = client.get(f"/api/v1/checks/{check.uuid}/look/", {"on": on.isoformat()}).json()
    assert (nothing["on"], nothing["chance"]) == (on.isoformat(), None)


def test_a_deferral_tells_the_risk_it_was_made_with(plant, as_person, planner):
    check = Check.objects.get(coupling=plant[0].coupling, kind="alignment", settled_on=None)
    until = (check.due_on + timedelta(days=45)).isoformat()
    body = {"until": until, "reason": "no crew before"}
    done = as_person(planner).post(f"/api/v1/checks/{check.uuid}/defer/", body, format="json").json()
    state = DriftState.objects.get(coupling=plant[0].coupling)
    assert done["deferred_risk"] == chance_on(state, date.fromisoformat(until))
