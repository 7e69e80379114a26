"""Drift, first passage and improbable legs against published and independently computed values."""

import json
import math
from pathlib import Path

import numpy as np
import pytest
from scipy import integrate, optimize, stats
from statsmodels.datasets import nile

from inspections.forecasting.drift import chains, filtered, log_likelihood
from inspections.forecasting.envelope import round_limits
from inspections.forecasting.forecast import chance_by
from inspections.forecasting.groups import fit_group
from inspections.forecasting.jumps import IMPROBABLE, unexplained
from inspections.forecasting.legs import Legs, Standing
from inspections.forecasting.parameters import GroupFit, at_couplings
from inspections.forecasting.passage import draws, exceedance, first_passage
from inspections.forecasting.posterior import Belief, ahead, fleet_beliefs

PATH = Path(__file__).parents[2] / "fixtures" / "reference" / "drift.json"
CASES = {case["id"]: case for case in json.loads(PATH.read_text(encoding="utf-8"))["cases"]}
RUN = set()


def given(*ids):
    RUN.update(ids)
    return pytest.mark.parametrize("case", [CASES[i] for i in ids], ids=ids)


def agrees(case, got):
    expected = np.atleast_1d(case["expected"])
    allowed = case["tolerance"]["abs"] + case["tolerance"]["rel"] * np.abs(expected)
    assert np.all(np.abs(np.atleast_1d(got) - expected) <= allowed), f"{case['id']}: {got} against {expected}"


def legs(moves, years, noise, *, coupling=None, shared=False, components=4):
    """Legs whose moves are given; the noise is the variance of each of the two readings."""
    moves = np.asarray(moves, dtype=float)
    n = len(moves)
    moves = np.repeat(moves[:, None], components, axis=1) if moves.ndim == 1 else moves
    variance = np.broadcast_to(np.asarray(noise, dtype=float), (n, 4)).copy()
    tied = np.zeros(n, dtype=bool)
    if shared:
        tied[1:] = True
    which = np.zeros(n, dtype=np.int64) if coupling is None else np.asarray(coupling)
    index = np.arange(n)
    return Legs(
        which, np.asarray(years, dtype=float) * 365.25, np.full(n, np.nan), np.zeros((n, 4)), moves, variance,
        variance.copy(), tied, np.zeros((n, 4)), index, index + 1,
    )  # fmt: skip


def group(rate=0.0, tau2=0.0, q=1.0, jumps=0.0, jump=0.0):
    four = lambda value: tuple(np.broadcast_to(np.asarray(value, dtype=float), (4,)))  # noqa: E731
    return GroupFit(four(rate), four(0.0), four(tau2), four(q), jumps, four(jump))


def posterior(inputs):
    found = legs(inputs["move"], inputs["dt"], inputs["r2_left"])
    standing = Standing(np.full((1, 4), 5.0), np.full((1, 4), 2.0), np.zeros(1), np.zeros(1), np.zeros(1, dtype=bool))
    fit = group(inputs["m"], inputs["tau2"], inputs["q"])
    return fleet_beliefs(found, standing, at_couplings([fit], [0]))[0]


def nile_likelihood(r2, q):
    volumes = np.asarray(nile.load().data["volume"], dtype=float)
    # Every reading ends one leg and starts the next; the year is the step.
    found = legs(np.diff(volumes), np.ones(99), r2, shared=True)
    return float(log_likelihood(filtered(chains(found), q), 0.0, 0.0)[0, 0])


@given("drift-nile-loglik")
def test_readings_shared_by_consecutive_legs_give_the_likelihood_of_the_local_level_model(case):
    agrees(case, nile_likelihood(case["inputs"]["r2"], case["inputs"]["q"]))


@given("drift-nile-mle")
def test_its_maximum_is_the_published_one(case):
    found = optimize.minimize(
        lambda logs: -nile_likelihood(*np.exp(logs)), np.log([10_000, 1000]), method="Nelder-Mead",
        options={"xatol": 1e-6, "fatol": 1e-9},
    )  # fmt: skip
    agrees(case, np.exp(found.x))


@given("drift-posterior-hand")
def test_the_posterior_of_a_rate_is_the_conjugate_one(case):
    """Constructed: by hand from the normal-normal formula in `source`."""
    belief = posterior(case["inputs"])
    agrees(case, [belief.rate[0, 0], belief.rate_variance[0, 0]])


@given("drift-forecast-hand")
def test_the_forecast_adds_start_rate_diffusion_and_reading(case):
    """Constructed: by hand from the formula in `source`."""
    mean, variance = ahead(posterior(CASES["drift-posterior-hand"]["inputs"]), np.array([case["inputs"]["T"]]), 2.0)
    agrees(case, [mean[0, 0], variance[0, 0]])


