"""How a signed visit mounted the hubs goes into the fit, and is held against what the fit has on record."""

from datetime import timedelta

import pytest

from couplings.models import HubHalf
from inspections.selectors.verification import verify
from inspections.selectors.visits import read_entry
from inspections.services.amendments import amend_visit
from inspections.services.signing import sign_visit
from plant.recording import recording
from tests.factories import NOW, InstrumentFactory
from tests.inspections.visits import save

BORE = {"driver.kind": "clearance", "driver.bore": "60.01", "driver.shaft": "59.99"}
KEY = {"driver.key_width": "18", "driver.key_height": "11"}


@pytest.fixture
def half(fit):
    return HubHalf.objects.create(fit=fit, side="driver", serial="H-1", fitted_on=fit.fitted_on)


def signed(visit, by):
    with recording(by=by, at=NOW):
        return sign_visit(visit=visit)


def test_what_was_mounted_is_on_record_of_the_half_once_it_is_signed(filled, half, mechanic):
    save(filled, "mounting", BORE | KEY, mechanic)
    before = filled.fit.version
    signed(filled, mechanic)
    half.refresh_from_db()
    assert (half.bore_mm, half.key_width_mm, half.key_height_mm) == (60.01, 18, 11)
    assert (half.serial, half.mounting_kind, half.advance_mm) == ("H-1", "clearance", None)
    assert type(filled.fit).objects.get().version > before
    assert verify().findings == []


def test_a_side_that_had_no_half_on_record_gets_one(filled, mechanic):
    save(filled, "mounting", {"driven.kind": "hydraulic", "driven.advance": "1.5", "driven.taper": "30"}, mechanic)
    signed(filled, mechanic)
    half = HubHalf.objects.get()
    assert (half.side, half.mounting_kind, half.advance_mm) == ("driven", "hydraulic", 1.5)


def test_held_another_way_an_old_advance_says_nothing_any_more(filled, half, mechanic):
    HubHalf.objects.filter(pk=half.pk).update(mounting_kind="hydraulic", advance_mm=1.4, pressure_mpa=100)
    save(filled, "mounting", BORE, mechanic)
    signed(filled, mechanic)
    half.refresh_from_db()
    assert (half.mounting_kind, half.advance_mm, half.pressure_mpa) == ("clearance", None, None)


def test_a_half_that_came_after_the_visit_keeps_its_own_facts(filled, half, mechanic):
    save(filled, "mounting", BORE, mechanic)
    HubHalf.objects.filter(pk=half.pk).update(fitted_on=filled.on + timedelta(days=1))
    signed(filled, mechanic)
    half.refresh_from_db()
    assert (half.bore_mm, half.mounting_kind) == (None, "")


def test_an_amended_bore_is_carried_too(filled, half, mechanic, engineer):
    save(filled, "mounting", BORE, mechanic)
    signed(filled, mechanic)
    filled.refresh_from_db()
    with recording(by=engineer, at=NOW):
        amend_visit(visit=filled, steps={"mounting": BORE | {"driver.bore": "60.02"}}, reason="misread")
    half.refresh_from_db()
    assert half.bore_mm == 60.02
    assert verify().findings == []


@pytest.mark.parametrize(
    ("bore", "warned"),
    # Twice the uncertainty of both measurements, 2 x sqrt(2) x 0.005 mm, is 0.014 mm.
    [("60.01", False), ("60.02", False), ("60.03", True)],
)
def test_a_bore_is_another_one_beyond_the_uncertainty_of_both_measurements(filled, half, site, mechanic, bore, warned):
    InstrumentFactory(site=site, kind="caliper", name="Micrometer", serial="M-1", standard_u_mm=0.005)
    HubHalf.objects.filter(pk=half.pk).update(bore_mm=60.01)
    save(filled, "mounting", BORE | {"driver.bore": bore, "driver.bore_gauge": "M-1"}, mechanic)
    told = read_entry(type(filled).objects.get(pk=filled.pk), "mounting").warnings
    assert any("not as the fit has its hub half H-1: bore" in one for one in told) == warned


def test_another_key_or_kind_than_on_record_is_told(filled, half, mechanic):
    HubHalf.objects.filter(pk=half.pk).update(key_width_mm=16, key_height_mm=11, mounting_kind="clamp")
    save(filled, "mounting", BORE | KEY, mechanic)
    (told,) = [one for one in read_entry(type(filled).objects.get(pk=filled.pk), "mounting").warnings if "H-1" in one]
    assert "key width" in told
    assert "key height" not in told
    assert "held by" in told
