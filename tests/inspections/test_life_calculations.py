"""Conformity, life of elements and replacement age through the registry, the API and their pages."""

import math
import re

import pytest

from inspections.calculations.lines import numbers
from plant import calculations
from plant.drawings.curve import Curve, curve_plot
from plant.refusals import Refused
from plant.units import UnitError


def hours(value):
    return {"value": value, "unit": "hour"}


def life(age, ended="failed", **more):
    return {"age": hours(age), "ended": ended, **more}


def refused(name, payload):
    with pytest.raises(Refused) as refusal:
        calculations.run(name, payload, "metric")
    return refusal.value.as_dict()


def test_the_published_test_of_twenty_units_comes_out():
    """NIST/SEMATECH e-Handbook 8.4.1.3: shape 1.7207, scale 606.528 hours; ten failed, ten running at 500."""
    failed = [54, 187, 216, 240, 244, 335, 361, 373, 375, 386]
    payload = {"lives": [*(life(one) for one in failed), life(500, "running", count=10)]}
    answer = calculations.run("element-life", payload, "metric")
    assert answer["shape"] == pytest.approx(1.7207, abs=2e-4)
    assert answer["scale"]["value"] == pytest.approx(606.528, abs=2e-3)
    assert (answer["elements"], answer["failures"], answer["basis"]) == (20, 10, "own")
    assert answer["survival"][-1]["survival"] == pytest.approx(0.5)
    low, high = (one["value"] for one in answer["b10_limits"])
    assert low < answer["b10"]["value"] < high


def test_days_are_ages_too():
    payload = {"lives": [{"age": {"value": 1, "unit": "day"}, "ended": "failed"}, life(30), life(50)]}
    assert calculations.run("element-life", payload, "metric")["survival"][0]["age"]["value"] == 24


def test_few_failures_are_counted_and_not_fitted():
    answer = calculations.run("element-life", {"lives": [life(900), life(1200), life(2000, "running")]}, "metric")
    assert answer["basis"] == "counts"
    assert answer["b10"] is None
    assert "too few" in answer["says"]


def test_no_failure_gives_a_bound_by_the_shape_of_the_family():
    """Constructed: by hand from (sum t^beta / -ln(1 - C))^(1/beta)."""
    payload = {"lives": [life(1000, "running", count=10)], "family_shape": 2, "confidence": 0.9}
    answer = calculations.run("element-life", payload, "metric")
    assert answer["at_least"]
    assert answer["scale"]["value"] == pytest.approx(math.sqrt(10e6 / math.log(10)), rel=1e-6)


def test_lives_that_cannot_be_are_refused_field_by_field():
    found = refused("element-life", {"lives": [
        life(-1), {"age": hours(5)}, life(100, "found-failed", sound_at=hours(100)), life(100, sound_at=hours(50)),
        life(100, count=1.5), life(100, entry=hours(200)), life(float("nan")),
        {"age": {"value": 3, "unit": "mm"}, "ended": "failed"},
    ]})  # fmt: skip
    assert set(found) == {
        "lives.0.age", "lives.1.ended", "lives.2.sound_at", "lives.3.sound_at", "lives.4.count", "lives.5.entry",
        "lives.6.age", "lives.7.age",
    }  # fmt: skip


def test_the_best_age_of_a_published_test_comes_out():
    """Open-source package test: eta 1000, beta 2.5, costs 1 and 5: 493.185 from a grid, cost 0.0034620429."""
    payload = {"scale": hours(1000), "shape": 2.5, "planned_cost": 1, "unplanned_cost": 5}
    answer = calculations.run("replacement-age", payload, "us")
    assert answer["age"]["value"] == pytest.approx(493.185, rel=4e-4)
    assert answer["cost_per_1000_hours"] == pytest.approx(3.4620429, rel=1e-6)
    assert answer["recommended"] is None
    low, high = (one["value"] for one in answer["band"])
    assert low < 493 < high


def test_what_does_not_wear_is_run_to_failure():
    answer = calculations.run(
        "replacement-age", {"scale": hours(1000), "shape": 0.9, "planned_cost": 1, "unplanned_cost": 5}, "metric"
    )
    assert (answer["age"], answer["run_to_failure"], answer["saving"]) == (None, True, 0)


def test_costs_and_stops_that_cannot_be_are_refused_field_by_field():
    found = refused("replacement-age", {
        "scale": hours(0), "shape": 50, "planned_cost": -1, "unplanned_cost": float("inf"), "stops": [hours(-5)],
    })  # fmt: skip
    assert set(found) == {"scale", "shape", "planned_cost", "unplanned_cost", "stops.0"}


def mm(value):
    return {"value": value, "unit": "mm"}


