"""Fit, key and wear as pages: plain forms whose address keeps the inputs."""

import pytest

from couplings.calculations.wear_request import families
from plant.calculations import get

pytestmark = pytest.mark.django_db

FIT = {
    "method": "iso-286", "units": "metric", "nominal": "60", "hole": "H7", "shaft": "k6", "bore": "60.005",
    "shaft_size": "60.018", "hub_outside": "100", "length": "70", "friction": "0.15", "assembly_clearance": "0,03",
    "shaft_temperature": "20",
}  # fmt: skip
KEY = {"method": "din-6885", "units": "metric", "shaft": "80", "length": "110", "ends": "round", "torque": "2000"}
DISC = {"method": "disc", "units": "metric", "blade-fracture.grade": "4", "fretting.grade": "2"}
JAW = {
    "method": "elastomer-compression", "units": "metric", "crack.grade": "1", "crack.value": "12", "play.grade": "2",
    "play.value": "2.5", "play.limit": "2", "scale": "A", "first": "80 81 79 80 82", "now": "86; 88 87 85 87",
    "hardness_limit": "10", "polymer": "NBR", "cured_on": "2018-05-31", "age_on": "2026-01-15",
}  # fmt: skip


@pytest.fixture
def page(client, mechanic):
    client.force_login(mechanic)
    return lambda name, **query: client.get(f"/calculations/{name}/", query)


def test_the_fit_page_judges_the_pair_and_warns_of_the_hot_hub(page):
    answer = page("fit", **FIT)
    text = answer.content.decode()
    assert answer.status_code == 200
    assert "In tolerance" in text
    # H7/k6 at 60 mm is -0.021 to +0.028, the pair 0.013 tight: fit arithmetic on ISO 286-2.
    for figure in ("−0.021\xa0mm", "+0.028\xa0mm", "0.013\xa0mm", "transition"):
        assert figure in text
    assert "Hot hubs burn." in text
    assert 'value="0,03"' in text


def test_the_caution_stands_there_before_anything_is_typed(page):
    assert "Hot hubs burn." in page("fit").content.decode()


def test_an_error_of_a_fit_stands_beside_its_field(page):
    answer = page("fit", **(FIT | {"hub_outside": "50", "bore": "60 kW"}))
    text = answer.content.decode()
    assert answer.status_code == 422
    assert 'id="f-bore_error"' in text
    assert 'id="f-hub_outside_error"' in page("fit", **(FIT | {"hub_outside": "50"})).content.decode()
    assert 'id="f-nominal_error"' in page("fit", **(FIT | {"nominal": "2"})).content.decode()


def test_deviations_typed_in_thousandths_of_an_inch(page):
    typed = {"method": "deviations", "units": "us", "nominal": "2", "bore_lower": "-1", "bore_upper": "-0.5"}
    text = page("fit", **typed, shaft_lower="-0.5", shaft_upper="0", source="own copy").content.decode()
    assert "own copy" in text
    assert "−1.00\xa0thou" in text
    assert "interference" in text


def test_the_key_page_shows_size_and_stress(page):
    text = page("key", **KEY, allowed_bearing="80").content.decode()
    # Jiang, Example 4.1 b, pp. 95-96: 81.2 MPa where 80 are allowed.
    for figure in ("22 × 14 mm", "81.2\xa0MPa", "9.000\xa0mm", "Out of tolerance"):
        assert figure in text
    assert 'id="f-length_error"' in page("key", **(KEY | {"length": ""})).content.decode()
    assert 'id="f-keys_error"' in page("key", **(KEY | {"keys": "3"})).content.decode()
    inch = page("key", method="asme-b17-1", units="us", shaft="1").content.decode()
    assert "1/4 × 1/4 inch" in inch


@pytest.mark.parametrize("family", list(families()))
def test_every_family_has_its_form(page, family):
    text = page("wear", method=family).content.decode()
    assert "Fracture of a bolt" in text
    assert ("Shore scale" in text) == families()[family]["ages"]


def test_a_fracture_says_do_not_run_first(page):
    text = page("wear", **DISC).content.decode()
    assert '<div class="caution" role="note"><p><b>Do not run.</b>' in text
    assert text.index("Do not run.") < text.index("Result")
    assert "Grade 4." in text


def test_the_wear_page_shows_what_raised_the_grade_and_the_sources_that_differ(page):
    answer = page("wear", **JAW)
    text = answer.content.decode()
    assert answer.status_code == 200
    assert "Grade 3." in text
    assert "beyond the data sheet" in text
    assert "Published sources that differ" in text
    assert "MIL-HDBK-695E (2011)" in text
    assert "Shore A: 80 at first, 87 now" in text
    assert "no public source does" in text


@pytest.mark.parametrize(
    ("typed", "field"),
    [
        ({"play.value": "2 mm"}, "play-value"),
        ({"crack.grade": "9"}, "crack-grade"),
        ({"crack.grade": "x"}, "crack-grade"),
        ({"now": "86 101"}, "now"),
        ({"scale": ""}, "scale"),
        ({"cured_on": "31.5.2018"}, "cured_on"),
        ({"worn_new": "10"}, "worn_now"),
    ],
)
def test_an_error_of_a_look_stands_beside_its_field(page, typed, field):
    answer = page("wear", **(JAW | typed))
    assert answer.status_code == 422
    assert f'id="f-{field}_error"' in answer.content.decode()


@pytest.mark.parametrize("name", ["fit", "key", "wear"])
def test_the_worked_request_is_answered_over_the_api(client, mechanic, name):
    client.force_login(mechanic)
    answer = client.post(f"/api/v1/calculations/{name}/", get(name).example, content_type="application/json")
    assert answer.status_code == 200, answer.content
    wrong = client.post(f"/api/v1/calculations/{name}/", {"surprise": 1}, content_type="application/json")
    assert wrong.status_code == 422
    assert "/surprise" in {error["pointer"] for error in wrong.json()["errors"]}
