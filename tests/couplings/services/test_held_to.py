"""What a coupling is held to: its data sheet and a grade; starter rows with their sources."""

import json

import pytest

from couplings.models import Family, Grade, GradeRow, SheetLimit
from couplings.selectors import grade_for, limits_of
from couplings.services.grades import change_grade, write_grade
from couplings.services.starters import FOLDER, load_starters
from plant.recording import recording
from plant.refusals import NotAllowed
from tests.couplings.services.test_sheets import refusal
from tests.factories import (
    NOW,
    CouplingFactory,
    DataSheetFactory,
    FamilyFactory,
    SheetVersionFactory,
    TrainFactory,
)

# R. Mackay, The Practical Pumping Handbook, Elsevier 2004, p. 178 Fig 10.13, in inches at these speeds.
HANDBOOK = {1200.0: 0.005, 1800.0: 0.004, 3600.0: 0.002}


@pytest.fixture
def coupling(site):
    return CouplingFactory(train=TrainFactory(site=site, tag="BF-21"), rpm=2980.0)


@pytest.fixture
def version(site):
    return SheetVersionFactory(sheet=DataSheetFactory(site=site, designation="Jaw 80"))


def of_grade(coupling, version):
    return {limit.quantity: limit.value for limit in limits_of(coupling, version).limits if limit.family == "grade"}


def loaded(site):
    with recording(by=None, at=NOW):
        load_starters(site=site)


def test_both_families_stand_side_by_side_with_their_sources(coupling, version, site):
    loaded(site)
    limits = limits_of(coupling, version)
    assert {(limit.family, limit.quantity, limit.value) for limit in limits.limits} == {
        ("sheet", "offset", 0.2),
        ("sheet", "angularity", 1.0),
        ("grade", "offset", 0.05),
    }
    assert {limit.source for limit in limits.limits if limit.family == "sheet"} == {"Jaw 80, version 1"}
    assert "Mackay" in next(limit.source for limit in limits.limits if limit.family == "grade")
    assert (limits.rule, limits.combined) == ("vector", False)


@pytest.mark.parametrize("rpm, inches", HANDBOOK.items())
def test_the_handbooks_figure_holds_at_its_own_speed_and_down_to_the_one_below(coupling, version, site, rpm, inches):
    loaded(site)
    coupling.rpm = rpm
    # Kept as rounded millimetres: half of the last digit kept is the tolerance.
    assert of_grade(coupling, version)["offset"] == pytest.approx(inches * 25.4, abs=0.005)
    coupling.rpm = rpm - 1
    assert of_grade(coupling, version)["offset"] == pytest.approx(inches * 25.4, abs=0.005)


def test_above_the_handbooks_last_speed_nothing_is_invented(coupling, version, site):
    loaded(site)
    coupling.rpm = 3601.0
    assert of_grade(coupling, version) == {}


def test_a_spacer_coupling_is_held_to_its_flex_planes_and_never_to_a_centre_offset(coupling, site):
    loaded(site)
    disc = SheetVersionFactory(sheet=DataSheetFactory(site=site, family=Family.objects.get(code="disc")))
    # API RP 686, 2nd ed. 2009, ch. 7 cl. 5.4.6.2 as quoted on a public forum: 0.5 mm/m at both flex planes.
    assert of_grade(coupling, disc) == {"flex-angle": 0.5}


def test_a_grade_chosen_for_the_coupling_goes_before_that_of_its_criticality(coupling, version, site):
    loaded(site)
    assert grade_for(coupling).name == "Starter"
    own = Grade.objects.create(site=site, name="Hot pumps")
    GradeRow.objects.create(grade=own, up_to_rpm=3600, offset_mm=0.03, angularity_mrad=0.4, source="site rule 7")
    coupling.grade = own
    assert of_grade(coupling, version) == {"offset": 0.03, "angularity": 0.4}


