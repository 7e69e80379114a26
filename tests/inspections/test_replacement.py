"""Best ages, the band of the cost, when planned replacement is recommended, and how many elements will be needed."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from inspections.forecasting.legs import ForecastError
from inspections.forecasting.needs import Law, needed
from inspections.forecasting.replacement import at_stops, best_age, cost_rate, laws, replacement

SURE = (1e-12, 0.0, 1e-12)


@given(beta=st.floats(1.2, 8), ratio=st.floats(1.5, 50))
def test_no_other_age_costs_less(beta, ratio):
    age = float(best_age(1.0, beta, 1.0, ratio))
    others = np.geomspace(1e-3, 20, 400)
    least = float(cost_rate(age, 1.0, beta, 1.0, ratio))
    assert (cost_rate(others, 1.0, beta, 1.0, ratio) >= least * (1 - 1e-9)).all()


@given(beta=st.floats(1.3, 6), ratio=st.floats(2, 30))
def test_the_band_ends_where_the_cost_is_a_twentieth_above_its_least(beta, ratio):
    found = replacement(700.0, beta, 1.0, ratio)
    for end in found.band:
        if math.isfinite(end):
            assert float(cost_rate(end, 700.0, beta, 1.0, ratio)) == pytest.approx(found.cost * 1.05, rel=1e-6)
    assert found.band[0] < found.age <= found.band[1]


def test_the_cost_of_running_to_failure_is_that_of_an_endless_age():
    """Constructed: cost of a failure over the mean life, eta Gamma(1 + 1/beta)."""
    mean = 1000 * math.gamma(1 + 1 / 2.5)
    assert float(cost_rate(np.inf, 1000, 2.5, 1, 5)) == pytest.approx(5 / mean, rel=1e-12)


def test_planned_replacement_is_recommended_where_it_surely_saves():
    sure = replacement(1000, 3, 1, 10, (0.01, 0.0, 0.01))
    assert sure.recommended
    assert sure.saving_low > 0.1
    assert sure.ages[0] < sure.age < sure.ages[2]
    assert replacement(1000, 3, 1, 10, (0.01, 0.0, 1.5)).recommended is False  # it may not wear at all
    assert replacement(1000, 3, 1, 1.1, (0.01, 0.0, 0.01)).recommended is False  # a failure costs hardly more
    assert replacement(1000, 3, 1, 10).recommended is None


def test_the_lower_limit_of_the_shape_that_is_given_decides():
    assert replacement(1000, 3, 1, 10, (0.01, 0.0, 0.01), beta_low=0.9).recommended is False


def test_the_draws_are_those_of_the_covariance():
    eta, beta = laws(1000, 2, (0.04, 0.01, 0.09), 20_000)
    found = np.cov(np.log(eta), np.log(beta))
    assert found == pytest.approx(np.array([[0.04, 0.01], [0.01, 0.09]]), abs=3e-3)
    assert np.log(eta).mean() == pytest.approx(math.log(1000), abs=1e-12)


def test_the_age_snaps_to_the_cheaper_of_the_two_stops_beside_it():
    # The curve rises more steeply towards young ages.
    assert at_stops(493, [300, 600, 2000], 1000, 2.5, 1, 5) == 600
    assert at_stops(493, [450, 900], 1000, 2.5, 1, 5) == 450
    assert at_stops(493, [900], 1000, 2.5, 1, 5) == 900
    assert at_stops(493, [], 1000, 2.5, 1, 5) is None
    assert at_stops(math.inf, [10.0], 1000, 0.8, 1, 5) is None


def test_elements_without_wear_are_needed_at_a_steady_rate():
    """Constructed: at beta 1 renewals are a Poisson process, mean n t / eta and as large a variance."""
    found = needed(np.full(200, 50.0), 1.0, [90, 365], Law(1000, 1.0, SURE), 0, 0)
    assert [one.expected for one in found] == pytest.approx([18, 73], rel=0.05)
    half = 1.645 * math.sqrt(73)
    assert (found[1].low, found[1].high) == pytest.approx((73 - half, 73 + half), abs=2.5)


def test_elements_that_are_all_near_their_end_are_needed_now():
    law = Law(1000, 60.0, SURE)
    young, old = (needed(np.full(10, age), 1.0, [100], law, 0, 0)[0].expected for age in (100.0, 980.0))
    assert young < 0.1
    assert old > 9


def test_a_standing_machine_needs_none_and_a_planned_age_brings_them_forward():
    law = Law(1000, 3.0, SURE)
    assert needed([900.0], 0.0, [365], law, 0, 0)[0].expected == 0
    assert needed([600.0], 1.0, [30], law, 0, 0, planned_age=500)[0].expected == pytest.approx(1, abs=0.05)


def test_other_removals_come_at_the_rate_at_which_they_came():
    """Constructed: 20 in 10,000 element-days, ten running for 100 days: about 2, more spread than Poisson's."""
    found = needed(np.zeros(10), 1.0, [100], None, 20, 10_000)[0]
    assert found.expected == pytest.approx(20.5 / 10_000 * 10 * 100, rel=0.15)
    assert found.low == 0
    assert found.high >= 5


def test_the_same_records_give_the_same_figures():
    asked = ([10.0, 500.0], [1.0, 0.5], [90, 180, 365], Law(800, 2.0, (0.02, 0.0, 0.05)), 2, 900)
    assert needed(*asked) == needed(*asked)
    spread = needed(*asked)
    assert [one.expected for one in spread] == sorted(one.expected for one in spread)


def test_what_cannot_be_is_refused():
    law = Law(800, 2.0, SURE)
    for wrong in (
        lambda: needed([-1], 1, [10], law, 0, 0), lambda: needed([1], 1, [10, 5], law, 0, 0),
        lambda: needed([1], 1, [], law, 0, 0), lambda: needed([1], math.nan, [10], law, 0, 0),
        lambda: needed([1], 1, [10], law, -1, 0), lambda: best_age(1, 2, 0, 5), lambda: best_age(1, 2, 1, math.inf),
        lambda: replacement(math.nan, 2, 1, 5), lambda: laws(1, 2, (1, 5, 1)),
    ):  # fmt: skip
        with pytest.raises(ForecastError):
            wrong()
