"""The moves of a train as a page: plain form for two and three machines, drawing, tables, errors beside the fields."""

import pytest

from tests.plant.drawn import parts

pytestmark = pytest.mark.django_db

# A gear 0.2 mm to the left of both its neighbours: the second crew stood behind the compressor.
GEAR = {
    "method": "three", "units": "metric", "objective": "fewest-feet", "share": "50 %",
    "m0.name": "motor", "m0.foot0.x": "0", "m0.foot1.x": "500", "m0.foot0.down": "1", "m0.foot1.sideways": "2",
    "m1.name": "gear", "m1.foot0.x": "900", "m1.foot1.x": "1200",
    "m2.name": "compressor", "m2.foot0.x": "1600", "m2.foot1.x": "2400", "m2.fixed": "yes",
    "c0.x": "700", "c0.offset_v": "0", "c0.offset_h": "0,2", "c0.slope_v": "0", "c0.slope_h": "0",
    "c1.x": "1400", "c1.offset_v": "0", "c1.offset_h": "-0.2", "c1.slope_v": "0", "c1.slope_h": "0",
    "c1.stood": "driver",
}  # fmt: skip


@pytest.fixture
def page(client, mechanic):
    client.force_login(mechanic)
    return lambda **query: client.get("/calculations/moves/", query)


def test_the_gear_moves_and_the_page_draws_the_train(page):
    answer = page(**GEAR)
    assert answer.status_code == 200
    text = answer.content.decode()
    assert "2 of 6 foot planes, bring every coupling exactly to its target" in text
    assert text.count("right <b>0.20") == 2
    assert "may not move" in text
    assert text.count("stays</td>") == 6  # both of the motor's feet both ways, the gear's up and down
    assert "From above" in text
    assert "C2: gear, compressor" in text
    assert 'value="0,2"' in text
    assert "A train of" in text


def test_a_foot_that_goes_as_far_as_it_may_says_so(page):
    bound = {"m1.foot0.sideways": "0.2", "m1.foot1.sideways": "0.3"}
    text = page(**(GEAR | {"m0.fixed": "yes"} | bound)).content.decode()
    assert text.count("right <b>0.20\xa0mm</b>, as far as it may go") == 1


def test_two_machines_have_a_shorter_form(page):
    two = {name: typed for name, typed in GEAR.items() if not name.startswith(("m2", "c1"))} | {"method": "two"}
    text = page(**two).content.decode()
    assert "m2.foot0.x" not in text
    assert "bring every coupling exactly to its target" in text


def test_inches_are_taken_and_answered(page):
    text = page(**(GEAR | {"units": "us", "c0.offset_h": "8", "c1.offset_h": "-8 mil"})).content.decode()
    assert "right <b>8.0\xa0thou" in text


@pytest.mark.parametrize(
    ("field", "typed", "beside"),
    [
        ("c0.offset_h", "0.2 kW", "c0-offset_h"),
        ("m1.foot0.x", "", "m1-foot0-x"),
        ("m2.foot1.x", "1000", "m2-foot1-x"),
        ("c1.x", "", "c1-x"),
        ("c1.slope_h", "", "c1-slope_h"),
        ("share", "140 %", "share"),
        ("c0.limit_flex", "0.5", "c0-flex"),
        ("m0.foot0.down", "-1", "m0-foot0-down"),
        ("c0.stood", "both", "c0-stood"),
    ],
)
def test_what_is_wrong_stands_beside_its_field(page, field, typed, beside):
    answer = page(**(GEAR | {field: typed}))
    assert answer.status_code == 422
    assert f'id="f-{beside}_error"' in answer.content.decode()


def test_a_form_with_hardly_anything_typed_asks_for_the_rest(page):
    for method in ("two", "three"):
        assert page(method=method).status_code == 200
        answer = page(**{"method": method, "m0.name": "motor"})
        assert answer.status_code == 422
        assert 'id="f-m1-foot1-x_error"' in answer.content.decode()


def test_what_stands_in_the_way_is_said(page):
    text = page(**(GEAR | {"m0.fixed": "yes", "m1.foot0.sideways": "0.15"})).content.decode()
    assert "No such moves" in text
    assert "gear, first feet: <b>0.05\xa0mm</b> more to the right" in text
    assert "What each foot plane must do" not in text
    svg = text[text.index("<svg") : text.index("</svg>") + 6]
    assert len(parts(svg, "shaft")) == 3
    assert parts(svg, "target") == []


def test_a_train_that_stands_beyond_any_scale_is_told_without_a_drawing(page):
    free = {"m0.foot0.down": "", "m0.foot1.sideways": "", "m0.foot0.x": "-90 m"}
    text = page(**(GEAR | free | {"c0.slope_h": "99", "c1.slope_h": "99"})).content.decode()
    assert "look for a slipped decimal" in text
    assert "What each foot plane must do" in text


def test_the_long_form_is_one_machine_after_another_folded(page):
    text = page(method="three").content.decode()
    assert text.count('<details class="fold"') == 5
    assert text.count('<details class="fold" open>') == 1, "the first one is to be filled first"
    assert "Machine 1, at the driver end: empty" in text
    filled = page(**GEAR).content.decode()
    assert '<details class="fold" open>' not in filled
    assert "Machine 2, next: gear" in filled
    wrong = page(**(GEAR | {"c1.x": ""})).content.decode()
    assert wrong.count('<details class="fold" open>') == 1


def test_whole_shims_and_probabilities_stand_in_the_tables(page):
    sure = {f"c{n}.{key}_u": "0.01" for n in (0, 1) for key in ("offset_v", "offset_h", "slope_v", "slope_h")}
    limits = {f"c{n}.limit_{key}": "0.05" for n in (0, 1) for key in ("offset", "angularity")}
    text = page(**(GEAR | sure | limits | {"shim_stock": "0.05", "confidence": "90 %"})).content.decode()
    assert "In whole shims" in text
    assert "in with a probability of" in text
    assert page(**(GEAR | limits | {"shim_stock": "0 mm"})).status_code == 422


def test_a_page_asked_in_one_way_has_its_units_switch_too(client, mechanic):
    client.force_login(mechanic)
    text = client.get("/calculations/shaft-torque/").content.decode()
    assert '<select name="units" aria-label="Units">' in text
    one = client.get("/calculations/key/", {"units": "us"}).content.decode()
    assert '<option value="us" selected>' in one
