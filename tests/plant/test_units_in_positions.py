"""Units by serial number in machine positions: one place each, exchanged at one moment, their history their own."""

from datetime import timedelta

import pytest
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext

from plant.models import MachineUnit, UnitStay
from plant.recording import recording
from plant.refusals import Missing, NotAllowed, Refused, Stale
from plant.selectors.units import standing_units, stays_at, stays_of, unit_at, unit_changes, units_matching
from plant.services.register import change_train
from plant.services.units import (
    change_unit,
    correct_stay,
    install_unit,
    register_unit,
    remove_stay,
    swap_unit,
    take_out_unit,
)
from tests.factories import NOW, TrainFactory

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)


@pytest.fixture
def motor(train):
    return train.machines.get(position=1)


@pytest.fixture
def pump(train):
    return train.machines.get(position=2)


def done(service, by=None, now=NOW, **given):
    with recording(by=by, at=now):
        return service(**given)


def refusal(service, **given):
    with pytest.raises(Refused) as refused:
        done(service, **given)
    return refused.value.as_dict()


@pytest.fixture
def make(site):
    def unit(serial, kind="motor", **more):
        return done(register_unit, site=more.pop("site", site), kind=kind, serial=serial, **more)

    return unit


def test_a_rebuilt_motor_comes_with_its_hub_half_and_the_old_one_goes_to_the_workshop(make, motor, mechanic, train):
    old, new = make("M-1001"), make("M-2002", plate="315 kW, 2980 rpm")
    done(install_unit, unit=old, machine=motor, at=None)
    gone, came = done(
        swap_unit, by=mechanic, machine=motor, unit=new, at=NOW - DAY, reason="Bearing worn", went_to="Workshop",
        left_with_hub=True, came_with_hub=True,
    )  # fmt: skip

    assert (gone.unit, gone.until_at, gone.reason, gone.went_to, gone.left_with_hub, gone.taken_out_by) == (
        old, NOW - DAY, "Bearing worn", "Workshop", True, mechanic,
    )  # fmt: skip
    assert (came.unit, came.from_at, came.until_at, came.came_with_hub, came.installed_by) == (
        new, NOW - DAY, None, True, mechanic,
    )  # fmt: skip
    assert (unit_at(motor), unit_at(motor, NOW - 2 * DAY), unit_at(motor, NOW - DAY)) == (new, old, new)
    for root, version in ((old, 3), (new, 2), (train, 3)):
        root.refresh_from_db()
        assert root.version == version


def test_history_follows_the_serial_number_from_train_to_train(make, motor, site):
    unit = make("M-1001")
    elsewhere = TrainFactory(site=site, area=motor.train.area, tag="CW-11").machines.get(position=1)
    done(install_unit, unit=unit, machine=motor, at=NOW - 9 * DAY)
    done(take_out_unit, unit=unit, at=NOW - 5 * DAY, reason="Spare needed", went_to="CW-11", left_with_hub=False)
    done(install_unit, unit=unit, machine=elsewhere, at=NOW - 5 * DAY)
    assert [stay.machine for stay in stays_of(unit)] == [elsewhere, motor]
    assert [stay.unit for stay in stays_at(motor)] == [unit]
    assert standing_units([motor, elsewhere]) == {elsewhere.pk: UnitStay.objects.get(machine=elsewhere)}
    assert unit_at(motor) is None


