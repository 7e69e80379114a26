"""The step Wear: what it asks on which family, what it refuses, what it says, and what signing keeps of it."""

import json
from datetime import date

import pytest

from couplings.models import WearWording
from couplings.services.tables import write_table_row
from inspections.models import Hardness, SignedRecord, Wear, WearNote
from inspections.selectors.summary import summary_of
from inspections.selectors.verification import verify
from inspections.services.amendments import amend_visit
from inspections.services.signing import sign_visit
from inspections.steps import STEPS, Place
from plant.recording import recording
from plant.refusals import Refused
from tests.factories import NOW
from tests.inspections.test_flags import noon
from tests.inspections.visits import ELEMENT, save
from tests.inspections.worn import LOOKED_OVER, SHORE, limited, look, of_family, starters

STEP = STEPS["wear"]


@pytest.fixture(autouse=True)
def _starters(site):
    starters()


@pytest.fixture
def place(visit):
    return Place(visit, NOW)


def read(place, **typed):
    return STEP.read({name.replace("__", "."): text for name, text in typed.items()}, place)


def test_the_codes_of_the_family_are_asked_with_their_words_and_nothing_chosen(visit):
    rows = {row.name: row for row in STEP.fields(visit, {})}
    assert rows["crack.grade"].choices[3] == (
        "3", "3: a crack grows from visit to visit, or is deeper than a tenth of the section",
    )  # fmt: skip
    assert not any(key == "" for key, _ in rows["crack.grade"].choices)
    assert [key for key, _ in rows["bolt-fracture.grade"].choices] == ["0", "4"]
    assert (rows["crack.number"].label, rows["crack.number"].kind) == ("Length of the longest crack", "size")
    assert not any(name.startswith("tooth-wear") for name in rows)


def test_a_limit_of_the_data_sheet_stands_beside_its_number(visit):
    limited(visit.sheet_version, "play", 4.0)
    rows = {row.name: row for row in STEP.fields(visit, {})}
    assert rows["play.number"].hint == "At most 4.00° on the data sheet."
    assert rows["crack.number"].hint == "The data sheet gives no limit for it."


def test_a_family_that_does_not_age_is_not_asked_for_hardness(fit, visit):
    of_family(fit, "gear")
    visit.refresh_from_db()
    names = [row.name for row in STEP.fields(visit, {})]
    assert "tooth-wear.number" in names
    assert not any(name.startswith("hardness") for name in names)


@pytest.mark.parametrize(
    ("typed", "field", "said"),
    [
        ({"crack__grade": "5"}, "crack.grade", "“5” is not a choice here. Choose one of: 0, 1, 2, 3, 4."),
        ({"bolt-fracture__grade": "2"}, "bolt-fracture.grade", "“2” is not a choice here. Choose one of: 0, 4."),
        ({"crack__number": "NaN"}, "crack.number", "“NaN” is not a number."),
        ({"crack__number": "3 deg"}, "crack.number", "deg is a unit of angle"),
        ({"play__number": "400"}, "play.number", "cannot be meant"),
        ({"crack__number": "-1"}, "crack.number", "cannot be meant"),
        ({"hardness__scale": "C", "hardness__position1": "60"}, "hardness.scale", "is not a choice here"),
        ({"hardness__scale": "A", "hardness__position1": "101"}, "hardness.position1", "from 0 to 100"),
        ({"hardness__scale": "A", "hardness__position2": "60 mm"}, "hardness.position2", "plain number of points"),
        ({"hardness__scale": "A", "hardness__position3": "hard"}, "hardness.position3", "is not a number"),
        ({"note": "x" * 501, "dust__grade": "0"}, "note", "At most 500 characters; this is 501."),
    ],
)
def test_what_cannot_be_taken_is_refused_beside_its_field(place, typed, field, said):
    found = read(place, **typed)
    assert list(found.errors) == [field]
    assert said in found.errors[field]
    assert found.values is None


@pytest.mark.parametrize(
    ("typed", "field", "said"),
    [
        ({"note": "dust under the guard"}, "crack.grade", "Nothing is graded yet"),
        ({"hardness__position1": "60"}, "hardness.scale", "Say which Shore scale"),
        ({"hardness__scale": "A"}, "hardness.position1", "No hardness reading is there yet"),
    ],
)
def test_what_is_not_there_yet_is_asked_for(place, typed, field, said):
    found = read(place, **typed)
    assert said in found.missing[field]
    assert not found.errors


