"""A hub half on a machine's shaft goes where the machine goes, and comes back with it."""

from datetime import UTC, datetime

import pytest

from couplings.models import HubHalf
from couplings.services.fits import install_fit
from couplings.services.hubs import swap_hub
from couplings.services.moving import move_fit
from plant.models import Event
from plant.recording import recording
from plant.services.units import correct_stay, install_unit, register_unit, swap_unit, take_out_unit
from tests.factories import CouplingFactory, FitFactory, SheetVersionFactory, TrainFactory

pytestmark = pytest.mark.django_db
HUBS = [{"side": "driver", "serial": "H-1", "bore_mm": 60.02, "advance_mm": 5.5}, {"side": "driven", "serial": "H-2"}]


def at(day, hour=6):
    return datetime(2026, 10, day, hour, tzinfo=UTC)


@pytest.fixture
def place(site):
    return CouplingFactory(train__site=site, tag="BF-21-C1")


@pytest.fixture
def motors(site, mechanic):
    with recording(by=mechanic, at=at(1)):
        return [register_unit(site=site, kind="motor", serial=f"M-{number}") for number in (1, 2)]


@pytest.fixture
def fit(place, mechanic, motors, site):
    """Motor M-1 stands there; both hub halves were fitted on 2 October."""
    with recording(by=mechanic, at=at(1)):
        install_unit(unit=motors[0], machine=place.driver_machine, at=None)
    with recording(by=mechanic, at=at(2)):
        return install_fit(
            coupling=place, sheet_version=SheetVersionFactory(sheet__site=site), fitted_on=at(2).date(), hubs=HUBS
        )


def rows(fit, side="driver"):
    """Serial, machine, from and until which day, whether it went with the machine."""
    return [
        (half.serial, str(half.unit), half.fitted_on.day, half.removed_on and half.removed_on.day, half.went_with_unit)
        for half in fit.hubs.filter(side=side).order_by("fitted_on", "pk")
    ]


def swapped(mechanic, machine, unit, day, **hubs):
    with recording(by=mechanic, at=at(day, 8)):
        swap_unit(machine=machine, unit=unit, at=at(day), reason="noisy", went_to="workshop", **hubs)


def test_a_half_sits_on_the_shaft_of_the_machine_that_stands_there(fit):
    assert rows(fit) == [("H-1", "motor M-1", 2, None, False)]
    assert rows(fit, "driven") == [("H-2", "None", 2, None, False)]


def test_a_half_that_was_there_before_its_machine_was_named_is_on_it_too(place, mechanic, motors, site):
    with recording(by=mechanic, at=at(2)):
        fit = install_fit(
            coupling=place, sheet_version=SheetVersionFactory(sheet__site=site), fitted_on=at(2).date(), hubs=HUBS
        )
    with recording(by=mechanic, at=at(3)):
        install_unit(unit=motors[0], machine=place.driver_machine, at=None)
    assert rows(fit) == [("H-1", "motor M-1", 2, None, False)]


def test_it_goes_to_the_workshop_with_its_motor_and_comes_back_with_it(fit, place, mechanic, motors):
    before = fit.version
    swapped(mechanic, place.driver_machine, motors[1], 5, left_with_hub=True, came_with_hub=True)
    assert rows(fit) == [("H-1", "motor M-1", 2, 5, True), ("", "motor M-2", 5, None, False)]
    fit.refresh_from_db()
    assert fit.version == before + 1
    gone = fit.hubs.get(serial="H-1")
    assert (gone.removal_reason, gone.went_to) == ("went with motor M-1", "workshop")
    told = [event.payload for event in Event.objects.filter(kind="fit.moved") if "hub" in event.payload]
    assert {
        "fit": str(fit.uuid),
        "hub": "H-1",
        "side": "driver",
        "on": "2026-10-05",
        "unit": str(motors[0].uuid),
    } in told
    swapped(mechanic, place.driver_machine, motors[0], 9, left_with_hub=True, came_with_hub=True)
    assert rows(fit)[-1] == ("H-1", "motor M-1", 9, None, False)
    back = fit.hubs.get(removed_on=None, side="driver")
    assert (back.bore_mm, back.advance_mm, back.came_with) == (60.02, None, "M-1"), "how it was mounted is of its time"


def test_it_is_found_at_the_other_place_to_which_its_motor_went(fit, place, mechanic, motors, site):
    other = CouplingFactory(train__site=site, tag="CW-11-C1")
    with recording(by=mechanic, at=at(2)):
        there = install_fit(
            coupling=other, sheet_version=SheetVersionFactory(sheet__site=site), fitted_on=at(2).date(),
            hubs=[{"side": "driven", "serial": "H-9"}],
        )  # fmt: skip
    with recording(by=mechanic, at=at(5, 8)):
        take_out_unit(unit=motors[0], at=at(5), reason="needed there", left_with_hub=True)
    with recording(by=mechanic, at=at(6, 8)):
        install_unit(unit=motors[0], machine=other.driver_machine, at=at(6), came_with_hub=True)
    assert rows(fit) == [("H-1", "motor M-1", 2, 5, True)]
    assert rows(there) == [("H-1", "motor M-1", 6, None, False)]


