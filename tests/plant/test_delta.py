"""Delta reads: nothing missed, removals told, old epochs refused; with four writers at once on both databases."""

import threading
from datetime import timedelta

import pytest
from django.db import connection, connections

from plant.api import feeds
from plant.models import Area, Person, Site, SiteMark, SiteNumber
from plant.recording import bump, changed, recording, removed
from plant.selectors.journal import number_before
from tests.factories import NOW, AreaFactory

WRITERS, ROUNDS = 4, 40


def changed_by(*roots, at=NOW):
    with recording(by=None, at=at):
        for root in roots:
            bump(root)


def read(client, noun="areas", **query):
    answer = client.get(f"/api/v1/{noun}/", query)
    assert answer.status_code == 200, answer.json()
    return answer.json()


def everything(client, site, limit=50, **query):
    """All pages of a delta read, as (results, last token)."""
    page = read(client, site=str(site.uuid), limit=limit, **query)
    found = page["results"]
    while page["more"]:
        page = read(client, after=page["after"], limit=limit)
        found += page["results"]
    return found, page["after"]


@pytest.fixture
def client(as_person, mechanic):
    return as_person(mechanic)


@pytest.fixture
def areas(site):
    made = [AreaFactory(site=site, name=f"Area {n}") for n in range(5)]
    for area in made:
        changed_by(area)
    return made


def names(results):
    return [row.get("name", "removed") for row in results]


@pytest.mark.django_db
def test_a_first_read_gives_all_and_the_next_only_what_changed(client, site, areas):
    first, token = everything(client, site, updated_since="2020-01-01T00:00:00Z", limit=2)
    assert names(first) == ["Area 0", "Area 1", "Area 2", "Area 3", "Area 4"]
    assert read(client, after=token)["results"] == []
    changed_by(areas[3])
    changed_by(areas[1])
    again, _ = everything(client, site, after=token)
    assert names(again) == ["Area 3", "Area 1"]


@pytest.mark.django_db
def test_a_removed_thing_is_told_in_its_place(client, site, areas):
    _, token = everything(client, site, updated_since="2020-01-01T00:00:00Z")
    with recording(by=None, at=NOW):
        removed(areas[2])
        areas[2].delete()
    changed_by(areas[0])
    results, _ = everything(client, site, after=token, limit=1)
    assert results[0] == {"id": str(areas[2].uuid), "removed": True}
    assert names(results) == ["removed", "Area 0"]


@pytest.mark.django_db
def test_a_token_of_an_earlier_epoch_is_gone(client, site, areas):
    _, token = everything(client, site, updated_since="2020-01-01T00:00:00Z")
    Site.objects.filter(pk=site.pk).update(epoch=2)
    answer = client.get("/api/v1/areas/", {"after": token})
    assert (answer.status_code, answer.json()["type"]) == (410, "/problems/gone")


@pytest.mark.django_db
def test_a_token_ahead_of_the_record_is_gone(client, site, areas):
    """Somebody restored a copy without beginning a new epoch."""
    _, token = everything(client, site, updated_since="2020-01-01T00:00:00Z")
    SiteNumber.objects.filter(site=site).update(last=2)
    assert client.get("/api/v1/areas/", {"after": token}).status_code == 410


@pytest.mark.django_db
def test_what_cannot_be_meant_is_refused_with_its_parameter(client, site, other_site, areas):
    def refused(**query):
        answer = client.get("/api/v1/areas/", query)
        return answer.status_code, [error.get("parameter") for error in answer.json().get("errors", [])]

    _, token = everything(client, site, updated_since="2020-01-01T00:00:00Z")
    here = str(site.uuid)
    assert refused(updated_since="2020-01-01T00:00:00Z") == (400, ["site"])
    assert refused(site=here, updated_since="yesterday") == (400, ["updated_since"])
    assert refused(site=here, updated_since="2020-01-01T00:00:00") == (400, ["updated_since"])
    assert refused(site=here, updated_since="2020-13-01T00:00:00Z") == (400, ["updated_since"])
    assert refused(site=here, updated_since="2020-01-01T00:00:00Z", name="x") == (400, ["name"])
    assert refused(after="bm9uc2Vuc2U") == (400, ["after"])
    assert refused(after="é") == (400, ["after"])
    assert refused(after=token, updated_since="2020-01-01T00:00:00Z") == (400, ["updated_since"])
    assert refused(after=token, site=str(other_site.uuid)) == (400, ["site"])
    assert refused(after=token, limit=0) == (400, ["limit"])
    assert client.get("/api/v1/trains/", {"after": token}).status_code == 400
    assert refused(site=str(other_site.uuid), updated_since="2020-01-01T00:00:00Z")[0] == 404


@pytest.mark.django_db
def test_a_stranger_cannot_use_a_token_that_came_into_his_hands(client, site, areas, as_person, stranger):
    _, token = everything(client, site, updated_since="2020-01-01T00:00:00Z")
    assert as_person(stranger).get("/api/v1/areas/", {"after": token}).status_code == 404


