"""The calculation of drift through the registry: the published hand case, what is refused, the page."""

import pytest

from plant import calculations
from plant.refusals import Refused

DAY, YEAR = 1.0, 365.25


def mm(value, unit="mm"):
    return {"value": value, "unit": unit}


def at(v):
    """The same figure in every component: millimetres and mm/m."""
    return {
        "offset": {"vertical": mm(v), "horizontal": mm(v)},
        "angularity": {"vertical": mm(v, "mm/m"), "horizontal": mm(v, "mm/m")},
    }


def leg(years, left, found):
    made = {"elapsed": mm(years * YEAR, "day"), "found": at(found)}
    return made if left is None else {**made, "left": at(left)}


def asked(**more):
    return {
        "legs": [leg(1, 0.0, 0.010), leg(2, 0.0, 0.026)],
        "left": at(0.005),
        "standard_uncertainty": {"offset": mm(0.0014142135623730951), "angularity": mm(0.0014142135623730951, "mm/m")},
        "limits": {"offset": mm(0.5), "angularity": mm(0.5, "mm/m")},
        "group": {
            "rate": {"offset": mm(0.01), "angularity": mm(0.01, "mm/m")},
            "wander": {"offset": mm(0.002), "angularity": mm(0.002, "mm/m")},
        },
    } | more


def refused(payload):
    with pytest.raises(Refused) as refusal:
        calculations.run("drift", payload, "metric")
    return refusal.value.as_dict()


def test_the_rate_is_the_conjugate_posterior():
    """Constructed: case drift-posterior-hand in thousandths, mean 11.9217 and variance 2.13523 by the formula there."""
    answer = calculations.run("drift", asked(), "metric")
    for name, unit in (("offset", "mm"), ("angularity", "mm/m")):
        assert answer["rate_per_year"][name]["vertical"]["unit"].startswith(unit)
        assert answer["rate_per_year"][name]["vertical"]["value"] == pytest.approx(0.0119217081850, rel=1e-6)
        assert answer["rate_spread_per_year"][name]["horizontal"]["value"] == pytest.approx(
            2.135231316725979**0.5 / 1000, rel=1e-6
        )
    assert answer["jumps"] == []


def test_a_tight_limit_is_reached_sooner_and_an_accepted_risk_later():
    def due(**more):
        return calculations.run("drift", asked(shortest=mm(1, "day"), **more), "metric")["due_after"]["value"]

    tight = {"limits": {"offset": mm(0.03), "angularity": mm(0.03, "mm/m")}}
    assert due(**tight, risk=0.02) < due(**tight, risk=0.2) < due()


def test_a_leg_unlike_the_others_is_asked_about():
    legs = [leg(1, 0.0, 0.001), leg(1, 0.0, -0.001), leg(1, 0.0, 0.3), leg(1, 0.0, 0.001)]
    answer = calculations.run("drift", asked(legs=legs), "metric")
    assert [one["leg"] for one in answer["jumps"]] == [2]


def test_without_a_group_a_weak_prior_serves():
    payload = asked()
    del payload["group"]
    answer = calculations.run("drift", payload, "us")
    assert answer["prior"].startswith("weak prior")
    assert answer["forecast"][0]["low"] <= answer["forecast"][0]["tolerance_used"] <= answer["forecast"][0]["high"]


def test_a_leg_where_nothing_was_moved_starts_where_the_one_before_ended():
    legs = [leg(1, 0.0, 0.01), leg(1, None, 0.02)]
    payload = asked(legs=legs)
    del payload["left"]
    assert calculations.run("drift", payload, "metric")["rate_per_year"]["offset"]["vertical"]["value"] > 0


def test_what_cannot_be_is_refused_field_by_field():
    assert set(refused({})) == {"legs", "standard_uncertainty", "limits"}
    first = {"elapsed": mm(-5, "day"), "found": at(0.1)}
    assert set(refused(asked(legs=[first], risk=2))) == {"legs.0.elapsed", "legs.0.left", "risk"}
    wrong = asked(limits={"offset": mm(0), "angularity": mm(1)})
    assert set(refused(wrong)) == {"limits.offset", "limits.angularity"}
    assert set(refused(asked(left={}))) == {"left"}
    assert "legs.0.found.offset.vertical" in refused(asked(legs=[leg(1, 0.0, float("nan"))]))
    assert set(refused(asked(shortest=mm(50, "day"), longest=mm(40, "day")))) == {"longest"}


@pytest.mark.django_db
def test_the_page_takes_four_numbers_a_position_and_draws_the_forecast(client, engineer):
    client.force_login(engineer)
    typed = {
        "leg0.elapsed": "180", "leg0.left": "0; 0; 0; 0", "leg0.found": "0.02; x; 0.05; 0.01", "left": "0; 0; 0; 0",
        "u_offset": "0.005", "u_slope": "0.02", "limit_offset": "0.05", "limit_slope": "0.3",
    }  # fmt: skip
    answer = client.get("/calculations/drift/", typed)
    assert answer.status_code == 200
    assert "<svg" in answer.content.decode()
    answer = client.get("/calculations/drift/", {**typed, "leg0.found": "0.02; 0.1"})
    assert answer.status_code == 422
    assert "Four numbers are expected" in answer.content.decode()
