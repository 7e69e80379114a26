"""Machines put into the middle of a train, taken out of it and moved: what speaks of one never speaks of another."""

import pytest

from couplings.services.couplings import retire_coupling
from plant.models import Machine, MachineUnit, UnitStay
from plant.recording import recording
from plant.refusals import Refused
from plant.services.register import change_train
from tests.factories import NOW, TODAY, CouplingFactory, TrainFactory

pytestmark = pytest.mark.django_db
GEAR = {"name": "gear unit", "role": "gear"}


def rows(train, named=True):
    """The machines as a sender would give them back."""
    return [
        {"name": one.name, "role": one.role} | ({"uuid": one.uuid} if named else {}) for one in train.machines.all()
    ]


def change(train, machines):
    with recording(by=None, at=NOW):
        change_train(train=train, machines=machines)
    return list(train.machines.values_list("name", flat=True))


def refusal(train, machines):
    with pytest.raises(Refused) as refused:
        change(train, machines)
    return refused.value.as_dict()


@pytest.fixture
def motor(train):
    return train.machines.get(position=1)


@pytest.fixture
def pump(train):
    return train.machines.get(position=2)


def stands(machine, serial="P-1"):
    unit = MachineUnit.objects.create(site=machine.train.site, kind="pump", serial=serial)
    return UnitStay.objects.create(site=unit.site, unit=unit, machine=machine, came_told_at=NOW)


def test_a_machine_put_into_the_middle_leaves_units_with_the_machine_they_stood_in(train, pump):
    stay = stands(pump)
    motor, driven = rows(train)
    assert change(train, [motor, GEAR, driven]) == ["motor", "gear unit", "pump"]
    stay.refresh_from_db()
    assert (stay.machine_id, stay.machine.name, stay.machine.position) == (pump.pk, "pump", 3)


def test_a_machine_taken_out_of_the_middle_leaves_the_others_what_they_are(train, motor, pump):
    one, other = rows(train)
    change(train, [one, GEAR, other])
    one, _gear, other = rows(train)
    assert change(train, [one, other]) == ["motor", "pump"]
    assert {machine.pk for machine in train.machines.all()} == {motor.pk, pump.pk}


def test_nothing_is_put_between_two_machines_that_a_coupling_joins(train):
    CouplingFactory(train=train, tag="C-1")
    one, other = rows(train)
    said = refusal(train, [one, GEAR, other])
    assert said == {
        "machines": "Coupling C-1 joins two machines that would not stay neighbours in this order: retire it first."
    }
    assert change(train, [one, other, {"name": "fan"}]) == ["motor", "pump", "fan"]


def test_what_is_put_in_after_the_coupling_was_retired_leaves_its_record_with_its_machines(train, motor, pump):
    coupling = CouplingFactory(train=train)
    with recording(by=None, at=NOW):
        retire_coupling(coupling=coupling, on=TODAY)
    one, other = rows(train)
    change(train, [one, GEAR, other])
    coupling.refresh_from_db()
    assert (coupling.driver_machine, coupling.driven_machine) == (motor, pump)


def test_a_train_with_a_coupling_is_not_turned_round(train):
    CouplingFactory(train=train, tag="C-1")
    assert "machines" in refusal(train, rows(train)[::-1])


def test_machines_without_couplings_change_places_in_a_circle_and_their_history_has_each_once(train, motor, pump):
    change(train, [*rows(train), *({"name": f"fan {n}"} for n in range(4))])
    names = [row["name"] for row in rows(train)]
    kept = Machine.history.filter(train_id=train.pk).count()
    assert change(train, rows(train)[::-1]) == names[::-1]
    assert [machine.position for machine in train.machines.all()] == [1, 2, 3, 4, 5, 6]
    assert Machine.history.filter(train_id=train.pk).count() == kept + 6
    assert not Machine.history.filter(position=0).exists()
    assert motor.uuid == Machine.objects.get(train=train, position=6).uuid


@pytest.mark.parametrize(
    "machines", [[("motor", "driver"), ("gear unit", "gear"), ("pump", "driven")], [("pump", "driven")],
                 [("pump", "driven"), ("motor", "driver")]],
    ids=["one more in the middle", "one less at the driver end", "turned round"],
)  # fmt: skip
def test_a_list_by_position_that_would_put_another_machine_where_something_goes_by_is_refused(train, pump, machines):
    CouplingFactory(train=train, tag="C-1")
    stands(pump)
    said = refusal(train, [{"name": name, "role": role} for name, role in machines])
    path, message = next(iter(said.items()))
    assert path in {"machines.0.name", "machines.1.name"}
    assert "give every machine with its id, so that it is plain which one moved." in message


def test_a_list_by_position_still_corrects_a_name_and_lengthens_the_train(train):
    CouplingFactory(train=train)
    one, other = rows(train, named=False)
    assert change(train, [one | {"name": "drive motor"}, other, {"name": "fan"}]) == ["drive motor", "pump", "fan"]


def test_a_machine_given_twice_or_of_another_train_is_refused(train):
    other = TrainFactory(site=train.site)
    one, two = rows(train)
    assert refusal(train, [one, one]) == {"machines.1.uuid": "This machine is given twice."}
    theirs = rows(other)[0]
    assert refusal(train, [one, two, theirs]) == {"machines.2.uuid": "This machine stands in another train."}


def test_a_coupling_is_told_as_changed_when_its_machines_are_renamed_or_moved(train):
    coupling = CouplingFactory(train=train)
    one, other = rows(train)
    change(train, [one | {"name": "drive motor"}, other])
    coupling.refresh_from_db()
    assert coupling.version == 2
    change(train, [{"name": "turbine", "role": "driver"}, *rows(train)])
    coupling.refresh_from_db()
    assert coupling.version == 3
    change(train, rows(train))
    coupling.refresh_from_db()
    assert coupling.version == 3


def test_over_the_api_a_machine_is_known_by_its_id(as_person, keeper, train):
    stay = stands(train.machines.get(position=2))
    client, address = as_person(keeper), f"/api/v1/trains/{train.uuid}/"
    read = client.get(address)
    motor, pump = read.json()["machines"]
    gear = {"position": 2, "name": "gear unit", "role": "gear"}
    silent = [{k: v for k, v in one.items() if k != "id"} for one in (motor, pump | {"position": 3})]
    answer = client.patch(
        address, {"machines": [silent[0], gear, silent[1]]}, format="json", HTTP_IF_MATCH=read["ETag"]
    )
    assert answer.status_code == 422
    assert answer.json()["errors"][0]["pointer"] == "/machines/1/name"
    given = [motor, gear, pump | {"position": 3}]
    answer = client.patch(address, {"machines": given}, format="json", HTTP_IF_MATCH=read["ETag"])
    assert answer.status_code == 200, answer.json()
    assert [one["name"] for one in answer.json()["machines"]] == ["motor", "gear unit", "pump"]
    assert answer.json()["machines"][2]["id"] == pump["id"]
    stay.refresh_from_db()
    assert stay.machine.position == 3