@pytest.mark.django_db
def test_updated_since_gives_what_came_after_and_a_little_before_rather_than_less(client, site, areas, time_machine):
    SiteMark.objects.all().delete()
    SiteNumber.objects.filter(site=site).update(marked_at=None)
    for minutes, area in ((0, areas[0]), (2, areas[1]), (10, areas[2]), (20, areas[3])):
        time_machine.move_to(NOW + timedelta(minutes=minutes), tick=False)
        # What the caller says about the time of the deed does not move its place.
        changed_by(area, at=NOW - timedelta(days=3))

    def since(minutes):
        instant = (NOW + timedelta(minutes=minutes)).isoformat()
        return names(everything(client, site, updated_since=instant)[0])

    assert since(21) == ["Area 3"]
    assert since(20) == ["Area 3"]
    assert since(15) == ["Area 2", "Area 3"]
    assert since(5) == ["Area 0", "Area 1", "Area 2", "Area 3"]
    assert since(-60) == ["Area 4", "Area 0", "Area 1", "Area 2", "Area 3"]


@pytest.mark.django_db
def test_a_clock_set_back_hides_nothing(site):
    SiteMark.objects.create(site=site, no=10, at=NOW)
    SiteMark.objects.create(site=site, no=20, at=NOW - timedelta(hours=2))
    SiteMark.objects.create(site=site, no=30, at=NOW + timedelta(hours=1))
    # Number 15 may have been written at 12 or at 10 o'clock of the clock on the wall: it counts as after 11.
    assert number_before(site, NOW - timedelta(hours=1)) == 0
    assert number_before(site, NOW) == 20
    assert number_before(site, NOW + timedelta(hours=2)) == 30


@pytest.mark.django_db
def test_a_page_stops_at_the_number_it_read_first(site, areas, monkeypatch):
    """A removal committed between the page's two reads must not carry the reader past a change it has not seen."""
    tombstones_between = feeds.tombstones_between

    def others_write_meanwhile(*args):
        changed_by(areas[0])
        with recording(by=None, at=NOW):
            removed(areas[4])
            areas[4].delete()
        return tombstones_between(*args)

    monkeypatch.setattr(feeds, "tombstones_between", others_write_meanwhile)
    start = feeds.Place("area", site.uuid, site.epoch, 4)
    rows, gone, place, more = feeds.changes(Area.objects.all(), site, start, 50)
    monkeypatch.undo()
    assert ([row.name for row in rows], gone, place.no, more) == (["Area 4"], [], 5, False)
    rows, gone, place, more = feeds.changes(Area.objects.all(), site, place, 50)
    assert ([row.name for row in rows], [no for no, _ in gone], place.no) == (["Area 0"], [7], 7)


def _four_writers(site):
    """Four writers change, make and remove areas while a reader follows; then what it knows is compared."""
    person = Person.objects.get(username="mia")
    own = [[AreaFactory(site=site, name=f"W{w}-{n}") for n in range(5)] for w in range(WRITERS)]
    faults, done = [], threading.Event()

    def write(number):
        try:
            mine = own[number]
            for turn in range(ROUNDS):
                with recording(by=None, at=NOW):
                    if turn % 8 == 7:
                        area = mine.pop(0)
                        removed(area)
                        area.delete()
                    elif turn % 8 == 3:
                        area = Area.objects.create(site=site, name=f"W{number}-new-{turn}")
                        changed(area)
                        mine.append(area)
                    else:
                        bump(mine[turn % len(mine)])
        except BaseException as fault:
            faults.append(fault)
        finally:
            connections.close_all()

    known, place, pages = {}, feeds.Place("area", site.uuid, site.epoch, 0), 0

    def follow(place):
        queryset = Area.objects.all().visible_to(person)
        while True:
            rows, gone, place, more = feeds.changes(queryset, site, place, 7)
            known.update({row.uuid: (row.version, row.changed_no) for row in rows})
            for _, uuid in gone:
                known[uuid] = None
            if not more:
                return place

    threads = [threading.Thread(target=write, args=(number,)) for number in range(WRITERS)]
    watcher = threading.Thread(target=lambda: ([thread.join() for thread in threads], done.set()))
    for thread in [*threads, watcher]:
        thread.start()
    while not done.is_set():
        place = follow(place)
        pages += 1
    watcher.join()
    place = follow(place)
    assert faults == []
    stands = {area.uuid: (area.version, area.changed_no) for area in Area.objects.filter(changed_no__gt=0)}
    missed = [uuid for uuid, state in stands.items() if known.get(uuid) != state]
    unsaid = [uuid for uuid, state in known.items() if state is not None and uuid not in stands]
    changes = SiteNumber.objects.get(site=site).last
    print(  # noqa: T201
        f"\n{connection.vendor}: {changes} changes by {WRITERS} writers, {pages} looks, "
        f"missed {len(missed)}, removals not told {len(unsaid)}"
    )
    assert changes == WRITERS * ROUNDS
    assert (missed, unsaid) == ([], [])
    return pages


@pytest.mark.django_db(transaction=True)
def test_a_reader_beside_four_writers_misses_nothing(site, mechanic):
    _four_writers(site)


@pytest.mark.engine
@pytest.mark.django_db(transaction=True)
def test_a_reader_beside_four_writers_misses_nothing_on_postgresql(site, mechanic):
    assert connection.vendor == "postgresql"
    assert _four_writers(site) > 1
