"""What is fitted goes elsewhere, a hub half comes along with another machine, a coupling has a successor."""

from datetime import date

import pytest

from couplings.models import Coupling
from couplings.selectors import element_in, fit_at, whereabouts
from couplings.services.couplings import retire_coupling
from couplings.services.fits import change_fit, fit_element, install_fit, remove_fit
from couplings.services.hubs import swap_hub
from couplings.services.moving import move_fit, succeed_coupling
from inspections.models import Check, Flag
from plant.models import Event
from plant.recording import recording
from plant.refusals import Missing, NotAllowed
from tests.couplings.services.test_sheets import refusal
from tests.factories import NOW, TODAY, CouplingFactory, DataSheetFactory, FitFactory, SheetVersionFactory, TrainFactory

FIRST = date(2026, 10, 1)
HUBS = [
    {"side": "driver", "serial": "H-1", "bore_mm": 60.01, "mounting_kind": "hydraulic", "advance_mm": 5.5},
    {"side": "driven", "serial": "H-2", "key_width_mm": 18.0, "key_height_mm": 11.0, "key_convention": "half"},
]


@pytest.fixture
def place(site):
    return CouplingFactory(train=TrainFactory(site=site, tag="BF-21"))


@pytest.fixture
def other_place(site):
    return CouplingFactory(train=TrainFactory(site=site, tag="BF-22"))


@pytest.fixture
def fit(mechanic, place, site):
    version = SheetVersionFactory(sheet=DataSheetFactory(site=site))
    with recording(by=mechanic, at=NOW):
        return install_fit(
            coupling=place, sheet_version=version, fitted_on=FIRST, serial="C-7", dbse_mm=140.2, hubs=HUBS,
            bolt_set="set 4", bolts_reused=1, spacer_serial="SP-1", spacer_position="inner holes",
        )  # fmt: skip


def moved(by, fit, to, on=TODAY, **more):
    with recording(by=by, at=NOW):
        return move_fit(fit=fit, to=to, on=on, **more)


def test_moving_closes_one_fit_and_opens_another_with_what_belongs_to_the_parts(mechanic, fit, place, other_place):
    with recording(by=mechanic, at=NOW):
        old = fit_element(fit=fit, part_number="E-80", batch="B-1", fitted_on=FIRST)
    there = moved(mechanic, fit, other_place)
    fit.refresh_from_db()
    assert (fit.removed_on, fit.went_to, fit.removal_reason) == (TODAY, "BF-22", "moved to BF-22")
    assert (fit_at(place), fit_at(other_place)) == (None, there)
    assert (there.moved_from, there.serial, there.bolt_set, there.bolts_reused) == (fit, "C-7", "set 4", 1)
    assert (there.dbse_mm, there.spacer_position) == (None, ""), "they were of the old place"
    halves = {half.side: half for half in there.hubs.all()}
    assert (halves["driver"].serial, halves["driver"].bore_mm) == ("H-1", 60.01)
    assert halves["driver"].advance_mm is None, "it is pushed up anew"
    assert (halves["driven"].key_width_mm, halves["driven"].key_convention) == (18.0, "half")
    old.refresh_from_db()
    new = element_in(there)
    assert (old.removed_on, new.continues, new.batch) == (TODAY, old, "B-1")
    assert list(Event.objects.filter(kind="fit.moved").values_list("lane", flat=True)) == [
        place.uuid, place.uuid, other_place.uuid,
    ]  # fmt: skip


def test_history_follows_every_serial_number(mechanic, fit, place, other_place, site):
    moved(mechanic, fit, other_place)
    for serial, what in [
        ("C-7", "coupling"),
        ("SP-1", "spacer"),
        ("set 4", "bolt set"),
        ("H-1", "hub half, driver side"),
    ]:
        stays = whereabouts(site, f" {serial} ")
        assert [(one.what, one.fit.coupling.tag, one.since, one.until) for one in stays] == [
            (what, "BF-21", FIRST, TODAY),
            (what, "BF-22", TODAY, None),
        ]
    assert whereabouts(site, "") == whereabouts(site, "H-9") == []