def test_a_value_in_its_guard_band_is_too_close_to_call():
    answer = calculations.run(
        "conformity", {"of": "gap", "value": mm(0.045), "standard_uncertainty": mm(0.005), "upper": mm(0.05)}, "metric"
    )
    assert answer["verdict"] == "too close to call"
    assert answer["guard_band"]["value"] == pytest.approx(1.645 * 0.005, rel=1e-3)
    # One standard uncertainty inside: Phi(1), 0.8413 in any table of the normal law.
    assert answer["probability_of_conformity"] == pytest.approx(0.8413, abs=5e-5)


def test_a_resultant_is_judged_as_a_vector():
    """Constructed: 0.9879 by two million draws; one figure of the same length would say 0.9899."""
    parts = [{"value": mm(one), "standard_uncertainty": mm(6)} for one in (30, 20)]
    answer = calculations.run("conformity", {"of": "gap", "components": parts, "upper": mm(50)}, "metric")
    assert answer["probability_of_conformity"] == pytest.approx(0.98792, abs=6e-4)


def test_limits_that_leave_no_room_are_said_to():
    answer = calculations.run(
        "conformity",
        {"of": "gap", "value": mm(1), "standard_uncertainty": mm(1), "lower": mm(0.5), "upper": mm(1.5)},
        "metric",
    )
    assert answer["acceptance"] == {"lower": None, "upper": None, "exists": False}


def test_limits_that_cannot_be_are_refused_field_by_field():
    base = {"of": "gap", "value": mm(1), "standard_uncertainty": mm(0.1)}
    assert set(refused("conformity", base)) == {"upper"}
    assert set(refused("conformity", {**base, "lower": mm(2), "upper": mm(1)})) == {"upper"}
    assert set(refused("conformity", {**base, "upper": {"value": 3, "unit": "N*m"}})) == {"upper"}
    parts = [{"value": mm(1), "standard_uncertainty": mm(1)}]
    assert set(refused("conformity", {"of": "gap", "components": parts, "upper": mm(2)})) == {"components"}


@pytest.mark.parametrize(
    "text, expected",
    [
        ("9100; 3 x 12000", [(9100, None, 1, None), (12000, None, 3, None)]),
        ("12000-16000;500 to 700", [(16000, 12000, 1, None), (700, 500, 1, None)]),
        ("26000 from 9000", [(26000, None, 1, 9000)]),
        ("0,5 ; ", [(0.5, None, 1, None)]),
    ],
)
def test_many_ages_are_read_from_one_line(text, expected):
    assert [(one.last, one.first, one.count, one.entry) for one in numbers(text, spans=True)] == expected


@pytest.mark.parametrize("text", ["12 h", "12 13", "x", "3 x", "12-"])
def test_a_line_that_is_not_clear_is_refused(text):
    with pytest.raises(UnitError):
        numbers(text, spans=True)


@pytest.mark.django_db
def test_the_page_keeps_what_was_typed_and_draws_the_curve(client, engineer):
    client.force_login(engineer)
    typed = {"failed": "9100; 14500; 18200", "found": "12000-16000", "running": "6 x 20000", "unit": "hour"}
    page = client.get("/calculations/element-life/", typed).content.decode()
    assert "<svg" in page
    assert "4 of 10 failed" in page
    assert 'value="12000-16000"' in page
    page = client.get("/calculations/element-life/", {"failed": "9100; many"})
    assert page.status_code == 422
    assert "is not a number" in page.content.decode()
    wrong = client.get("/calculations/element-life/", {"failed": "900", "found": "500-300"})
    assert wrong.status_code == 422
    assert re.search(r"this age must be the smaller", wrong.content.decode())


@pytest.mark.django_db
def test_the_api_answers_and_refuses_with_pointers(client, engineer):
    client.force_login(engineer)
    example = dict(calculations.get("replacement-age").example)
    found = client.post("/api/v1/calculations/replacement-age/", example, content_type="application/json")
    assert found.status_code == 200
    assert found.json()["recommended"] is True
    refused = client.post(
        "/api/v1/calculations/replacement-age/", {**example, "shape": "NaN"}, content_type="application/json"
    )
    assert refused.status_code == 422
    assert "shape" in str(refused.json())


def test_a_step_goes_level_and_then_down():
    svg = curve_plot(Curve(10, 1, [(0, 1), (5, 0.5), (10, 0.5)], steps=True, percent=True), "survival")
    points = re.search(r'class="plot" points="([^"]+)"', svg).group(1).split()
    assert [one.split(",")[0] for one in points[:3]] == ["46", "177", "177"]
    assert points[1].split(",")[1] == points[0].split(",")[1]


def test_a_curve_without_a_scale_is_refused():
    with pytest.raises(ValueError, match="above zero"):
        curve_plot(Curve(0, 1), "nothing")
