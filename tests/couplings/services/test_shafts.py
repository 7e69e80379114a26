"""A coupling turns as the shafts it joins do: taken from them, compared with them."""

import pytest

from couplings.selectors.shafts import speed_disagreements
from couplings.services.couplings import change_coupling, register_coupling
from plant.recording import recording
from plant.refusals import Refused
from plant.services.register import register_train
from tests.factories import NOW, AreaFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def train(site):
    machines = [
        {"name": "motor", "role": "driver", "rpm": 1480.0, "lowest_rpm": 600.0, "power_kw": 400.0},
        {"name": "gear unit", "role": "gear", "rpm": 1490.0, "lowest_rpm": 600.0, "driven_rpm": 290.0,
         "driven_lowest_rpm": 118.0, "driven_power_kw": 392.0},
        {"name": "mill"},
    ]  # fmt: skip
    with recording(by=None, at=NOW):
        return register_train(site=site, area=AreaFactory(site=site), tag="ML-1", machines=machines)


def joined(train, first, **fields):
    driver, driven = train.machines.filter(position__in=[first, first + 1])
    with recording(by=None, at=NOW):
        return register_coupling(train=train, driver_machine=driver, driven_machine=driven, tag=f"C{first}", **fields)


def test_speeds_and_power_not_given_are_those_of_the_shafts(train):
    fast, slow = joined(train, 1), joined(train, 2)
    assert (fast.rpm, fast.lowest_rpm, fast.power_kw) == (1490, 600, 400)
    assert (slow.rpm, slow.lowest_rpm, slow.power_kw) == (290, 118, 392)


def test_what_is_given_holds_within_slip(train):
    coupling = joined(train, 1, rpm=1500.0, lowest_rpm=605.0, power_kw=315.0)
    assert (coupling.rpm, coupling.lowest_rpm, coupling.power_kw) == (1500, 605, 315)


def test_a_speed_that_is_not_the_shafts_is_refused_in_words(train):
    with pytest.raises(Refused) as refused:
        joined(train, 2, rpm=1480.0, lowest_rpm=118.0)
    assert refused.value.as_dict() == {
        "rpm": "The coupling is said to turn at 1480 rpm and the shaft of the gear unit at 290 rpm: they turn "
        "together, so one of the two is wrong."
    }
    coupling = joined(train, 2)
    with recording(by=None, at=NOW), pytest.raises(Refused) as refused:
        change_coupling(coupling=coupling, rpm=960.0)
    assert "one of the two is wrong" in refused.value.as_dict()["rpm"]


def test_a_shaft_changed_afterwards_is_said_and_stands_in_nobodys_way(train):
    coupling = joined(train, 2)
    gear = train.machines.get(position=2)
    gear.driven_rpm = 350.0
    gear.save()
    coupling.refresh_from_db()
    assert list(speed_disagreements(coupling)) == ["rpm"]
    with recording(by=None, at=NOW):
        change_coupling(coupling=coupling, name="Slow side")


def test_without_a_speed_anywhere_it_is_asked_for(site):
    with recording(by=None, at=NOW):
        bare = register_train(
            site=site, area=AreaFactory(site=site), tag="B-1", machines=[{"name": "motor"}, {"name": "pump"}]
        )
    with pytest.raises(Refused) as refused:
        joined(bare, 1)
    assert refused.value.as_dict() == {"rpm": "Give its speed: the register has none for the two shafts it joins."}


def test_a_cardan_shaft_is_out_of_scope(train):
    with pytest.raises(Refused) as refused:
        joined(train, 1, name="Cardan shaft to the gear")
    assert "out of scope" in refused.value.as_dict()["name"]
