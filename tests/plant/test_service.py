"""In service, out of it, uncoupled: spells that follow each other, said afterwards, corrected, never in advance."""

from datetime import timedelta
from importlib import import_module

import pytest
from django.apps import apps
from django.db import IntegrityError, transaction

from plant.models import ServiceSpell, Train
from plant.recording import recording
from plant.refusals import Missing, NotAllowed, Refused, Stale
from plant.selectors.service import current_spell, service_at, spells_of
from plant.services.register import change_train, register_train
from plant.services.service import correct_spell, remove_spell, set_service
from tests.factories import NOW, TrainFactory

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)


@pytest.fixture
def train(site, area, keeper):
    with recording(by=keeper, at=NOW):
        return register_train(site=site, area=area, tag="CT-07")


def said(train, state, at=None, by=None, now=NOW, **more):
    with recording(by=by, at=now):
        return set_service(train=train, state=state, at=at, **more)


def refusal(work):
    with pytest.raises(Refused) as refused:
        work()
    return refused.value.as_dict()


def spells(train):
    return [(one.state, one.from_at, one.until_at) for one in ServiceSpell.objects.filter(train=train)]


def test_a_new_train_has_one_open_spell_without_a_beginning(train):
    assert spells(train) == [("in", None, None)]


def test_a_change_may_be_said_afterwards_and_the_spells_join(train, planner):
    said(train, "out", NOW - 9 * DAY, by=planner, reason="Overhaul of the boiler")
    said(train, "uncoupled", NOW - 2 * DAY, by=planner, reason="Solo run of the motor")
    assert spells(train) == [
        ("in", None, NOW - 9 * DAY),
        ("out", NOW - 9 * DAY, NOW - 2 * DAY),
        ("uncoupled", NOW - 2 * DAY, None),
    ]
    train.refresh_from_db()
    assert (train.service, train.version) == ("uncoupled", 3)
    now = current_spell(train)
    assert (now.reason, now.by) == ("Solo run of the motor", planner)
    assert [service_at(train, NOW - days * DAY) for days in (30, 9, 3, 2, 0)] == [
        "in", "out", "out", "uncoupled", "uncoupled",
    ]  # fmt: skip
    assert [one.state for one in spells_of(train)] == ["uncoupled", "out", "in"]


def test_a_change_of_the_train_itself_writes_the_spell_too(train, keeper):
    with recording(by=keeper, at=NOW):
        change_train(train=train, service="out", name="Cooling tower fan")
    assert spells(train) == [("in", None, NOW), ("out", NOW, None)]
    assert Train.objects.get().service == "out"


@pytest.mark.parametrize(
    ("state", "at", "field", "message"),
    [
        ("in", NOW + DAY, "at", "This lies in the future: a change of service is recorded once it has happened."),
        ("uncoupled", NOW - 9 * DAY, "at", "It has been out of service since 2026-10-10 11:00: correct that time first"
         " if this happened before."),
        ("out", NOW, "state", "This train is out of service already since 2026-10-10 11:00."),
        ("scrapped", NOW, "state", "Value 'scrapped' is not a valid choice."),
    ],
)  # fmt: skip
def test_what_cannot_have_happened_is_refused_with_the_reason(train, state, at, field, message):
    said(train, "out", NOW - 2 * DAY)
    before = spells(train)
    assert refusal(lambda: said(train, state, at)) == {field: message}
    assert spells(train) == before


def test_a_reason_that_is_too_long_is_refused(train):
    assert "at most 200 characters" in refusal(lambda: said(train, "out", reason="x" * 201))["reason"]


def test_two_sayings_about_one_moment_are_one_spell_and_the_history_has_both(train):
    said(train, "out", NOW, reason="Trip")
    said(train, "uncoupled", NOW, reason="Trip, coupling opened")
    assert spells(train) == [("in", None, NOW), ("uncoupled", NOW, None)]
    assert [row.state for row in ServiceSpell.history.filter(from_at=NOW)] == ["uncoupled", "out"]


def test_a_corrected_beginning_moves_the_end_before_it(train, planner):
    said(train, "out", NOW - 5 * DAY)
    last = said(train, "in", NOW - DAY)
    with recording(by=planner, at=NOW):
        correct_spell(spell=last, from_at=NOW - 2 * DAY, reason="read off the log book")
    assert spells(train)[1:] == [("out", NOW - 5 * DAY, NOW - 2 * DAY), ("in", NOW - 2 * DAY, None)]
    last.refresh_from_db()
    assert last.reason == "read off the log book"


