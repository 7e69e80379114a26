"""Twenty running checks in one walk: one press where all is as last time, the next by itself."""

import re
from datetime import timedelta

import pytest
import time_machine

from inspections.models import RunningLook, SignedRecord, Visit
from inspections.selectors.verification import verify
from tests.factories import NOW, AreaFactory, CouplingFactory, FitFactory, TrainFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def area(site):
    return AreaFactory(site=site, name="Pump hall")


@pytest.fixture
def places(site, area):
    below = AreaFactory(site=site, name="Pump hall, east", parent=area)
    trains = [TrainFactory(site=site, area=here, tag=f"P-{n:02}") for n, here in enumerate([area, below] * 10)]
    return [FitFactory(coupling=CouplingFactory(train=train, tag=f"{train.tag}C")).coupling for train in trains]


def press(client, page, **typed):
    """Press the page's filled button, as a phone does: the form's own address and its button."""
    action = re.search(r'<form method="post" action="(/walk/[^"]+)"', page)[1]
    answer = client.post(action, typed or {"same": "1"})
    assert answer.status_code == 302, answer.content.decode()
    return client.get(answer["Location"]).content.decode()


@pytest.mark.long
def test_twenty_are_looked_at_with_twenty_presses(client, mechanic, area, places):
    client.force_login(mechanic)
    with time_machine.travel(NOW - timedelta(days=7), tick=False):
        page = client.get(f"/walk/{area.uuid}/").content.decode()
        presses = 0
        while "sign, and on to the next" in page:
            assert f"{presses + 1} of 20" in page
            page = press(client, page)
            presses += 1
    assert presses == 20
    assert "Nothing was out of the ordinary" in page
    assert SignedRecord.objects.count() == RunningLook.objects.filter(ordinary=True, noise="usual").count() == 20
    assert set(Visit.objects.values_list("kind", "state")) == {("running", "signed")}
    assert verify().findings == []


def test_only_what_differs_is_entered_and_the_rest_is_as_last_time(client, mechanic, area, places):
    client.force_login(mechanic)
    first = f"/walk/{area.uuid}/{places[0].uuid}/"
    with time_machine.travel(NOW - timedelta(days=7), tick=False):
        client.post(first, {"same": "1", "temperature": "41"})
    with time_machine.travel(NOW, tick=False):
        page = client.get(f"/walk/{area.uuid}/").content.decode()
        assert "Same as last time" in page
        assert "41.0" in page
        client.post(first, {"below": "metal", "odd": ""})
        look = RunningLook.objects.latest("pk")
        assert (look.noise, look.below, look.leak, look.temperature_degc) == ("usual", "metal", "none", None)
        for place in places[1:]:
            client.post(f"/walk/{area.uuid}/{place.uuid}/", {"same": "1"})
        done = client.get(f"/walk/{area.uuid}/").content.decode()
    assert "One is out of the ordinary" in done
    assert "metal is worn off" in done


def test_a_second_press_signs_nothing_twice_and_nobody_looked_is_a_reason(client, mechanic, area, places):
    client.force_login(mechanic)
    where = f"/walk/{area.uuid}/{places[0].uuid}/"
    with time_machine.travel(NOW, tick=False):
        client.post(where, {"not_measured": "Scaffold in the way."})
        again = client.post(where, {"same": "1"})
    assert again.status_code == 422
    assert "looked at it today already" in again.content.decode()
    assert (SignedRecord.objects.count(), RunningLook.objects.count()) == (1, 0)


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"temperature": "900"}, "cannot be meant"),
        ({"noise": "loud"}, "is not a choice here"),
        ({"odd": "x" * 301}, "At most 300 characters"),
        ({}, "Nothing is entered yet"),
    ],
)
def test_what_cannot_be_signed_says_so_and_leaves_no_draft_behind(client, mechanic, area, places, typed, said):
    client.force_login(mechanic)
    with time_machine.travel(NOW, tick=False):
        answer = client.post(f"/walk/{area.uuid}/{places[0].uuid}/", typed)
    assert answer.status_code == 422
    assert said in answer.content.decode()
    assert not Visit.objects.exists()


def test_trains_that_do_not_run_are_named_and_left_out(client, mechanic, area, places):
    places[0].train.service = "out"
    places[0].train.save()
    client.force_login(mechanic)
    page = client.get(f"/walk/{area.uuid}/").content.decode()
    assert "of 19" in page
    assert "Not running, so not on this walk:" in page


def test_who_may_not_sign_walks_without_a_button_and_strangers_not_at_all(client, manager, stranger, area, places):
    where = f"/walk/{area.uuid}/{places[0].uuid}/"
    client.force_login(manager)
    assert "does not let you sign visits" in client.get(where).content.decode()
    assert client.post(where, {"same": "1"}).status_code == 403
    client.force_login(stranger)
    assert client.get(where).status_code == client.post(where, {"same": "1"}).status_code == 404
    assert "Pump hall" not in client.get("/walk/").content.decode()
    assert not Visit.objects.exists()