def test_a_number_is_not_followed_to_another_site(mechanic, fit, other_site):
    assert whereabouts(other_site, "C-7") == []


def test_a_move_that_cannot_be_is_refused_and_nothing_is_closed(mechanic, fit, other_place, other_site):
    assert refusal(move_fit, by=mechanic, fit=fit, to=fit.coupling, on=TODAY) == {
        "to": "It is there already: name another place."
    }
    far = CouplingFactory(train=TrainFactory(site=other_site))
    assert refusal(move_fit, by=mechanic, fit=fit, to=far, on=TODAY) == {
        "to": "This place belongs to another site: remove it here, and record it there."
    }
    assert refusal(move_fit, by=mechanic, fit=fit, to=other_place, on=date(2026, 10, 13)) == {
        "on": "2026-10-13 is still to come: a removal is recorded once it has happened."
    }
    FitFactory(coupling=other_place, sheet_version=fit.sheet_version)
    assert refusal(move_fit, by=mechanic, fit=fit, to=other_place, on=TODAY) == {
        "to": "What was fitted on 2026-10-01 is still recorded as being there: remove it first."
    }
    fit.refresh_from_db()
    assert fit.removed_on is None


def test_a_retired_place_takes_nothing(mechanic, keeper, fit, other_place):
    with recording(by=keeper, at=NOW):
        retire_coupling(coupling=other_place, on=TODAY)
    assert refusal(move_fit, by=mechanic, fit=fit, to=other_place, on=TODAY) == {
        "to": "This coupling was retired on 2026-10-12: nothing can be fitted here any more."
    }


def test_the_element_may_stay_out(mechanic, fit, other_place):
    with recording(by=mechanic, at=NOW):
        fit_element(fit=fit, part_number="E-80", fitted_on=FIRST)
    assert element_in(moved(mechanic, fit, other_place, with_element=False)) is None


def test_who_may_not_move(planner, stranger, fit, other_place):
    with pytest.raises(NotAllowed):
        moved(planner, fit, other_place)
    with pytest.raises(Missing):
        moved(stranger, fit, other_place)


def test_another_hub_half_comes_along_with_a_motor(mechanic, fit, site):
    with recording(by=mechanic, at=NOW):
        swap_hub(
            fit=fit, side="driver", on=TODAY, serial="H-5", came_with="M-77", bore_mm=60.02,
            removal_reason="went with the motor", went_to="rewinder",
        )  # fmt: skip
    assert fit_at(fit.coupling) == fit, "the fit goes on"
    now = {half.side: half.serial for half in fit.hubs.all() if half.removed_on is None}
    assert now == {"driver": "H-5", "driven": "H-2"}
    stay = whereabouts(site, "H-1")[0]
    assert (stay.until, stay.reason, stay.went_to) == (TODAY, "went with the motor", "rewinder")
    assert fit.hubs.get(serial="H-5").came_with == "M-77"


def test_a_swap_that_cannot_be_is_refused(mechanic, fit, other_place):
    refused = refusal(swap_hub, by=mechanic, fit=fit, side="driver", on=date(2026, 9, 1), serial="H-2")
    assert refused == {
        "on": "What is there was fitted on 2026-10-01, later than this.",
        "removal_reason": "Say why the half in place came off, such as: went with the motor.",
        "serial": "A hub half with this number is recorded at BF-21: remove it there first.",
    }
    refused = refusal(
        swap_hub, by=mechanic, fit=fit, side="driver", on=TODAY, removal_reason="x", key_width_mm=18.0,
        mounting_kind="clamp", advance_mm=3.0, pressure_mpa=100.0,
    )  # fmt: skip
    assert refused == {
        "key_height_mm": "A key has a width and a height: give both, or neither.",
        "advance_mm": "A hub held by: clamp has no advance on a taper.",
        "pressure_mpa": "Only a hub mounted hydraulically has an oil pressure.",
    }


