"""Planned stops: who enters them, what is refused, and which is the next one of a train."""

from datetime import date, timedelta

import pytest

from inspections.selectors.stops import next_stop, next_stops, stops_between
from plant.models import Area, ExternalRef, Person, Stop, Tombstone
from plant.recording import recording
from plant.refusals import Missing, NotAllowed, Refused
from plant.services.register import remove_area
from plant.services.stops import change_stop, plan_stop, remove_stop
from tests.factories import NOW, TODAY, AreaFactory, SiteFactory, TrainFactory

pytestmark = pytest.mark.django_db
SOON, LATER = TODAY + timedelta(days=20), TODAY + timedelta(days=90)


@pytest.fixture(autouse=True)
def _now(time_machine):
    time_machine.move_to(NOW, tick=False)


@pytest.fixture
def train(site):
    return TrainFactory(site=site)


def by(person):
    return recording(by=Person.objects.get(pk=person.pk), at=NOW)


def stop(site, begins_on, days=3, name="Stop", **where):
    return Stop.objects.create(
        site=site, name=name, begins_on=begins_on, ends_on=begins_on + timedelta(days=days - 1), **where
    )


def test_a_planner_enters_moves_and_removes_a_stop(planner, site, train):
    with by(planner):
        made = plan_stop(
            site=site, name=" Spring stop ", train=train, begins_on=SOON, ends_on=SOON, external_ref={"orders": "S-7"}
        )
    assert (made.name, made.changed_no > 0) == ("Spring stop", True)
    with by(planner):
        change_stop(stop=made, expected=made.version, begins_on=LATER, ends_on=LATER + timedelta(days=4))
    assert [(one.begins_on, one.history_user) for one in made.history.all()] == [(LATER, planner), (SOON, planner)]
    with by(planner):
        remove_stop(stop=made)
    assert not Stop.objects.exists()
    assert not ExternalRef.objects.filter(noun="stop").exists()
    assert Tombstone.objects.filter(noun="stop").count() == 1


def test_a_mechanic_reads_stops_and_a_stranger_finds_no_site(mechanic, stranger, site):
    for person, refusal in ((mechanic, NotAllowed), (stranger, Missing)):
        with pytest.raises(refusal), by(person):
            plan_stop(site=site, name="Stop", begins_on=SOON, ends_on=SOON)


@pytest.mark.parametrize(
    ("given", "field", "said"),
    [
        ({"name": "  "}, "name", "blank"),
        ({"ends_on": SOON - timedelta(days=1)}, "ends_on", "ends before it begins"),
        ({"ends_on": SOON + timedelta(days=400)}, "ends_on", "a year at most"),
        ({"begins_on": date(1900, 1, 1)}, "begins_on", "between the years 2000 and 2100"),
        ({"ends_on": date(2900, 1, 1)}, "ends_on", "between the years 2000 and 2100"),
        ({"note": "x" * 201}, "note", "200"),
    ],
)
def test_what_cannot_be_a_stop_is_refused_at_its_field(planner, site, given, field, said):
    with pytest.raises(Refused) as refusal, by(planner):
        plan_stop(site=site, **({"name": "Stop", "begins_on": SOON, "ends_on": SOON} | given))
    assert said in refusal.value.as_dict()[field]
    assert not Stop.objects.exists()


def test_a_stop_names_one_place_of_its_own_site(planner, site, train, other_site):
    elsewhere = TrainFactory(site=other_site, area=AreaFactory(site=other_site))
    for where, field in (
        ({"area": train.area, "train": train}, "train"),
        ({"train": elsewhere}, "train"),
        ({"area": elsewhere.area}, "area"),
    ):
        with pytest.raises(Refused) as refusal, by(planner):
            plan_stop(site=site, name="Stop", begins_on=SOON, ends_on=SOON, **where)
        assert set(refusal.value.as_dict()) == {field}


def test_an_area_that_a_stop_names_stays(keeper, site):
    area = AreaFactory(site=site, name="Empty hall")
    stop(site, SOON, area=area)
    with pytest.raises(Refused, match="planned stop names this area"), by(keeper):
        remove_area(area=area)