@pytest.mark.parametrize(
    ("which", "fields", "expected"),
    [
        (2, {"from_at": NOW + DAY}, {"from_at": "This lies in the future."}),
        (2, {"from_at": NOW - 6 * DAY}, {"from_at": "The spell before it began only at 2026-10-07 11:00."}),
        (1, {"from_at": NOW}, {"from_at": "It ended at 2026-10-11 11:00 already: the next spell began then."}),
        (1, {"from_at": None}, {"from_at": "Say when it began: another spell came before it."}),
        (0, {"from_at": NOW - 9 * DAY}, {"from_at": "This is the first spell: it has no known beginning. Record the "
         "change that came after it."}),
        (1, {"state": "in"}, {"state": "The spell beside it is of the same state: remove this one, and they become "
         "one."}),
    ],
)  # fmt: skip
def test_spells_neither_overlap_nor_repeat_themselves(train, which, fields, expected):
    said(train, "out", NOW - 5 * DAY)
    said(train, "in", NOW - DAY)
    before = spells(train)
    with recording(by=None, at=NOW):
        assert refusal(lambda: correct_spell(spell=ServiceSpell.objects.all()[which], **fields)) == expected
    assert spells(train) == before


def test_a_corrected_state_is_the_trains(train):
    spell = said(train, "out", NOW - DAY)
    with recording(by=None, at=NOW):
        correct_spell(spell=spell, state="uncoupled")
    assert Train.objects.get().service == "uncoupled"


def test_a_spell_that_never_was_is_taken_back_and_what_stood_beside_it_joins(train):
    said(train, "out", NOW - 5 * DAY)
    said(train, "in", NOW - DAY)
    with recording(by=None, at=NOW):
        remove_spell(spell=ServiceSpell.objects.all()[1])
    assert spells(train) == [("in", None, None)]
    assert ServiceSpell.history.filter(history_type="-").count() == 2
    with recording(by=None, at=NOW):
        first = ServiceSpell.objects.get()
        assert "The first spell cannot be removed" in refusal(lambda: remove_spell(spell=first))[""]


def test_who_may_and_who_was_faster(train, mechanic, planner, stranger):
    with pytest.raises(NotAllowed):
        said(train, "out", by=mechanic)
    with pytest.raises(Missing):
        said(train, "out", by=stranger)
    with pytest.raises(Stale):
        said(train, "out", by=planner, expected=9)


def test_the_database_holds_one_open_spell_and_an_end_after_the_beginning(train):
    for wrong in [{"from_at": NOW}, {"from_at": NOW, "until_at": NOW - DAY}, {"from_at": None, "until_at": NOW}]:
        with pytest.raises(IntegrityError), transaction.atomic():
            ServiceSpell.objects.create(site=train.site, train=train, state="out", **wrong)


def test_trains_from_before_get_an_open_spell_of_the_state_they_are_in(site):
    bare = TrainFactory(site=site, area__site=site, tag="OLD-1", service="out")
    migration = import_module("plant.migrations.0008_every_train_has_a_spell_of_service")
    migration.open_spells(apps, None)
    migration.open_spells(apps, None)
    assert spells(bare) == [("out", None, None)]
    migration.close_nothing(apps, None)
    assert spells(bare) == []


def test_over_the_api_it_is_set_corrected_and_taken_back(as_person, planner, train, time_machine_at):
    client, where = as_person(planner), f"/api/v1/trains/{train.uuid}/"
    out = client.post(where + "service/", {"state": "out", "at": "2026-10-11T06:00:00Z", "reason": "Trip"}, "json")
    assert (out.status_code, out["ETag"]) == (201, '"2"')
    assert out.json() == {
        "id": out.json()["id"], "state": "out", "from_at": "2026-10-11T06:00:00Z", "until_at": None, "reason": "Trip",
        "by": str(planner),
    }  # fmt: skip
    listed = client.get(where + "service/").json()["results"]
    assert [row["state"] for row in listed] == ["out", "in"]
    assert (listed[1]["from_at"], listed[1]["until_at"]) == (None, "2026-10-11T06:00:00Z")
    assert client.get(where).json()["service"] == "out"

    spell = where + f"service/{out.json()['id']}/"
    assert client.patch(spell, {"reason": "x"}, "json").status_code == 428
    done = client.patch(spell, {"from_at": "2026-10-10T06:00:00Z"}, "json", headers={"If-Match": '"2"'})
    assert (done.status_code, done["ETag"], done.json()["from_at"]) == (200, '"3"', "2026-10-10T06:00:00Z")
    late = client.post(where + "service/", {"state": "in", "at": "2026-11-01T00:00:00Z"}, "json")
    assert late.json()["errors"] == [
        {
            "pointer": "/at",
            "detail": "This lies in the future: a change of service is recorded once it has happened.",
            "code": "invalid",
        }
    ]
    assert client.delete(spell, headers={"If-Match": '"3"'}).status_code == 204
    assert client.get(where).json()["service"] == "in"
    assert client.delete(spell, headers={"If-Match": "*"}).status_code == 404
