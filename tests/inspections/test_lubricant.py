"""The step Lubricant: by name, quantity and interval, and what the old one looked like."""

import json

import pytest

from inspections.models import Lubrication
from inspections.selectors.verification import verify
from inspections.steps import STEPS, Place
from tests.factories import NOW
from tests.inspections.worn import look, of_family, starters

STEP = STEPS["lubricant"]
RENEWED = {
    "act": "renewed", "state": "darkened", "name": "Coupling grease 1", "quantity": "85 g", "consistency": "1",
    "every_months": "6",
}  # fmt: skip


@pytest.fixture
def gear(site, fit):
    starters()
    of_family(fit, "gear")
    version = fit.sheet_version
    version.lubricant, version.lubricant_g, version.lubricant_months = "Coupling grease 1", 85.0, 6
    version.save()
    return fit


@pytest.fixture
def place(gear, visit):
    visit.refresh_from_db()
    return Place(visit, NOW)


def test_it_is_asked_where_the_family_is_lubricated_or_the_sheet_names_one(fit, visit):
    assert not STEP.applies(visit)
    visit.sheet_version.lubricant = "Assembly paste"
    assert STEP.applies(visit)


def test_the_data_sheet_stands_beside_the_fields_and_consistency_is_written_out(place):
    rows = {row.name: row for row in STEP.fields(place.visit, {})}
    assert rows["name"].hint.endswith("The data sheet names Coupling grease 1.")
    assert rows["quantity"].hint == "The data sheet asks for 85\u00a0g."
    assert rows["consistency"].label == "Consistency grade"
    assert ("2", "2, as butter") in rows["consistency"].choices
    assert ("water", "Milky or with drops: water has come in") in rows["state"].choices


@pytest.mark.parametrize(
    ("typed", "field", "said"),
    [
        ({"act": "painted"}, "act", "is not a choice here"),
        (RENEWED | {"quantity": "85 mm"}, "quantity", "mm is a unit of length"),
        (RENEWED | {"quantity": "0"}, "quantity", "cannot be meant"),
        (RENEWED | {"every_months": "0"}, "every_months", "A whole number from 1 to 600."),
        (RENEWED | {"consistency": "7"}, "consistency", "is not a choice here"),
        (RENEWED | {"state": "fine"}, "state", "is not a choice here"),
        (RENEWED | {"name": "x" * 81}, "name", "At most 80 characters"),
        ({"act": "looked", "state": "darkened", "name": "Grease"}, "name", "None was added"),
    ],
)
def test_what_cannot_be_taken_is_refused_beside_its_field(place, typed, field, said):
    found = STEP.read(typed, place)
    assert list(found.errors) == [field]
    assert said in found.errors[field]


def test_what_is_not_there_yet_is_asked_for(place):
    assert set(STEP.read({"state": "darkened"}, place).missing) == {"act"}
    assert set(STEP.read({"act": "renewed"}, place).missing) == {"name"}
    assert set(STEP.read({"act": "looked"}, place).missing) == {"state"}


def test_what_differs_from_the_data_sheet_is_said(place):
    assert STEP.read(RENEWED, place).warnings == []
    said = STEP.read(RENEWED | {"name": "Chain oil", "quantity": "3 oz", "every_months": "12"}, place).warnings
    assert said[0].startswith("Chain oil; the data sheet names Coupling grease 1.")
    assert said[1:] == ["Next fill in 12 months; the data sheet asks for 6."], "3 oz are 85 g"
    assert STEP.read(RENEWED | {"quantity": "40"}, place).warnings == [
        "40\u00a0g filled in; the data sheet asks for 85\u00a0g."
    ]
    left = STEP.read({"act": "looked", "state": "water"}, place).warnings
    assert left == [
        "Milky or with drops: water has come in: grade 3. Renew it, and grade it under Wear, where it raises a flag."
    ]


def test_signing_keeps_it(gear, mechanic, wrench):
    visit = look(gear, mechanic, wrench, {}, lubricant=RENEWED)
    row = Lubrication.objects.get()
    assert (row.act, row.name, row.quantity_g, row.consistency) == ("renewed", "Coupling grease 1", 85.0, "1")
    assert (row.every_months, row.state, row.state_grade) == (6, "darkened", 1)
    assert json.loads(visit.record.text)["facts"]["lubricant"][0]["quantity_g"] == 85.0
    assert verify().findings == []