def test_changes_between_two_instants_pair_what_left_with_what_came(make, motor, pump):
    first, second, third = make("M-1"), make("M-2"), make("P-1", kind="pump")
    done(install_unit, unit=first, machine=motor, at=None)
    done(install_unit, unit=third, machine=pump, at=NOW - 8 * DAY)
    done(swap_unit, machine=motor, unit=second, at=NOW - 4 * DAY, reason="Rewound")
    done(take_out_unit, unit=third, at=NOW - 2 * DAY, reason="Overhaul")

    def told(since, until, machines=(motor, pump)):
        return [
            (one.machine_id, one.at, one.taken_out and one.taken_out.unit, one.installed and one.installed.unit)
            for one in unit_changes(machines, since, until)
        ]

    swapped = (motor.pk, NOW - 4 * DAY, first, second)
    assert told(NOW - 30 * DAY, NOW) == [
        (pump.pk, NOW - 8 * DAY, None, third), swapped, (pump.pk, NOW - 2 * DAY, third, None),
    ]  # fmt: skip
    assert told(NOW - 30 * DAY, NOW, [motor]) == [swapped]
    # After `since`, up to and including `until`: an as-left at the moment of the swap is of the new motor.
    assert told(NOW - 4 * DAY, NOW - 3 * DAY) == []
    assert told(NOW - 5 * DAY, NOW - 4 * DAY) == [swapped]
    with CaptureQueriesContext(
        connection,
    ) as queries:
        unit_changes([motor, pump], NOW - 30 * DAY, NOW)
    assert len(queries) == 1


@pytest.mark.parametrize(
    ("given", "expected"),
    [
        ({"at": NOW + DAY}, {"at": "This lies in the future: it is recorded once it has happened."}),
        ({"reason": " "}, {"reason": "Say why it was taken out."}),
        ({"at": NOW - 9 * DAY}, {"at": "It came there at 2026-10-09 11:00: it cannot have left before."}),
        ({"went_to": "x" * 121}, {"went_to": "Ensure this value has at most 120 characters (it has 121)."}),
    ],
)
def test_a_swap_that_cannot_have_been_is_refused_and_nothing_moves(make, motor, given, expected):
    old, new = make("M-1"), make("M-2")
    done(install_unit, unit=old, machine=motor, at=NOW - 3 * DAY)
    said = {"machine": motor, "unit": new, "at": NOW, "reason": "Rewound"} | given
    assert refusal(swap_unit, **said) == expected
    assert unit_at(motor) == old
    assert UnitStay.objects.count() == 1


def test_one_place_per_unit_and_one_unit_per_place(make, motor, pump, other_site):
    unit, other, foreign = make("M-1"), make("M-2"), make("M-1", site=other_site)
    done(install_unit, unit=unit, machine=motor, at=NOW - 3 * DAY)
    assert refusal(install_unit, unit=unit, machine=pump, at=NOW) == {
        "unit": "motor M-1 stands at BF-21 1 motor since 2026-10-09 11:00."
    }
    assert refusal(install_unit, unit=other, machine=motor, at=NOW) == {
        "machine": "motor M-1 stands there since 2026-10-09 11:00."
    }
    assert refusal(swap_unit, machine=motor, unit=unit, at=NOW, reason="x") == {
        "unit": "motor M-1 stands there already."
    }
    assert refusal(swap_unit, machine=pump, unit=other, at=NOW, reason="x") == {
        "": "No unit is recorded in BF-21 2 pump: install this one instead."
    }
    assert refusal(take_out_unit, unit=other, at=NOW, reason="x") == {"": "motor M-2 stands in no machine position."}
    assert refusal(install_unit, unit=foreign, machine=pump, at=NOW) == {
        "machine": "motor M-1 belongs to another site."
    }
    assert refusal(install_unit, unit=other, machine=pump, at=NOW + DAY) == {
        "at": "This lies in the future: it is recorded once it has happened."
    }
    done(take_out_unit, unit=unit, at=NOW - DAY, reason="Overhaul")
    assert refusal(install_unit, unit=other, machine=motor, at=NOW - 2 * DAY) == {
        "machine": "motor M-1 stands there since 2026-10-09 11:00 until 2026-10-11 11:00."
    }
    assert refusal(install_unit, unit=unit, machine=pump, at=None) == {
        "unit": "motor M-1 stands at BF-21 1 motor since 2026-10-09 11:00 until 2026-10-11 11:00."
    }