def test_halves_are_mended_in_place_and_what_is_not_named_stays(mechanic, fit):
    with recording(by=mechanic, at=NOW):
        change_fit(fit=fit, hubs=[{"side": "driver", "orientation": "reversed"}])
    half = fit.hubs.get(side="driver")
    assert (half.orientation, half.serial, half.advance_mm) == ("reversed", "H-1", 5.5)
    assert refusal(change_fit, by=mechanic, fit=fit, hubs=[{"side": "middle"}, *HUBS, HUBS[0]]) == {
        "hubs.0.side": "Say which side: driver or driven.",
        "hubs.3.side": "This side is there twice.",
    }
    assert refusal(change_fit, by=mechanic, fit=fit, hubs=[{"side": "driver", "bore_mm": 0.2}]) == {
        "hubs.0.bore_mm": "It must lie between 1 and 2000."
    }
    with recording(by=mechanic, at=NOW):
        remove_fit(fit=fit, removed_on=TODAY, removal_reason="worn teeth", went_to="scrap")
    assert {half.went_to for half in fit.hubs.all()} == {"scrap"}
    assert "hubs" in refusal(change_fit, by=mechanic, fit=fit, hubs=[{"side": "driver", "serial": "H-9"}])


def test_bolts_have_days_that_were_and_a_name(mechanic, fit):
    assert refusal(change_fit, by=mechanic, fit=fit, bolts_fitted_on=date(2026, 10, 13)) == {
        "bolts_fitted_on": "2026-10-13 is still to come."
    }
    assert refusal(change_fit, by=mechanic, fit=fit, bolt_set="", bolts_reused=2) == {
        "bolts_reused": "Name the set or its batch: how often it was used belongs to that set."
    }


def test_a_successor_takes_the_place_and_what_is_fitted_there(keeper, fit, place):
    Flag.objects.create(site=place.site, coupling=place, kind="overdue", opened_at=NOW)
    Check.objects.create(
        site=place.site, coupling=place, kind="alignment", opens_on=TODAY, due_on=TODAY, closes_on=TODAY,
        winner="first-days", numbers={"first_days": 30, "installed_on": TODAY.isoformat()},
    )  # fmt: skip
    with recording(by=keeper, at=NOW):
        successor = succeed_coupling(coupling=place, on=TODAY, tag="BF-21A", with_fit=True)
    place.refresh_from_db()
    assert (place.retired_on, place.successor) == (TODAY, successor)
    assert list(successor.predecessors.all()) == [place]
    there = fit_at(successor)
    assert (there.moved_from, there.dbse_mm, there.spacer_position) == (fit, 140.2, "inner holes")
    assert there.hubs.get(side="driver").advance_mm == 5.5, "nothing was touched: only the place has another name"
    flag = Flag.objects.get(coupling=place)
    assert (flag.cleared_at, flag.cause) == (NOW, "the coupling was retired")
    check = Check.objects.get(coupling=place)
    assert (check.settled_on, check.outcome) == (TODAY, "cancelled")


def test_a_successor_is_refused_where_something_is_left_and_goes_in_no_circle(keeper, mechanic, fit, place):
    assert refusal(succeed_coupling, by=keeper, coupling=place, on=TODAY, tag="X") == {
        "": "What was fitted on 2026-10-01 is still recorded as being here: remove that fit first, or let it go over "
        "to the successor."
    }
    assert refusal(succeed_coupling, by=keeper, coupling=place, on=TODAY, tag="BF-21", with_fit=True) == {
        "tag": "The successor needs a tag of its own: records are found by it."
    }
    with recording(by=keeper, at=NOW):
        successor = succeed_coupling(coupling=place, on=TODAY, tag="BF-21A", with_fit=True)
    assert "on" in refusal(succeed_coupling, by=keeper, coupling=place, on=TODAY, tag="BF-21B")
    with recording(by=mechanic, at=NOW):
        remove_fit(fit=fit_at(successor), removed_on=TODAY)
    assert refusal(retire_coupling, by=keeper, coupling=successor, on=TODAY, successor=place) == {
        "successor": "BF-21 was itself succeeded by BF-21A: that would go round in a circle."
    }
    with pytest.raises(NotAllowed), recording(by=mechanic, at=NOW):
        succeed_coupling(coupling=successor, on=TODAY, tag="Y")
    assert Coupling.objects.filter(retired_on__isnull=True).count() == 1
