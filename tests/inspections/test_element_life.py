"""Lives of elements: against independent programs on drawn data, the rules by number of failures, what is refused."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from lifelines import KaplanMeierFitter, WeibullFitter
from scipy import stats
from statsmodels.duration.survfunc import SurvfuncRight

from inspections.forecasting.legs import ForecastError
from inspections.forecasting.life import BOUND, COUNTS, FAMILY, OWN, bounded, by_itself, estimates
from inspections.forecasting.lives import EXACT, INTERVAL, LEFT, RIGHT, joined, kinds, lives
from inspections.forecasting.survival import survival_curve
from inspections.forecasting.weibull import family_shape, fit, fit_in_family, height, known_shape_scale, shape_prior
from inspections.forecasting.weibull_limits import (
    failing_within,
    least_scale,
    likelihood_limits,
    reaches_risk,
    wald_limits,
)

INF = math.inf


def drawn(seed, n=60, eta=900.0, beta=2.4):
    """Lives that end in failure or are cut off at a random age."""
    random = np.random.default_rng(seed)
    life, cut = eta * random.weibull(beta, n), random.uniform(200, 1400, n)
    return np.minimum(life, cut), life <= cut


def inspected(seed, n=50):
    """Lives seen only at looks: left, interval and right."""
    random = np.random.default_rng(seed)
    life = 900 * random.weibull(2.0, n)
    every = random.uniform(150, 400, n)
    looks = np.floor(life / every)
    ended = life < 1500
    return np.where(ended, looks * every, 1500), np.where(ended, (looks + 1) * every, INF)


@pytest.mark.parametrize("seed", range(5))
def test_right_censored_lives_agree_with_scipy(seed):
    """scipy.stats.weibull_min.fit on CensoredData is the independent route."""
    time, failed = drawn(seed)
    found = fit(lives(time, np.where(failed, time, INF)))
    data = stats.CensoredData(uncensored=time[failed], right=time[~failed])
    beta, _, eta = stats.weibull_min.fit(data, floc=0)
    assert (found.beta, found.eta) == pytest.approx((beta, eta), rel=1e-4)


@pytest.mark.parametrize("seed", range(5))
def test_inspected_lives_agree_with_scipy(seed):
    low, high = inspected(seed)
    found = fit(lives(low, high))
    ended = np.isfinite(high)
    # In thousands: its search starts at a scale of 1.
    data = stats.CensoredData(interval=np.column_stack([low, high])[ended] / 1000, right=low[~ended] / 1000)
    beta, _, eta = stats.weibull_min.fit(data, floc=0)
    assert (found.beta, found.eta / 1000) == pytest.approx((beta, eta), rel=2e-4)


@pytest.mark.parametrize("seed", range(3))
def test_counts_delayed_entry_and_errors_agree_with_lifelines(seed):
    """lifelines' WeibullFitter maximises with autograd: another route to estimate, errors and likelihood."""
    random = np.random.default_rng(seed)
    time, failed = drawn(seed, 80)
    entry = np.where(random.random(80) < 0.4, time * random.uniform(0.1, 0.8, 80), 0.0)
    count = random.integers(1, 4, 80)
    found = fit(lives(time, np.where(failed, time, INF), count, entry))
    other = WeibullFitter().fit(time, failed, entry=entry, weights=count)
    assert (found.eta, found.beta) == pytest.approx((other.lambda_, other.rho_), rel=1e-4)
    assert found.log_likelihood == pytest.approx(other.log_likelihood_, abs=1e-4)
    errors = found.eta * math.sqrt(found.covariance[0]), found.beta * math.sqrt(found.covariance[2])
    assert errors == pytest.approx(tuple(other.summary["se(coef)"]), rel=1e-3)


@pytest.mark.parametrize("seed", range(3))
def test_the_curve_agrees_with_lifelines_and_statsmodels(seed):
    time, failed = drawn(seed, 40)
    time = np.round(time, -1) + 10  # ties
    curve = survival_curve(lives(time, np.where(failed, time, INF)), 0.95)
    other = KaplanMeierFitter().fit(time, failed)
    assert curve.survival == pytest.approx(other.survival_function_at_times(curve.age).to_numpy(), abs=1e-12)
    limits = other.confidence_interval_survival_function_.loc[curve.age].to_numpy()
    assert np.column_stack([curve.low, curve.high])[:-1] == pytest.approx(limits[:-1], abs=1e-9)
    entry = time / 3
    late = survival_curve(lives(time, np.where(failed, time, INF), None, entry))
    third = SurvfuncRight(time, failed.astype(int), entry=entry)
    assert late.survival == pytest.approx(third.surv_prob, abs=1e-12)
    assert late.error[:-1] == pytest.approx(third.surv_prob_se[:-1], abs=1e-9)


