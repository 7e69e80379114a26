"""The gap round the coupling with the rotor in place, cold and as it runs, in the placement step and in the verdict."""

import json

import pytest
from django.urls import reverse

from inspections.models import Placement
from inspections.selectors.verification import verify
from inspections.selectors.visits import draft_result, read_entry
from inspections.services.signing import sign_visit
from plant.recording import recording
from tests.factories import NOW
from tests.inspections.visits import IN_LINE, PLACEMENT, fill_installation, save

pytestmark = pytest.mark.django_db
# The data sheet's 140 mm between shaft ends; mean of the gaps 139.7 mm, the rotor 0.5 mm from its place: 140.2 mm.
GAPS = PLACEMENT | {
    "gap_between": "shaft-ends", "gap12": "139.6", "gap3": "139,7", "gap6": "139.8 mm", "gap9": "139.7",
    "rotor_from_place": "0.5", "rotor_float": "4",
}  # fmt: skip


@pytest.fixture
def limited(visit):
    visit.sheet_version.limits.create(quantity="axial", stated_as="length", stated_value=0.5, value=0.5)
    return visit


def read(visit, by, fields):
    save(visit, "placement", fields, by, seen=99)
    return read_entry(type(visit).objects.get(pk=visit.pk), "placement")


def line(visit, by, fields):
    save(visit, "placement", fields, by, seen=99)
    save(visit, "as-left", IN_LINE, by, seen=99)
    found = draft_result(type(visit).objects.get(pk=visit.pk), "as-left")
    return next(one for one in found.lines if one.quantity == "axial"), found


def test_the_gap_in_place_is_the_mean_and_the_rotors_distance(limited, mechanic):
    found = read(limited, mechanic, GAPS)
    assert found.values.axial.in_place_mm == pytest.approx(140.2)
    assert found.values.axial.u_mm == pytest.approx(0.01), "0.02 mm over the root of four"
    assert [one.verdict for one in found.found] == ["in tolerance"]
    assert "Gap with the rotor in place 140.2" in found.found[0].sentence


def test_it_takes_part_in_the_verdict(limited, mechanic):
    one, found = line(limited, mechanic, GAPS)
    assert one.value == pytest.approx(0.2)
    assert found.verdict == "in tolerance"
    one, found = line(limited, mechanic, GAPS | {"rotor_from_place": "1.2"})
    assert one.value == pytest.approx(0.9)
    assert found.verdict == "out of tolerance"


def test_where_the_growth_is_known_the_gap_is_judged_as_it_runs(limited, mechanic):
    """Cold 0.9 mm too wide, and both shafts grow 0.8 mm towards each other: 0.1 mm as it runs."""
    one, found = line(limited, mechanic, GAPS | {"rotor_from_place": "1.2", "axial_growth": "0.8"})
    assert one.value == pytest.approx(0.1)
    assert found.verdict == "in tolerance"


def test_between_the_faces_nominal_is_less_both_overhangs(limited, mechanic):
    """Bores of 80 mm with 78 and 75 mm on the shaft: 140 - 2 - 5 = 133 mm."""
    faces = {"gap_between": "hub-faces", "driven_engagement": "75", "dbse": "140", "rotor_from_place": "0"}
    gaps = {f"gap{hour}": "133.1" for hour in (12, 3, 6, 9)}
    found = read(limited, mechanic, GAPS | faces | gaps)
    assert found.values.axial.deviation_mm == pytest.approx(0.1)


def test_without_both_overhangs_there_is_nothing_to_hold_a_face_gap_against(limited, mechanic):
    found = read(limited, mechanic, GAPS | {"gap_between": "hub-faces"})
    assert found.values.axial.deviation_mm is None
    assert any("follows from both engagements" in said for said in found.warnings)


def test_one_distance_is_judged_as_before_and_the_rotor_counts_with_it_too(limited, mechanic):
    one, _found = line(limited, mechanic, PLACEMENT)
    assert one.value == pytest.approx(0.2)
    one, _found = line(limited, mechanic, PLACEMENT | {"rotor_from_place": "-0.1"})
    assert one.value == pytest.approx(0.1)


def test_a_float_that_the_coupling_does_not_hold_is_warned_of(limited, mechanic):
    assert any(
        "against its bearings' faces" in said for said in read(limited, mechanic, GAPS | {"rotor_float": "1"}).warnings
    )
    assert any("1.50\u00a0mm of float is left" in said for said in read(limited, mechanic, GAPS).notes)


@pytest.mark.parametrize(
    ("fields", "name", "said"),
    [
        ({"gap12": "-1"}, "gap12", "cannot be meant"),
        ({"gap3": "5 kW"}, "gap3", "kW is a unit of power"),
        ({"gap6": "wide"}, "gap6", "is not a number"),
        ({"gap9": "nan"}, "gap9", "is not a number"),
        ({"gap_between": "flanges"}, "gap_between", "is not a choice here"),
        ({"rotor_from_place": "5"}, "rotor_from_place", "further from its place than its whole float"),
        ({"rotor_from_place": "-5"}, "rotor_from_place", "further from its place than its whole float"),
        ({"rotor_float": "-2"}, "rotor_float", "cannot be meant"),
        ({"rotor_float": "2 degC"}, "rotor_float", "temperature"),
        ({"axial_growth": "80"}, "axial_growth", "cannot be meant"),
        ({"axial_growth": "hot"}, "axial_growth", "is not a number"),
    ],
)
def test_a_slip_is_told_beside_its_field(limited, mechanic, fields, name, said):
    found = read(limited, mechanic, GAPS | fields)
    assert said in found.errors[name]
    assert found.values is None


def test_gaps_without_saying_between_what_are_not_complete(limited, mechanic):
    assert "gap_between" in read(limited, mechanic, GAPS | {"gap_between": ""}).missing
    only = PLACEMENT | {f"gap{hour}": "" for hour in (12, 3, 6, 9)} | {"gap_between": "shaft-ends"}
    assert "gap12" in read(limited, mechanic, only).missing


def test_it_is_signed_kept_and_shown(limited, mechanic, wrench, client):
    fill_installation(limited, mechanic, wrench)
    save(limited, "placement", GAPS | {"axial_growth": "0.1"}, mechanic)
    with recording(by=mechanic, at=NOW):
        sign_visit(visit=limited)
    kept = Placement.objects.get()
    assert [(one["at"], one["typed"]) for one in kept.gaps][1] == ("3 o'clock", "139,7")
    assert (kept.gap_in_place_mm, kept.gap_hot_mm) == (pytest.approx(140.2), pytest.approx(140.1))
    assert verify().findings == []
    text = json.loads(type(limited).objects.get(pk=limited.pk).record.text)
    assert text["facts"]["placement"][0]["rotor_float_mm"] == 4.0
    client.force_login(mechanic)
    page = client.get(reverse("visit-record", args=[limited.uuid])).content.decode()
    assert "Gap with the rotor in place" in page
    assert "140.2\u00a0mm" in page


def test_a_text_without_it_says_nothing_of_it(limited, mechanic, wrench):
    fill_installation(limited, mechanic, wrench)
    with recording(by=mechanic, at=NOW):
        sign_visit(visit=limited)
    text = json.loads(type(limited).objects.get(pk=limited.pk).record.text)
    assert "gap_in_place_mm" not in text["facts"]["placement"][0]
