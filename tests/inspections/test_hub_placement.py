"""Orientation of the hubs and the gap between their faces, from what the crew measured."""

import pytest

from inspections.models import Placement
from inspections.selectors.verification import verify
from inspections.selectors.visits import read_entry
from inspections.services.signing import sign_visit
from plant.recording import recording
from tests.factories import NOW
from tests.inspections.visits import PLACEMENT, save


def read(visit, by, fields):
    save(visit, "placement", fields, by)
    return read_entry(type(visit).objects.get(pk=visit.pk), "placement")


def test_the_gap_is_the_distance_less_both_overhangs(visit, mechanic):
    """Bores of 80 mm with 78 and 75 mm on the shaft stand out 2 and 5 mm: 140.2 - 7 = 133.2 mm."""
    found = read(visit, mechanic, PLACEMENT | {"driven_engagement": "75", "driver_orientation": "reversed"})
    assert found.values.hub_face_gap_mm == pytest.approx(133.2)
    assert found.values.orientation == {"driver": "reversed", "driven": ""}
    assert "133.2\u00a0mm" in found.notes[0]


def test_a_bore_wholly_on_its_shaft_says_only_a_least(visit, mechanic):
    found = read(visit, mechanic, PLACEMENT)
    assert found.values.hub_face_gap_mm is None
    assert "at least 138.2\u00a0mm" in found.notes[0]


def test_faces_that_would_overlap_are_warned_of(visit, mechanic):
    found = read(visit, mechanic, {"dbse": "10", "driver_engagement": "70", "driven_engagement": "70"})
    assert any("touch or overlap" in said for said in found.warnings)


def test_an_orientation_that_does_not_exist_is_refused(visit, mechanic):
    found = read(visit, mechanic, PLACEMENT | {"driver_orientation": "sideways"})
    assert "is not a choice here" in found.errors["driver_orientation"]


def test_it_is_stored_and_printed_with_the_record(client, filled, mechanic):
    save(filled, "placement", {"driven_engagement": "75", "driven_orientation": "in"}, mechanic, seen=1)
    with recording(by=mechanic, at=NOW):
        record = sign_visit(visit=filled)

    placed = Placement.objects.get(record=record)
    assert (placed.driver_orientation, placed.driven_orientation) == ("", "in")
    assert placed.hub_face_gap_mm == pytest.approx(133.2)
    assert verify().findings == []
    client.force_login(mechanic)
    page = client.get(f"/visits/{filled.uuid}/record/").content.decode()
    assert "flange towards the other hub" in page
    assert "133.2\u00a0mm" in page