@pytest.mark.parametrize("said", [{"left_with_hub": False, "came_with_hub": False}, {}], ids=["said", "not said"])
def test_a_half_that_stayed_sits_on_the_next_machine(fit, place, mechanic, motors, said):
    swapped(mechanic, place.driver_machine, motors[1], 5, **said)
    assert rows(fit) == [("H-1", "motor M-1", 2, 5, False), ("H-1", "motor M-2", 5, None, False)]
    assert fit.hubs.get(serial="H-1", removed_on=at(5).date()).removal_reason == (
        "put on motor M-2, which took the place of motor M-1"
    )


def test_a_machine_taken_out_without_its_half_leaves_it_in_place(fit, mechanic, motors):
    with recording(by=mechanic, at=at(5, 8)):
        take_out_unit(unit=motors[0], at=at(5), reason="rewinding", left_with_hub=False)
    assert rows(fit) == [("H-1", "motor M-1", 2, None, False)]


def test_that_it_went_along_is_taken_in_when_it_is_said_later(fit, mechanic, motors):
    with recording(by=mechanic, at=at(5, 8)):
        stay = take_out_unit(unit=motors[0], at=at(5), reason="rewinding")
    assert rows(fit)[0][3] is None
    with recording(by=mechanic, at=at(6)):
        correct_stay(stay=stay, left_with_hub=True)
    assert rows(fit) == [("H-1", "motor M-1", 2, 5, True)]


def test_what_was_entered_by_hand_after_the_day_stays(fit, place, mechanic, motors):
    with recording(by=mechanic, at=at(7)):
        swap_hub(fit=fit, side="driver", on=at(7).date(), serial="H-5", removal_reason="worn")
    swapped(mechanic, place.driver_machine, motors[1], 5, left_with_hub=True, came_with_hub=True)
    assert [row[0] for row in rows(fit)] == ["H-1", "H-5"]
    assert HubHalf.objects.get(serial="H-5").removed_on is None


def test_a_fit_that_moves_finds_its_halves_on_the_machines_there(fit, mechanic, motors, site):
    other = CouplingFactory(train__site=site, tag="CW-11-C1")
    with recording(by=mechanic, at=at(3)):
        install_unit(unit=motors[1], machine=other.driver_machine, at=None)
        moved = move_fit(fit=fit, to=other, on=at(3).date())
    assert rows(moved) == [("H-1", "motor M-2", 3, None, False)]


def test_a_gear_unit_takes_both_its_halves_along(site, keeper, client):
    """Over the API, where asking the database row by row is refused."""
    train = TrainFactory(site=site)
    wheel = train.machines.create(position=3, name="drum", role="driven", shaft_length_mm=900)
    gear = train.machines.get(position=2)
    fits = []
    for driver, driven, tag in ((train.machines.get(position=1), gear, "C1"), (gear, wheel, "C2")):
        place = CouplingFactory(train=train, driver_machine=driver, driven_machine=driven, tag=tag)
        fits.append(FitFactory(coupling=place, fitted_on=at(1).date()))
        for side in ("driver", "driven"):
            fits[-1].hubs.create(side=side, serial=f"{tag}-{side}", fitted_on=at(1).date())
    with recording(by=keeper, at=at(2)):
        old, new = (register_unit(site=site, kind="gear unit", serial=serial) for serial in ("G-1", "G-2"))
        install_unit(unit=old, machine=gear, at=None)
    client.force_login(keeper)
    for unit, day in ((new, 5), (old, 8)):
        body = {"train": str(train.uuid), "position": 2, "at": at(day).isoformat(), "reason": "noisy"}
        answer = client.post(
            f"/api/v1/machine-units/{unit.uuid}/swap-in/", body | {"left_with_hub": True, "came_with_hub": True},
            content_type="application/json", headers={"Idempotency-Key": str(day)},
        )  # fmt: skip
        assert answer.status_code == 201, answer.json()
    back = HubHalf.objects.filter(unit=old, removed_on=None)
    assert {(half.fit_id, half.side, half.serial) for half in back} == {
        (fits[0].pk, "driven", "C1-driven"), (fits[1].pk, "driver", "C2-driver"),
    }  # fmt: skip


def test_pages_and_api_show_both_ends(fit, place, mechanic, motors, client):
    swapped(mechanic, place.driver_machine, motors[1], 5, left_with_hub=True, came_with_hub=True)
    client.force_login(mechanic)
    unit = client.get(f"/register/machine-units/{motors[0].uuid}/").content.decode()
    assert "Hub halves on its shaft" in unit
    assert "H-1, driver side" in unit
    assert "still on its shaft" in unit
    page = client.get(f"/register/fits/{fit.uuid}/").content.decode()
    assert "went with motor M-1; workshop" in page
    assert f"/register/machine-units/{motors[1].uuid}/" in page
    hubs = client.get(f"/api/v1/fits/{fit.uuid}/").json()["hubs"]
    assert {one["side"]: one["unit"] for one in hubs} == {"driver": str(motors[1].uuid), "driven": None}
