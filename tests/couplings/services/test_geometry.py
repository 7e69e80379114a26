"""Where feet stand, by an independent route: both machines laid on one number line and measured with a tape."""

import pytest

from couplings.selectors import feet_of, flex_planes_of
from plant.models import FootPlane, Machine
from tests.factories import CouplingFactory, DataSheetFactory, FitFactory, SheetVersionFactory, TrainFactory


@pytest.fixture
def coupling(site):
    return CouplingFactory(train=TrainFactory(site=site, tag="BF-21"))


@pytest.fixture
def fit(coupling, site):
    return FitFactory(
        coupling=coupling, sheet_version=SheetVersionFactory(sheet=DataSheetFactory(site=site)), dbse_mm=140.0
    )


def on_a_tape(coupling, dbse_mm):
    """Marks of all feet along the floor: the driver machine's driver-side shaft end lies at 0, the train runs up."""
    driver, driven = coupling.driver_machine, coupling.driven_machine
    coupling_end = driver.shaft_length_mm
    next_shaft = coupling_end + dbse_mm
    centre = (coupling_end + next_shaft) / 2
    marks = {("driver", foot.name): foot.distance_mm for foot in driver.foot_planes.all()}
    marks |= {("driven", foot.name): next_shaft + foot.distance_mm for foot in driven.foot_planes.all()}
    return centre, marks


def test_feet_stand_where_a_tape_along_the_train_finds_them(coupling, fit):
    centre, marks = on_a_tape(coupling, 140.0)
    for side in ("driver", "driven"):
        feet = feet_of(coupling, side)
        assert feet == sorted(feet, key=lambda foot: foot[1])
        assert [name for name, _ in feet] == ["inboard", "outboard"]
        for name, x in feet:
            # From the centre towards the machine that moves, whichever that is.
            assert x == pytest.approx(abs(marks[(side, name)] - centre), abs=1e-9)


def test_feet_that_reach_under_the_coupling_are_found_too(coupling, fit):
    """A foot beyond the shaft end, as under an overhung bearing: its distance is below zero on the driven side."""
    FootPlane.objects.create(machine=coupling.driven_machine, name="overhung", distance_mm=-30.0)
    FootPlane.objects.create(machine=coupling.driver_machine, name="overhung", distance_mm=1020.0)
    centre, marks = on_a_tape(coupling, 140.0)
    assert dict(feet_of(coupling, "driven"))["overhung"] == pytest.approx(marks["driven", "overhung"] - centre)
    assert dict(feet_of(coupling, "driver"))["overhung"] == pytest.approx(centre - marks["driver", "overhung"])


@pytest.mark.parametrize("dbse_mm", [0.0, 3.0, 140.0, 1250.5])
def test_turning_the_train_round_exchanges_the_sides(coupling, fit, dbse_mm):
    """Seen from the other end every distance is counted from the other shaft end; the feet stand where they stood."""
    fit.dbse_mm = dbse_mm
    fit.save()
    before = {side: [x for _, x in feet_of(coupling, side)] for side in ("driver", "driven")}
    for machine in (coupling.driver_machine, coupling.driven_machine):
        turned = [(foot.name, machine.shaft_length_mm - foot.distance_mm) for foot in machine.foot_planes.all()]
        machine.foot_planes.all().delete()
        for name, distance_mm in turned:
            FootPlane.objects.create(machine=machine, name=name, distance_mm=distance_mm)
    coupling.driver_machine, coupling.driven_machine = coupling.driven_machine, coupling.driver_machine
    after = {side: [x for _, x in feet_of(coupling, side)] for side in ("driver", "driven")}
    assert after["driver"] == pytest.approx(before["driven"])
    assert after["driven"] == pytest.approx(before["driver"])


def test_what_was_measured_last_goes_before_the_sheets_nominal(coupling, fit):
    nominal = dict(feet_of(coupling, "driven"))["inboard"]
    fit.dbse_mm = 150.0
    fit.save()
    assert dict(feet_of(coupling, "driven"))["inboard"] == nominal + 5.0
    fit.dbse_mm = None
    fit.save()
    assert dict(feet_of(coupling, "driven"))["inboard"] == nominal


def test_nothing_is_said_of_feet_where_a_length_is_missing(coupling, fit):
    Machine.objects.filter(pk=coupling.driver_machine.pk).update(shaft_length_mm=None)
    coupling.refresh_from_db()
    assert feet_of(coupling, "driver") == []
    assert feet_of(coupling, "driven") != []
    fit.dbse_mm = fit.sheet_version.dbse_mm = None
    fit.save()
    fit.sheet_version.save()
    assert feet_of(coupling, "driven") == []
    fit.delete()
    assert feet_of(coupling, "driven") == []


def test_flex_planes_lie_on_either_side_of_the_centre(fit):
    a, b = flex_planes_of(fit.sheet_version)
    assert (b - a, a + b) == (fit.sheet_version.flex_distance_mm, 0.0)
    fit.sheet_version.flex_distance_mm = None
    assert flex_planes_of(fit.sheet_version) is None