@given("drift-gaas-eb")
def test_group_parameters_of_the_laser_data_are_those_of_a_mixed_model(case):
    """Data published (Meeker and Escobar 1998), figures from statsmodels' MixedLM: an independent route."""
    increments = np.array(case["inputs"]["increments"])
    units, each = increments.shape
    # In units of 1e-3 %/h and 1e-4 %^2/h the interval is 0.25 and q ten times what is printed.
    found = legs(
        increments.ravel(), np.full(increments.size, 0.25), 0.0, coupling=np.repeat(np.arange(units), each)
    )  # fmt: skip
    fit = fit_group(found, None, by_hours=False)
    agrees(case, [fit.rate[0], math.sqrt(fit.rate_variance[0]), fit.diffusion[0] * 10])


@given("fpt-ig")
def test_first_passage_at_a_known_rate_is_the_inverse_gaussian_law(case):
    """Constructed: scipy's invgauss is the independent route, here computed again."""
    d, v, q, t = (np.asarray(case["inputs"][name]) for name in ("d", "v", "q", "t"))
    got = first_passage(d, v, 0.0, q, t)
    agrees(case, got)
    shape = d**2 / q
    assert got == pytest.approx(stats.invgauss(d / v / shape, scale=shape).cdf(t), abs=1e-10)


@given("fpt-random-drift")
def test_first_passage_at_an_uncertain_rate_is_the_mean_over_rates(case):
    """Constructed: quadrature of the law at known rates is the independent route, here computed again."""
    d, v, spread, q, t = (np.asarray(case["inputs"][name]) for name in ("d", "v", "v_var", "q", "t"))
    got = first_passage(d, v, spread, q, t)
    agrees(case, got)
    law = stats.norm(v, math.sqrt(spread))
    for time, value in zip(t, got, strict=True):
        mean = integrate.quad(lambda one, time=time: law.pdf(one) * first_passage(d, one, 0.0, q, time), -6, 10)[0]
        assert value == pytest.approx(mean, abs=1e-8)


@given("fpt-reflection")
def test_first_passage_without_a_rate_is_twice_the_end_point(case):
    """Constructed: the reflection principle."""
    i = case["inputs"]
    agrees(case, first_passage(i["d"], i["v"], 0.0, i["q"], i["t"]))


@given("fpt-envelope")
def test_vector_limits_are_left_as_often_as_brute_force_says(case):
    """Constructed: 20,000 paths in steps of 1/800 year, an independent simulation."""
    i = case["inputs"]
    column = lambda name: np.array(i[name], dtype=float)[:, None]  # noqa: E731
    zero = np.zeros((4, 1))
    belief = Belief(
        column("x"), np.full((4, 1), i["r2"]), column("v"), column("v_var"), zero, zero, column("q"), zero,
        np.zeros(1), np.array([1]), np.ones(1),
    )  # fmt: skip
    limits = round_limits(np.array([i["lim_off"]]), np.array([i["lim_ang"]]))
    times, chance = exceedance(belief, limits, np.array([3.0]), draws(2048))
    agrees(case, [float(chance_by(times, chance, np.array([t]))[0]) for t in i["t"]])


@given("flag-chi2")
def test_a_leg_is_improbable_from_the_tabulated_distance_on(case):
    agrees(case, stats.chi2(case["inputs"]["components"]).sf(case["inputs"]["D2"]))
    assert case["expected"] == IMPROBABLE
    # The rule itself: one component that misses by the square root of the table's figure.
    parameters = at_couplings([group(q=1.0)], [0])
    for factor, flagged in ((0.999, False), (1.001, True)):
        move = [[math.sqrt(case["inputs"]["D2"]) * factor, 0, 0, 0]]
        found = unexplained(legs(move, [1.0], 0.0), np.ones(1), parameters)
        assert found.flagged.tolist() == [flagged]


@given("flag-hand")
def test_a_leg_is_predicted_from_the_others_of_its_coupling(case):
    """Constructed: by hand from the formula in `source`."""
    i = case["inputs"]
    parameters = at_couplings([group(i["m"], i["tau2"], i["q"])], [0])
    found = unexplained(legs(i["move"], i["dt"], i["r2"]), np.array(i["dt"], dtype=float), parameters)
    assert found.flagged.tolist() == [False, False, True]
    assert found.largest[2] == 0
    # Widened, the leg still tells the same of itself.
    agrees(case, found.probability[2])


def test_every_case_of_drift_is_run():
    assert set(CASES) == RUN