def test_a_rule_per_plane_gives_way_to_the_vector_where_both_are_judged(coupling, version, site):
    loaded(site)
    version.rule = "per-plane"
    assert limits_of(coupling, version).rule == "vector"
    coupling.rpm = 5000.0
    assert limits_of(coupling, version).rule == "per-plane"


def test_a_sheet_without_limits_is_judged_as_its_grade_says(coupling, version, site):
    SheetLimit.objects.filter(version=version).delete()
    grade = Grade.objects.create(site=site, name="Plain", criticalities="A")
    GradeRow.objects.create(grade=grade, up_to_rpm=3600, offset_mm=0.05, rule="per-plane", source="S")
    limits = limits_of(coupling, version)
    assert ([limit.family for limit in limits.limits], limits.rule) == (["grade"], "per-plane")
    GradeRow.objects.all().delete()
    assert limits_of(coupling, version).limits == ()


def test_starters_name_a_source_in_every_row_and_load_once(site):
    loaded(site)
    families = json.loads((FOLDER / "families.json").read_text(encoding="utf-8"))
    assert {row["code"] for row in families} == set(Family.objects.values_list("code", flat=True))
    assert all(row["source"] for row in families)
    assert all(row.source and row.mark in {"textbook", "quoted"} for row in GradeRow.objects.all())
    Grade.objects.filter(name="Starter").update(note="ours now")
    loaded(site)
    assert Grade.objects.get(name="Starter").note == "ours now"
    assert (Grade.objects.count(), Family.objects.count()) == (2, len(families))


def test_the_standard_whose_table_is_not_public_comes_empty_and_says_so(site):
    loaded(site)
    grade = Grade.objects.get(name="ANSI/ASA S2.75")
    assert not grade.rows.exists()
    assert "fill them from the site's own copy" in grade.note
    assert grade.criticalities == ""


def test_a_site_fills_a_grade_from_its_own_copy(engineer, site):
    loaded(site)
    grade = Grade.objects.get(name="ANSI/ASA S2.75")
    # Invented figures: what the standard says is not ours to print.
    row = {"kind": "spacer", "over_rpm": 0.0, "up_to_rpm": 1800.0, "flex_angle_mrad": 1.25, "source": "own copy"}
    with recording(by=engineer, at=NOW):
        change_grade(grade=grade, rows=[row, row | {"over_rpm": 1800.0, "up_to_rpm": 3600.0}])
    assert [(row.up_to_rpm, row.mark) for row in grade.rows.all()] == [(1800.0, "site"), (3600.0, "site")]


def test_a_criticality_is_held_to_one_grade(engineer, site):
    loaded(site)
    errors = refusal(write_grade, by=engineer, site=site, name="Starter", criticalities="CA")
    assert errors == {
        "name": "Another grade of this site has this name.",
        "criticalities": "A and C are held to Starter already: take it out there first.",
    }
    assert refusal(write_grade, by=engineer, site=site, name="New", criticalities="AX")["criticalities"] == (
        "Name criticalities by their letters, such as AB."
    )


def test_bad_rows_leave_the_standing_ones_as_they_are(engineer, site):
    loaded(site)
    grade = Grade.objects.get(name="Starter")
    bad = {"kind": "oval", "up_to_rpm": float("inf"), "offset_mm": -1.0, "source": "S"}
    errors = refusal(change_grade, by=engineer, grade=grade, rows=[bad])
    assert set(errors) == {"rows.0.kind", "rows.0.up_to_rpm", "rows.0.offset_mm"}
    assert grade.rows.count() == 4


def test_grades_are_the_engineers(keeper, site):
    with pytest.raises(NotAllowed), recording(by=keeper, at=NOW):
        write_grade(site=site, name="Mine")


def test_families_of_other_sites_are_the_same_rows(site, other_site):
    FamilyFactory(code="disc", name="Renamed by the site")
    loaded(site)
    loaded(other_site)
    assert Family.objects.get(code="disc").name == "Renamed by the site"
    assert Grade.objects.filter(name="Starter").count() == 2