def test_grade_4_says_do_not_run_first_and_defers_to_the_sites_procedure(place):
    said = read(place, crack__grade="3", dust__grade="4", hardness__scale="A", hardness__position1="65").warnings
    assert said[0].startswith("Do not run. Who may decide otherwise")
    assert "site's procedure" in said[0]
    assert said[1] == "Rubber dust under the coupling: grade 4, pieces of the element lie there."
    assert said[2].startswith("Cracks in the rubber: grade 3, a crack grows")


def test_grade_3_asks_for_the_replacement(place):
    assert read(place, dust__grade="3").warnings == [
        "Rubber dust under the coupling: grade 3, heaps, or crumbs among the dust.",
        "Worn out: this raises a flag. Plan the replacement now.",
    ]
    assert read(place, dust__grade="2").warnings == []


def test_a_number_beyond_the_data_sheets_limit_counts_as_grade_3(visit, place):
    limited(visit.sheet_version, "play", 4.0)
    found = read(place, play__grade="1", play__number="4.5")
    line = found.values.assessment.lines[0]
    assert (line.stated, line.grade, line.verdict, line.limit) == (1, 3, "out of tolerance", 4.0)
    assert "The number is beyond its limit." in found.warnings[0]
    within = read(place, play__number="4.0").values.assessment.lines[0]
    assert (within.grade, within.verdict) == (None, "in tolerance")


def test_signing_keeps_rows_and_text_and_verification_compares_both(fit, mechanic, wrench):
    limited(fit.sheet_version, "crack", 10.0)
    typed = LOOKED_OVER | SHORE | {"crack.number": "3 mm", "note": "lobe 2, motor side"}
    visit = look(fit, mechanic, wrench, typed)
    crack = Wear.objects.get(code="crack")
    assert (crack.stated, crack.grade, crack.value, crack.limit, crack.kind) == (1, 1, 3.0, 10.0, "size")
    assert (crack.title, crack.words, crack.verdict) == (
        "Cracks in the rubber", "hairlines at the surface", "in tolerance",
    )  # fmt: skip
    # The median of 64, 66, 65, 70, 65 is 65.
    hardness = Hardness.objects.get()
    assert (hardness.scale, hardness.median, hardness.first_median, hardness.verdict) == ("A", 65.0, None, "not known")
    assert WearNote.objects.get().text == "lobe 2, motor side"
    text = json.loads(visit.record.text)
    assert next(one for one in text["steps"] if one["step"] == "wear")["typed"] == typed
    facts = text["facts"]["wear"]
    assert sorted(one["code"] for one in facts if "code" in one) == ["crack", "dust"]
    assert next(one for one in facts if "readings" in one)["readings"] == [64.0, 66.0, 65.0, 70.0, 65.0]
    assert verify().findings == []


def test_a_row_that_was_changed_behind_the_record_is_found(fit, mechanic, wrench):
    from inspections import triggers

    look(fit, mechanic, wrench, {"dust.grade": "2"})
    with triggers.opened(reason="a test changes a row", at=NOW):
        Wear.objects.update(grade=0)
    assert len(verify().findings) == 1


def test_hardness_is_held_against_the_elements_own_first_reading(fit, mechanic, wrench):
    version = fit.sheet_version
    version.hardness_scale, version.hardness_change = "A", 8.0
    version.save()
    fit.elements.create(site=fit.site, part_number="E-80", fitted_on=date(2026, 10, 2))
    look(fit, mechanic, wrench, SHORE, on=date(2026, 10, 5))
    harder = SHORE | {name: "74" for name in SHORE if "position" in name}
    look(fit, mechanic, wrench, harder, on=date(2026, 10, 12))
    found = Hardness.objects.get(median=74)
    assert (found.first_median, found.first_on, found.limit_points) == (65.0, date(2026, 10, 5), 8.0)
    # 9 points harder where 8 are allowed.
    assert (found.verdict, found.grade) == ("out of tolerance", 3)