@pytest.mark.parametrize("seed", range(3))
def test_the_observed_information_is_the_curvature_of_the_likelihood(seed):
    """Second differences of the likelihood itself are the independent route, for every kind of life at once."""
    low, high = inspected(seed, 30)
    time, failed = drawn(seed, 30)
    every = joined([lives(low, high), lives(time, np.where(failed, time, INF), None, time / 4)])
    found = fit(every)
    h = 1e-4

    def at(i, j):
        return height(every, found.log_eta + i * h, found.log_beta + j * h)

    middle = at(0, 0)
    a, c = (2 * middle - at(1, 0) - at(-1, 0)) / h**2, (2 * middle - at(0, 1) - at(0, -1)) / h**2
    b = -(at(1, 1) - at(1, -1) - at(-1, 1) + at(-1, -1)) / (4 * h**2)
    inverse = np.linalg.inv([[a, b], [b, c]])
    assert found.covariance == pytest.approx((inverse[0, 0], inverse[0, 1], inverse[1, 1]), rel=1e-3)


def test_a_life_between_two_close_looks_is_one_seen_to_the_day():
    time, failed = drawn(4)
    exact = fit(lives(time, np.where(failed, time, INF)))
    looks = fit(lives(np.where(failed, time * 0.9999, time), np.where(failed, time * 1.0001, INF)))
    assert (looks.eta, looks.beta) == pytest.approx((exact.eta, exact.beta), rel=1e-5)


@given(scale=st.floats(1e-3, 1e6), seed=st.integers(0, 50))
def test_another_unit_of_time_scales_ages_and_nothing_else(scale, seed):
    time, failed = drawn(seed, 30)
    one = fit(lives(time, np.where(failed, time, INF)))
    other = fit(lives(time * scale, np.where(failed, time * scale, INF)))
    assert other.eta / scale == pytest.approx(one.eta, rel=1e-5)
    assert other.beta == pytest.approx(one.beta, rel=1e-5)


def test_a_count_is_as_good_as_so_many_rows():
    low, high = [100, 300, 500, 600], [100, 400, INF, 600]
    counted = fit(lives(low, high, [2, 1, 3, 2]))
    spread = fit(lives(np.repeat(low, [2, 1, 3, 2]), np.repeat(high, [2, 1, 3, 2])))
    assert (counted.eta, counted.beta) == pytest.approx((spread.eta, spread.beta), rel=1e-6)
    assert counted.covariance == pytest.approx(spread.covariance, rel=1e-4)


def test_limits_by_likelihood_are_those_of_the_normal_law_where_there_is_much_to_learn_from():
    time, failed = drawn(1, 4000)
    found = fit(lives(time, np.where(failed, time, INF)))
    for of in ("eta", "beta", "b10"):
        assert likelihood_limits(found, of) == pytest.approx(wald_limits(found, of), rel=5e-3)


@pytest.mark.long
def test_limits_hold_what_they_say_with_five_failures():
    """500 drawn sets of 20 elements of which about five fail: nine in ten hold the truth, within three errors."""
    held = {"likelihood": 0, "n": 0}
    b10 = 1000 * (-math.log(0.9)) ** (1 / 2.5)
    for seed in range(500):
        random = np.random.default_rng(seed)
        life = 1000 * random.weibull(2.5, 20)
        failed = life < 620
        if failed.sum() < 3:
            continue
        found = fit(lives(np.minimum(life, 620), np.where(failed, life, INF)))
        low, high = likelihood_limits(found, "b10", 0.9)
        held["likelihood"] += low <= b10 <= high
        held["n"] += 1
    assert held["n"] > 400
    assert abs(held["likelihood"] / held["n"] - 0.9) < 3 * math.sqrt(0.09 / held["n"]) + 0.01


def test_a_prior_pulls_the_shape_and_a_firm_one_fixes_it():
    given_lives = lives([200, 300, 900, 900], [200, 300, INF, INF])
    alone, pulled = fit(given_lives).beta, fit(given_lives, shape_prior(4.0)).beta
    assert alone < pulled < 4
    firm = fit(given_lives, shape_prior(4.0, 1e-4))
    assert firm.beta == pytest.approx(4.0, rel=1e-3)
    assert firm.eta == pytest.approx(known_shape_scale(given_lives, 4.0), rel=1e-3)