def test_the_next_stop_of_a_train_is_its_own_its_areas_or_its_sites(site, train):
    hall = AreaFactory(site=site, name="Hall")
    Area.objects.filter(pk=train.area_id).update(parent=hall)
    assert next_stop(train, TODAY) is None
    stop(site, LATER)
    assert next_stop(train, TODAY) == LATER
    stop(site, LATER - timedelta(days=10), area=hall)
    assert next_stop(train, TODAY) == LATER - timedelta(days=10)
    stop(site, LATER - timedelta(days=20), area=train.area)
    assert next_stop(train, TODAY) == LATER - timedelta(days=20)
    stop(site, SOON, train=train)
    assert next_stop(train, TODAY) == SOON


def test_stops_of_others_and_those_that_are_over_do_not_count(site, train, other_site):
    stop(other_site, SOON)
    stop(site, SOON, area=AreaFactory(site=site, name="Another hall"))
    stop(site, SOON, train=TrainFactory(site=site, tag="OTHER-1"))
    over = stop(site, TODAY - timedelta(days=3))
    assert over.ends_on == TODAY - timedelta(days=1)
    assert next_stop(train, TODAY) is None


def test_a_stop_under_way_is_now_until_its_last_day(site, train):
    last = stop(site, TODAY - timedelta(days=2)).ends_on
    assert last == TODAY
    assert next_stop(train, TODAY) == TODAY
    assert next_stop(train, TODAY + timedelta(days=1)) is None


def test_many_trains_are_asked_for_in_two_queries(site, django_assert_num_queries):
    area = AreaFactory(site=site)
    trains = [TrainFactory(site=site, area=area, tag=f"T-{number}") for number in range(6)]
    stop(site, SOON, area=area)
    for few in (trains[:1], trains):
        with django_assert_num_queries(2):  # the stops to come, and which area lies in which
            assert next_stops(few, TODAY) == {train.pk: SOON for train in few}


def test_an_area_within_itself_is_gone_round_once(site, train):
    Area.objects.filter(pk=train.area_id).update(parent=train.area_id)
    stop(site, SOON, area=train.area)
    assert next_stop(train, TODAY) == SOON


def test_a_span_of_days_finds_what_touches_it(site):
    first = stop(site, SOON, name="touches the first day", days=2)
    last = stop(site, SOON + timedelta(days=8), name="touches the last day")
    stop(site, SOON + timedelta(days=9), name="after")
    stop(site, SOON - timedelta(days=9), name="before")
    stop(SiteFactory(name="Saltholm Mill"), SOON, name="elsewhere")
    assert list(stops_between(site, SOON + timedelta(days=1), SOON + timedelta(days=8))) == [first, last]


def test_a_work_order_system_enters_its_stops_and_finds_them_by_its_own_name(as_person, planner, site, train):
    client = as_person(planner)
    body = {"site": str(site.uuid), "name": "Spring stop", "begins_on": "2027-04-12", "ends_on": "2027-04-23"}
    made = client.post("/api/v1/stops/", body | {"external_ref": {"orders": "S-7"}}, format="json")
    assert made.status_code == 201, made.json()
    found = client.get("/api/v1/stops/", {"external_ref": "orders:S-7"}).json()["results"]
    assert [one["id"] for one in found] == [made.json()["id"]]
    where = f"/api/v1/stops/{made.json()['id']}/"
    moved = client.patch(where, {"train": str(train.uuid)}, format="json", headers={"If-Match": made.headers["ETag"]})
    assert moved.json()["train"] == str(train.uuid)
    stale = client.patch(where, {"name": "x"}, format="json", headers={"If-Match": made.headers["ETag"]})
    assert stale.status_code == 412
    wrong = client.post("/api/v1/stops/", body | {"ends_on": "2027-04-01"}, format="json")
    assert wrong.status_code == 422
    assert "before it begins" in str(wrong.json())
