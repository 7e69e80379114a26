"""The unit of work: versions, numbers, events, tombstones, nesting, keys; and that an exception leaves nothing."""

from datetime import timedelta

import pytest

from plant.models import Area, Event, IdempotencyKey, Person, Site, SiteMark, SiteNumber, Tombstone
from plant.recording import MARK_EVERY, Replay, RequestKey, bump, changed, current, part, recording, removed, told
from plant.refusals import KeyReused, Missing, Stale
from tests.factories import NOW, AreaFactory, TrainFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def train(site):
    return TrainFactory(site=site, area__site=site)


def last_number(site):
    return SiteNumber.objects.get(site=site).last


def test_a_change_raises_the_version_and_takes_the_next_number(site, train, keeper):
    with recording(by=keeper, at=NOW):
        bump(train, 1)
        train.name = "Renamed"
        train.save()
    train.refresh_from_db()
    assert (train.version, train.changed_no, last_number(site)) == (2, 1, 1)
    with recording(by=keeper, at=NOW):
        bump(train)
    train.refresh_from_db()
    assert (train.version, train.changed_no) == (3, 2)


def test_a_root_changed_twice_in_one_unit_counts_once(site, train):
    with recording(by=None, at=NOW):
        bump(train)
        bump(train)
        changed(train)
    train.refresh_from_db()
    assert (train.version, train.changed_no, last_number(site)) == (2, 1, 1)


def test_a_change_from_an_old_version_is_stale_and_changes_nothing(train):
    with pytest.raises(Stale), recording(by=None, at=NOW):
        bump(train, 7)
    train.refresh_from_db()
    assert (train.version, train.changed_no) == (1, 0)


def test_a_change_of_what_is_gone_is_missing(site):
    area = AreaFactory(site=site)
    Area.objects.filter(pk=area.pk).delete()
    with pytest.raises(Missing), recording(by=None, at=NOW):
        bump(area, 1)


def test_a_removal_leaves_a_tombstone_with_a_number(site):
    area = AreaFactory(site=site)
    with recording(by=None, at=NOW):
        bump(area)
        removed(area)
        area.delete()
    stone = Tombstone.objects.get()
    assert (stone.noun, stone.uuid, stone.no, stone.at) == ("area", area.uuid, 1, NOW)


def test_events_are_numbered_among_the_changes_of_their_site(site, other_site, train, keeper):
    elsewhere = TrainFactory(site=other_site, area__site=other_site)
    with recording(by=keeper, at=NOW):
        bump(train)
        told("check.due", train, {"why": "first"})
        bump(elsewhere)
        told("import.finished", None, {}, site_id=site.pk)
    events = list(Event.objects.order_by("no"))
    assert [(event.kind, event.no, event.site_id) for event in events] == [
        ("check.due", 2, site.pk),
        ("import.finished", 3, site.pk),
    ]
    assert (events[0].lane, events[0].by, events[0].at) == (train.uuid, keeper, NOW)
    assert (last_number(site), last_number(other_site)) == (3, 1)


def test_an_event_of_an_unknown_kind_is_a_fault_of_the_program(train):
    with pytest.raises(ValueError, match=r"visit\.lost"), recording(by=None, at=NOW):
        told("visit.lost", train, {})


def test_a_nested_unit_joins_the_outer_one(site, train, keeper, mechanic):
    with recording(by=keeper, at=NOW) as outer:
        with recording(by=mechanic, at=NOW + timedelta(days=1)) as inner:
            assert inner is outer
            assert current().by == keeper
            bump(train)
        assert last_number(site) == 0
    assert last_number(site) == 1
    with pytest.raises(RuntimeError):
        current()


def test_an_exception_leaves_nothing(site, train, keeper):
    def break_off():
        with recording(by=keeper, at=NOW, key=RequestKey("k", "f", keeper)) as unit:
            bump(train)
            told("check.due", train, {})
            unit.answer(200, {})
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        break_off()
    train.refresh_from_db()
    assert (train.version, last_number(site)) == (1, 0)
    assert not any(model.objects.exists() for model in (Event, IdempotencyKey, SiteMark))
    with pytest.raises(RuntimeError):
        current()


def test_a_part_that_is_refused_takes_only_its_own_work_along(site, train):
    other = TrainFactory(site=site, area__site=site)

    def break_off():
        with part():
            bump(other)
            told("check.due", other, {})
            removed(train)
            raise ZeroDivisionError

    with recording(by=None, at=NOW):
        bump(train)
        with pytest.raises(ZeroDivisionError):
            break_off()
        with part():
            told("check.done", train, {})
    train.refresh_from_db()
    other.refresh_from_db()
    assert (train.version, train.changed_no, other.version, other.changed_no) == (2, 1, 1, 0)
    assert [event.kind for event in Event.objects.all()] == ["check.done"]
    assert not Tombstone.objects.exists()


def test_the_same_request_under_a_key_is_answered_as_before(train, keeper):
    key = RequestKey("k-1", "print", keeper)
    with recording(by=keeper, at=NOW, key=key) as unit:
        bump(train)
        unit.answer(201, {"id": "x"}, etag='"1"', location="/there/")
    with pytest.raises(Replay) as replay, recording(by=keeper, at=NOW, key=key):
        bump(train)
    assert (replay.value.status, replay.value.body) == (201, {"id": "x"})
    assert (replay.value.etag, replay.value.location) == ('"1"', "/there/")
    train.refresh_from_db()
    assert train.version == 2


def test_another_request_under_the_same_key_is_refused(keeper):
    with recording(by=keeper, at=NOW, key=RequestKey("k-1", "one", keeper)) as unit:
        unit.answer(201, {})
    with pytest.raises(KeyReused), recording(by=keeper, at=NOW, key=RequestKey("k-1", "two", keeper)):
        pass


def test_a_key_is_one_persons(keeper, mechanic):
    for person in (keeper, mechanic):
        with recording(by=person, at=NOW, key=RequestKey("k-1", f"of {person.pk}", person)) as unit:
            unit.answer(201, {})
    assert IdempotencyKey.objects.count() == 2


def test_only_what_was_done_is_remembered(keeper):
    with recording(by=keeper, at=NOW, key=RequestKey("k-1", "one", keeper)) as unit:
        unit.answer(409, {})
    with recording(by=keeper, at=NOW, key=RequestKey("k-2", "two", keeper)):
        pass
    assert not IdempotencyKey.objects.exists()


def test_a_person_has_a_version_and_no_place_in_delta_reads(site, keeper):
    with recording(by=None, at=NOW):
        bump(keeper)
    assert Person.objects.get(pk=keeper.pk).version == 2
    assert last_number(site) == 0


def test_marks_name_a_number_that_was_committed_before_them(site, train, time_machine):
    time_machine.move_to(NOW, tick=False)
    for minutes in (0, 1, 4, 5, 6, 11):
        time_machine.move_to(NOW + timedelta(minutes=minutes), tick=False)
        with recording(by=None, at=NOW - timedelta(hours=1)):
            bump(train)
    marks = list(SiteMark.objects.order_by("no").values_list("no", "at"))
    assert MARK_EVERY.total_seconds() == 300
    assert marks == [(0, NOW), (3, NOW + timedelta(minutes=5)), (5, NOW + timedelta(minutes=11))]


def test_history_names_who_acted(site, keeper):
    with recording(by=keeper, at=NOW):
        bump(site)
        site.currency = "NOK"
        site.save()
    assert Site.history.latest().history_user == keeper