def test_relatives_alike_narrow_the_shape():
    types = [lives(t, np.where(f, t, INF)) for t, f in (drawn(1, 12), drawn(2, 40), drawn(3, 40))]
    alone, family = fit(types[0]), fit_in_family(types[0], types[1:])
    assert family.covariance[2] < alone.covariance[2]
    assert family_shape([]).height(0.3) == 0


def test_a_bound_is_one_that_a_true_scale_rarely_undercuts():
    """Constructed: with eta at the bound, the chance of no failure is what is left of the confidence."""
    given_lives = lives([500, 800, 1200], [INF] * 3)
    eta = least_scale(given_lives, 2.2, 0.9)
    assert math.exp(-float(((given_lives.low / eta) ** 2.2).sum())) == pytest.approx(0.1, rel=1e-9)


def test_the_age_a_risk_allows_has_that_risk():
    ahead = reaches_risk([0, 400, 2000], 0.05, 900, 2.5)
    assert failing_within([0, 400, 2000], ahead, 900, 2.5) == pytest.approx([0.05] * 3, abs=1e-12)
    assert ahead[0] > ahead[1] > ahead[2] > 0


def test_each_type_gets_what_its_failures_and_its_family_allow():
    time, failed = drawn(5, 40)
    types = {
        "many": lives(time, np.where(failed, time, INF)),
        "few": lives([300, 700, 900], [300, 700, INF]),
        "none": lives([500, 600], [INF, INF]),
    }
    found = estimates(types)
    assert {name: one.basis for name, one in found.items()} == {"many": OWN, "few": FAMILY, "none": BOUND}
    assert found["many"].limits_by == "normal"
    assert found["few"].limits_by == "likelihood"
    low, high = found["few"].b10_limits
    assert low < found["few"].b10 < high
    assert found["none"].b10_limits is None
    assert found["none"].b10 < found["none"].eta
    assert found["none"].beta == pytest.approx(found["few"].beta, rel=0.2)


def test_a_family_with_two_failures_gets_counts_and_a_curve():
    found = estimates({"a": lives([300, 900], [300, INF]), "b": lives([400], [400])})
    assert {one.basis for one in found.values()} == {COUNTS}
    assert found["a"].b10 is None
    assert found["a"].curve.survival.tolist() == [0.5]
    assert not found["a"].open


def test_failures_all_at_one_age_leave_the_law_open():
    found = estimates({"a": lives([500] * 12, [500] * 12)})["a"]
    assert (found.basis, found.open) == (COUNTS, True)


def test_one_type_alone_is_estimated_by_what_is_believed_of_its_shape():
    given_lives = lives([300, 900], [300, INF])
    with pytest.raises(ForecastError):
        by_itself(lives([900], [INF]))
    assert by_itself(given_lives, shape_prior(2.5)).basis == FAMILY
    assert bounded(lives([900], [INF]), 2.5).b10 > 0


def test_kinds_of_lives_are_told_apart():
    given_lives = lives([5, 3, 0, 9], [5, 4, 6, math.nan])
    assert kinds(given_lives) == [EXACT, INTERVAL, LEFT, RIGHT]
    assert given_lives.failures == 3
    assert given_lives.observed == 5 + 4 + 6 + 9


@pytest.mark.parametrize(
    "columns, field",
    [
        (([-1], [2]), "low"), (([math.nan], [2]), "low"), (([INF], [INF]), "low"), (([3], [2]), "high"),
        (([0], [0]), "high"), (([1, 2], [2]), "high"), (([1], [2], [0]), "count"), (([1], [2], [math.nan]), "count"),
        (([1], [2], [1], [1.5]), "entry"), (([0], [2], [1], [1]), "entry"), (([2], [2], [1], [2]), "entry"),
        (([2], [3], [1], [-1]), "entry"),
    ],
)  # fmt: skip
def test_lives_that_cannot_be_are_refused_by_their_column(columns, field):
    with pytest.raises(ForecastError) as refused:
        lives(*columns)
    assert field in refused.value.errors


def test_what_asks_for_too_much_is_refused():
    found = fit(lives([300, 700, 900], [300, 700, INF]))
    for wrong in (lambda: likelihood_limits(found, "b50"), lambda: wald_limits(found, "eta", 1.0),
                  lambda: survival_curve(found.lives, 0), lambda: shape_prior(-1), lambda: fit(lives([1], [INF])),
                  lambda: least_scale(found.lives, 0), lambda: known_shape_scale(lives([1], [INF]), 2)):  # fmt: skip
        with pytest.raises(ForecastError):
            wrong()