def test_another_scale_begins_a_series_of_its_own(fit, mechanic, wrench):
    fit.elements.create(site=fit.site, part_number="E-80", fitted_on=date(2026, 10, 2))
    look(fit, mechanic, wrench, SHORE, on=date(2026, 10, 5))
    look(fit, mechanic, wrench, SHORE | {"hardness.scale": "D"}, on=date(2026, 10, 12))
    assert Hardness.objects.get(scale="D").first_median is None


def test_a_new_element_begins_a_series_of_its_own(fit, visit, filled, mechanic, wrench):
    fit.elements.create(site=fit.site, part_number="E-79", fitted_on=date(2026, 10, 2))
    look(fit, mechanic, wrench, SHORE, on=date(2026, 10, 5))
    save(visit, "element", ELEMENT | {"removal_reason": "hardened"}, mechanic)
    save(visit, "wear", SHORE | {"hardness.position1": "60"}, mechanic)
    with recording(by=mechanic, at=NOW):
        sign_visit(visit=visit)
    assert Hardness.objects.get(visit=visit).first_median is None


def test_wear_keeps_nobody_from_signing_but_an_error_in_it_does(filled, mechanic):
    assert summary_of(filled).ready
    save(filled, "wear", {"crack.number": "3 deg"}, mechanic)
    with pytest.raises(Refused) as refused, recording(by=mechanic, at=NOW):
        sign_visit(visit=filled)
    assert list(refused.value.as_dict()) == ["wear.crack.number"]
    assert not SignedRecord.objects.exists()


def test_an_amendment_replaces_the_whole_step(fit, mechanic, engineer, wrench):
    visit = look(fit, mechanic, wrench, LOOKED_OVER | {"note": "seen by torch"})
    with recording(by=engineer, at=noon(visit.on)):
        record = amend_visit(visit=visit, steps={"wear": {"dust.grade": "2"}}, reason="wrong coupling graded")
    assert [(row.code, row.grade) for row in Wear.objects.filter(record=record)] == [("dust", 2)]
    assert not WearNote.objects.filter(record=record).exists()
    with recording(by=engineer, at=noon(visit.on)), pytest.raises(Refused) as refused:
        amend_visit(visit=visit, steps={"wear": {"dust.grade": "7"}}, reason="slip")
    assert list(refused.value.as_dict()) == ["steps.wear.dust.grade"]
    assert verify().findings == []


def words_of(site, by, code, **fields):
    with recording(by=by, at=NOW):
        return write_table_row(model=WearWording, site=site, code=code, source="our procedure 9", **fields)


def test_the_step_asks_in_the_words_of_the_site_and_its_limit_holds_where_the_sheet_gives_none(visit, engineer):
    words_of(visit.site, engineer, "dust", title="Crumbs under the guard", grade_1="a spoonful")
    words_of(visit.site, engineer, "play", limit=3.0)
    rows = {row.name: row for row in STEP.fields(visit, {})}
    assert (rows["dust.grade"].group, rows["dust.grade"].choices[1]) == (
        "Crumbs under the guard",
        ("1", "1: a spoonful"),
    )
    assert rows["play.number"].hint == "At most 3.00° by your site's wear codes; the data sheet gives no limit."
    found = read(Place(visit, NOW), play__number="3.5")
    assert "beyond its limit" in found.warnings[0]
    limited(visit.sheet_version, "play", 4.0)
    rows = {row.name: row for row in STEP.fields(visit, {})}
    assert rows["play.number"].hint == "At most 4.00° on the data sheet."
    assert not read(Place(visit, NOW), play__number="3.5").warnings


def test_what_was_signed_keeps_its_words_when_the_site_words_the_code_anew(fit, mechanic, engineer, wrench):
    visit = look(fit, mechanic, wrench, {"dust.grade": "2", "crack.grade": "0"})
    record = SignedRecord.objects.get(visit=visit)
    words_of(visit.site, engineer, "dust", title="Crumbs", grade_2="a handful")
    row = Wear.objects.get(visit=visit, code="dust")
    assert (row.title, row.words) == ("Rubber dust under the coupling", "a film that comes back after cleaning")
    assert "Rubber dust under the coupling" in SignedRecord.objects.get(pk=record.pk).text
    assert verify().findings == []
