"""Readings of the hour meter: struck when mistyped, kept and shown, counted no more; a new meter carries on."""

from datetime import timedelta

import pytest

from plant.models import Meter, MeterReading
from plant.recording import recording
from plant.refusals import NotAllowed, Refused, Stale
from plant.services.meters import record_run_hours, strike_run_hours
from tests.factories import NOW

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)


def read(train, days_ago, hours, by=None, **more):
    with recording(by=by, at=NOW):
        return record_run_hours(train=train, at=NOW - days_ago * DAY, hours=hours, **more)


def strike(train, days_ago, reason="a digit too many", by=None, **more):
    with recording(by=by, at=NOW):
        return strike_run_hours(train=train, at=NOW - days_ago * DAY, reason=reason, **more)


def test_a_mistyped_reading_is_struck_and_the_right_one_entered_for_the_same_time(train, mechanic):
    read(train, 9, 1000)
    wrong = read(train, 2, 1150)
    with pytest.raises(Refused) as refused:
        read(train, 0, 1048)
    assert "would run backwards" in refused.value.as_dict()["hours"]

    strike(train, 2, by=mechanic)
    read(train, 2, 1015)
    read(train, 0, 1048)

    wrong.refresh_from_db()
    assert (wrong.hours, wrong.struck_at, wrong.struck_by, wrong.struck_reason) == (
        1150, NOW, mechanic, "a digit too many",
    )  # fmt: skip
    assert list(MeterReading.objects.counted().values_list("hours", flat=True)) == [1000, 1015, 1048]
    assert Meter.objects.get().version == 5


def test_a_reading_that_a_new_meter_was_put_in_with_is_struck_last_first(train):
    read(train, 9, 5000)
    read(train, 6, 10, replaced=True)
    read(train, 3, 80)
    with pytest.raises(Refused) as refused:
        strike(train, 6)
    assert refused.value.as_dict() == {
        "at": "A new meter was put in with this reading and later ones count on from it: strike those first."
    }
    strike(train, 3)
    strike(train, 6)
    read(train, 3, 5080)
    assert list(MeterReading.objects.counted().values_list("hours", "offset_hours")) == [(5000, 0), (5080, 0)]


@pytest.mark.parametrize(
    ("days_ago", "reason", "expected"),
    [
        (2, "  ", {"reason": "Say what is wrong with it, such as a digit too many."}),
        (2, "x" * 201, {"reason": "Ensure this value has at most 200 characters (it has 201)."}),
        (1, "x", {"at": "The meter has no reading of this time that could be struck."}),
    ],
)
def test_what_is_struck_is_there_and_has_a_reason(train, days_ago, reason, expected):
    read(train, 2, 1000)
    with pytest.raises(Refused) as refused:
        strike(train, days_ago, reason)
    assert refused.value.as_dict() == expected
    assert MeterReading.objects.counted().count() == 1


def test_a_train_without_a_meter_and_a_reading_struck_already_have_nothing_to_strike(train):
    with pytest.raises(Refused, match="no reading of this time"):
        strike(train, 2)
    read(train, 2, 1000)
    strike(train, 2)
    with pytest.raises(Refused, match="no reading of this time"):
        strike(train, 2)


def test_who_may_and_who_was_faster(train, manager):
    read(train, 2, 1000)
    with pytest.raises(NotAllowed):
        strike(train, 2, by=manager)
    with pytest.raises(Stale):
        strike(train, 2, expected=9)


def test_the_list_shows_offsets_and_what_was_struck(as_person, mechanic, train, time_machine_at):
    read(train, 9, 5000)
    read(train, 6, 10, replaced=True)
    read(train, 3, 70)
    client, where = as_person(mechanic), f"/api/v1/trains/{train.uuid}/run-hours/"
    body = {"at": (NOW - 3 * DAY).isoformat(), "reason": "read from the pump beside it"}
    assert client.post(where + "strike/", body, "json").status_code == 200
    rows = client.get(where).json()["results"]
    assert [(row["hours"]["value"], row["offset"]["value"], row["total"]["value"]) for row in rows] == [
        (70, 4990, 5060), (10, 4990, 5000), (5000, 0, 5000),
    ]  # fmt: skip
    assert [row["struck"] for row in rows] == [
        {"at": "2026-10-12T09:00:00Z", "by": str(mechanic), "reason": "read from the pump beside it"}, None, None,
    ]  # fmt: skip
    again = client.post(where + "strike/", body, "json")
    assert again.json()["errors"][0]["pointer"] == "/at"
