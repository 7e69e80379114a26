"""The alignment calculation as a page: a plain form whose address keeps the inputs."""

import pytest

from couplings.engineering.alignment import METHODS

pytestmark = pytest.mark.django_db

# The survey printed with the API's description of the calculation.
PRINTED = {
    "method": "reverse-rim", "viewed_from": "movable", "units": "metric",
    "set0.12": "0", "set0.3": "0,12", "set0.6": "0.30", "set0.9": "0.18", "set0.x": "75", "set0.sag": "-0.04",
    "set1.12": "0", "set1.3": "-0.10", "set1.6": "-0.26", "set1.9": "-0.16", "set1.x": "-75", "set1.sag": "-0.04",
    "feet0.name": "inboard", "feet0.x": "250", "feet1.name": "outboard", "feet1.x": "700",
    "flex_a": "-70", "flex_b": "70", "limit_offset": "0.05", "limit_angularity": "0.5",
}  # fmt: skip


@pytest.fixture
def page(client, mechanic):
    client.force_login(mechanic)
    return lambda **query: client.get("/calculations/alignment/", query)


def test_the_printed_survey_gives_the_printed_answer(page):
    text = page(**PRINTED).content.decode()

    assert "Out of tolerance" in text
    # As printed with it: offset -0.14 and -0.03 mm, angularity -0.4, moves up 0.24 and 0.42, right 0.03.
    for figure in ("−0.14", "−0.03", "−0.40", "up <b>0.24", "up <b>0.42", "right <b>0.03"):
        assert figure in text
    assert "From the side" in text
    assert 'value="0,12"' in text


def test_every_method_has_its_form_and_says_what_is_missing(page):
    for method in METHODS:
        assert page(method=method).status_code == 200
    answer = page(method="reverse-rim", viewed_from="movable", **{"set0.12": "0"})
    assert answer.status_code == 422
    assert "Not worked out yet." in answer.content.decode()
    assert 'class="error"' in answer.content.decode()


def test_a_bad_value_stands_beside_its_field_as_typed(page):
    text = page(**(PRINTED | {"set1.6": "12 kW"})).content.decode()
    assert 'value="12 kW"' in text
    assert 'id="f-set1-6_error"' in text


def test_inches_are_understood_and_answered(page):
    text = page(**{"method": "direct", "viewed_from": "movable", "units": "us", "offset_v": "5", "offset_h": "0 mm",
                   "slope_v": "0", "slope_h": "0"}).content.decode()  # fmt: skip
    assert "+5.0\xa0thou" in text


def test_an_unknown_calculation_is_not_there(client, mechanic):
    client.force_login(mechanic)
    assert client.get("/calculations/astrology/").status_code == 404