@pytest.mark.parametrize(
    ("fields", "expected"),
    [
        ({"serial": "M-2"}, {"serial": "There is a motor with the serial number “M-2” at this site already."}),
        ({"serial": " "}, {"serial": "This field cannot be blank."}),
        ({"kind": ""}, {"kind": "This field cannot be blank."}),
        ({"serial": "x" * 61}, {"serial": "Ensure this value has at most 60 characters (it has 61)."}),
    ],
)
def test_a_serial_number_is_one_units_of_a_kind(make, fields, expected):
    unit = make("M-1")
    make("M-2")
    make("M-1", kind="pump")
    assert refusal(change_unit, unit=unit, **fields) == expected


def test_a_stay_is_corrected_reopened_and_taken_back(make, motor, keeper):
    unit = make("M-1")
    stay = done(install_unit, unit=unit, machine=motor, at=NOW - 3 * DAY)
    assert refusal(correct_stay, stay=stay, until_at=NOW) == {"": "It still stands there: take it out first."}
    stay = done(take_out_unit, unit=unit, at=NOW - DAY, reason="Overhaul")
    assert refusal(correct_stay, stay=stay, reason="") == {"reason": "Say why it was taken out."}
    assert refusal(correct_stay, stay=stay, from_at=NOW) == {
        "until_at": "It came there at 2026-10-12 11:00: it cannot have left before."
    }
    stay = done(correct_stay, by=keeper, stay=stay, from_at=None, until_at=NOW - 2 * DAY, came_with_hub=False)
    assert (stay.from_at, stay.until_at, stay.came_with_hub) == (None, NOW - 2 * DAY, False)
    stay = done(correct_stay, stay=stay, until_at=None)
    assert (stay.reason, stay.taken_out_by, unit_at(motor)) == ("", None, unit)
    done(remove_stay, stay=stay)
    assert unit_at(motor) is None
    assert UnitStay.history.filter(history_type="-").count() == 1


def test_who_may_and_who_was_faster(make, motor, planner, mechanic, stranger):
    unit = make("M-1")
    for person, refused in ((planner, NotAllowed), (stranger, Missing)):
        with pytest.raises(refused):
            done(install_unit, by=person, unit=unit, machine=motor, at=NOW)
    with pytest.raises(Stale):
        done(install_unit, by=mechanic, unit=unit, machine=motor, at=NOW, expected=7)
    done(install_unit, by=mechanic, unit=unit, machine=motor, at=NOW, expected=1)


def test_the_database_keeps_one_unit_per_position_and_ends_after_beginnings(make, motor, pump, site):
    unit, other = make("M-1"), make("M-2")
    done(install_unit, unit=unit, machine=motor, at=NOW)
    wrong = [
        {"unit": other, "machine": motor},
        {"unit": unit, "machine": pump},
        {"unit": other, "machine": pump, "from_at": NOW, "until_at": NOW - DAY},
    ]
    for row in wrong:
        with pytest.raises(IntegrityError), transaction.atomic():
            UnitStay.objects.create(site=site, came_told_at=NOW, **row)


def test_a_position_that_units_stood_in_stays_in_the_train(make, motor, pump, train):
    done(install_unit, unit=make("P-1", kind="pump"), machine=pump, at=NOW)
    machines = [{"position": 1, "name": "motor", "role": "driver"}]
    assert refusal(change_train, train=train, machines=machines) == {
        "machines": "Units are recorded as having stood in position 2 (pump), which keeps it: their history goes by it."
    }


def test_units_are_found_by_a_few_letters(make, mechanic, stranger):
    unit = make("M-77", plate="Frame 315, insulated bearing")
    make("P-1", kind="pump")
    assert [list(units_matching(mechanic, text)) for text in ("m-7", "insul", "zzz")] == [[unit], [unit], []]
    assert units_matching(mechanic, "").count() == 2
    assert list(units_matching(stranger, "")) == []


