"""Speeds and powers of the shafts of a train: one through, a gear unit one per side, neighbours turn together."""

import math

import pytest

from plant.recording import recording
from plant.refusals import Refused
from plant.selectors.shafts import Shaft, shaft_of
from plant.services.register import change_train, register_train
from tests.factories import NOW

pytestmark = pytest.mark.django_db

MOTOR = {"name": "motor", "role": "driver", "rpm": 1480.0, "power_kw": 400.0}
GEAR = {"name": "gear unit", "role": "gear", "rpm": 1480.0, "driven_rpm": 290.0, "power_kw": 400.0,
        "driven_power_kw": 392.0}  # fmt: skip
MILL = {"name": "mill", "role": "driven", "rpm": 290.0}


def train_of(site, area, *machines):
    with recording(by=None, at=NOW):
        return register_train(site=site, area=area, tag="ML-1", machines=machines)


def test_a_gear_train_has_a_speed_on_each_side_and_a_shaft_that_goes_through_has_one(site, area):
    motor, gear, mill = train_of(site, area, MOTOR, GEAR, MILL).machines.all()
    assert shaft_of(motor, "driven") == Shaft(1480, None, 400)
    assert shaft_of(gear, "driver") == Shaft(1480, None, 400)
    assert shaft_of(gear, "driven") == Shaft(290, None, 392)
    assert shaft_of(mill, "driver") == shaft_of(mill, "driven") == Shaft(290, None, None)


def test_a_machine_in_the_middle_hands_on_what_it_does_not_use(site, area):
    first = {"name": "low-pressure pump", "role": "driven", "rpm": 1480.0, "power_kw": 400.0, "driven_power_kw": 150.0}
    _, pump, _ = train_of(site, area, MOTOR, first, MILL | {"rpm": 1480.0}).machines.all()
    assert (shaft_of(pump, "driver").power_kw, shaft_of(pump, "driven").power_kw) == (400, 150)


@pytest.mark.parametrize(
    ("machine", "fields", "where", "message"),
    [
        (0, {"rpm": math.nan}, "machines.0.rpm", "It must lie between 1 and 200000."),
        (0, {"rpm": math.inf}, "machines.0.rpm", "It must lie between 1 and 200000."),
        (0, {"power_kw": -1.0}, "machines.0.power_kw", "It must lie between 0.001 and 1e+06."),
        (0, {"lowest_rpm": 1500.0}, "machines.0.lowest_rpm",
         "The lowest speed lies above the highest: exchange the two."),
        (2, {"rpm": None, "lowest_rpm": 100.0}, "machines.2.rpm", "Give the highest speed as well."),
        (0, {"driven_rpm": 990.0}, "machines.0.driven_rpm",
         "Only a gear unit has another speed on its driven side: a shaft that goes through has one."),
        (1, {"driven_rpm": None}, "machines.1.driven_rpm",
         "A gear unit has a speed on each side: give both, or neither while they are not known."),
        (1, {"rpm": None}, "machines.1.rpm",
         "A gear unit has a speed on each side: give both, or neither while they are not known."),
        (1, {"lowest_rpm": 300.0}, "machines.1.driven_lowest_rpm",
         "Where one side of a gear unit varies, the other does: give its lowest speed too."),
        (2, {"rpm": 1480.0}, "machines.2.rpm", "The speed here is 1480 rpm, that of the gear unit before it 290 rpm: "
         "two shafts of one coupling turn together."),
        (2, {"name": "V-belt drive"}, "machines.2.name", "Belt and chain drives are out of scope: their shafts stand "
         "side by side. Register what is coupled on either side as trains of their own."),
        (2, {"name": "Chain drive of the mill"}, "machines.2.name", "Belt and chain drives are out of scope: their "
         "shafts stand side by side. Register what is coupled on either side as trains of their own."),
        (1, {"name": "Cardan shaft"}, "machines.1.name", "Cardan shafts are out of scope: they want equal angles that "
         "are not zero, so the limits of a coupling would be wrong for them."),
        (1, {"name": "Right-angle gear unit"}, "machines.1.name", "A right-angle gear between two couplings is out of "
         "scope: its shafts do not lie along one train. Let one train end with it and another begin with it."),
    ],
)  # fmt: skip
def test_speeds_that_cannot_be_and_what_is_out_of_scope_are_said_beside_the_field(
    site, area, machine, fields, where, message
):
    machines = [MOTOR, GEAR, MILL]
    machines[machine] = machines[machine] | fields
    with pytest.raises(Refused) as refused:
        train_of(site, area, *machines)
    assert refused.value.as_dict() == {where: message}


def test_the_slip_of_a_motor_is_no_disagreement(site, area):
    train = train_of(site, area, MOTOR, MILL | {"rpm": 1500.0})
    with recording(by=None, at=NOW), pytest.raises(Refused):
        change_train(train=train, machines=[MOTOR, MILL | {"rpm": 1600.0}])


@pytest.mark.parametrize("name", ["belt conveyor", "chain conveyor", "worm pump", "seal belt press", "motor"])
def test_a_machine_that_only_sounds_like_it_is_in_scope(site, area, name):
    assert train_of(site, area, MOTOR, {"name": name, "role": "driven"}).machines.count() == 2


def test_a_right_angle_gear_may_end_a_train(site, area):
    gear = {"name": "bevel gear unit", "role": "gear", "rpm": 1480.0, "driven_rpm": 60.0}
    assert train_of(site, area, MOTOR, gear).machines.count() == 2


def test_over_the_api_speeds_come_and_go_with_their_units(as_person, keeper, site, area):
    def rpm(value):
        return {"value": value, "unit": "rpm"}

    fan = {"position": 2, "name": "fan", "speed": rpm(1480), "lowest_speed": rpm(600)}
    machines = [
        {"position": 1, "name": "motor", "role": "driver", "speed": rpm(1480), "lowest_speed": rpm(600),
         "power": {"value": 100, "unit": "hp"}},
        fan,
    ]  # fmt: skip
    body = {"site": str(site.uuid), "area": str(area.uuid), "tag": "FN-1", "machines": machines}
    client = as_person(keeper)
    made = client.post("/api/v1/trains/", body, "json")
    assert made.status_code == 201, made.json()
    motor = made.json()["machines"][0]
    assert (motor["speed"], motor["lowest_speed"], motor["driven_speed"]) == (rpm(1480), rpm(600), None)
    assert motor["power"]["value"] == pytest.approx(74.57, abs=0.01)
    wrong = client.post("/api/v1/trains/", body | {"tag": "FN-2", "machines": [machines[0], fan | {"speed": rpm(990)}]},
                        "json").json()["errors"]  # fmt: skip
    assert [error["pointer"] for error in wrong] == ["/machines/1/speed"]