def test_over_the_api_a_unit_is_made_installed_swapped_and_read_as_a_delta(as_person, keeper, site, train):
    client, where = as_person(keeper), "/api/v1/machine-units/"
    body = {"site": str(site.uuid), "kind": "motor", "serial": "M-1", "plate": "315 kW",
            "external_ref": {"orders": "EQ-1", "drawings": "D-1"}}  # fmt: skip
    old = client.post(where, body, "json").json()
    new = client.post(where, body | {"serial": "M-2", "external_ref": {}}, "json").json()
    place = {"train": str(train.uuid), "position": 1}
    came = client.post(f"{where}{old['id']}/install/", place | {"at": None}, "json")
    assert (came.status_code, came["ETag"]) == (201, '"2"')
    swap = place | {
        "at": "2026-10-12T06:00:00Z",
        "reason": "Bearing worn",
        "went_to": "Workshop",
        "left_with_hub": True,
    }
    swapped = client.post(f"{where}{new['id']}/swap-in/", swap, "json", headers={"If-Match": '"1"'})
    assert swapped.status_code == 201, swapped.json()
    stay = swapped.json()
    assert (stay["unit"], stay["train"], stay["position"], stay["from_at"]) == (
        new["id"], str(train.uuid), 1, "2026-10-12T06:00:00Z",
    )  # fmt: skip
    (before,) = client.get(f"{where}{old['id']}/stays/").json()["results"]
    assert (before["until_at"], before["reason"], before["went_to"], before["left_with_hub"]) == (
        "2026-10-12T06:00:00Z", "Bearing worn", "Workshop", True,
    )  # fmt: skip
    assert [row["id"] for row in client.get(where, {"train": str(train.uuid)}).json()["results"]] == [new["id"]]
    assert [row["id"] for row in client.get(where, {"external_ref": "drawings:D-1"}).json()["results"]] == [old["id"]]
    delta = client.get(where, {"site": str(site.uuid), "updated_since": "2020-01-01T00:00:00Z"}).json()["results"]
    assert [row["id"] for row in delta] == [old["id"], new["id"]]

    here = f"{where}{new['id']}/stays/{stay['id']}/"
    fixed = client.patch(here, {"came_with_hub": True}, "json", headers={"If-Match": swapped["ETag"]})
    assert (fixed.status_code, fixed.json()["came_with_hub"]) == (200, True)
    out = client.post(f"{where}{new['id']}/take-out/", {"at": "2026-10-12T07:00:00Z", "reason": "Wrong one"}, "json")
    assert out.status_code == 201
    assert client.delete(here, headers={"If-Match": out["ETag"]}).status_code == 204
    wrong = client.post(f"{where}{new['id']}/install/", place | {"position": 3, "at": None}, "json").json()["errors"]
    assert wrong == [
        {"pointer": "/position", "detail": "This train has no machine at this position.", "code": "invalid"}
    ]


def test_a_list_of_stays_asks_the_same_number_of_times_however_long_it_is(as_person, keeper, make, motor):
    unit, client = make("M-1"), as_person(keeper)
    for days in (9, 7, 5, 3):
        done(install_unit, unit=unit, machine=motor, at=NOW - days * DAY)
        done(take_out_unit, unit=unit, at=NOW - (days - 1) * DAY, reason="x")
    # The unit, its stays with everything they print.
    with CaptureQueriesContext(connection) as queries:
        assert len(client.get(f"/api/v1/machine-units/{unit.uuid}/stays/").json()["results"]) == 4
    assert len([one for one in queries if "unitstay" in one["sql"]]) == 1


def test_a_unit_has_no_place_in_anothers_delta(as_person, stranger, make):
    unit = make("M-1")
    assert as_person(stranger).get(f"/api/v1/machine-units/{unit.uuid}/").status_code == 404
    assert MachineUnit.history.get().history_user is None
