"""Probabilities against closed forms of scipy and against large seeded draws."""

import math

import numpy as np
import pytest
from scipy import stats

from couplings.engineering.probability import Region, in_disc, inside, length_quantile


@pytest.mark.parametrize("mean", [0.0, 0.4, 0.95, 1.0, 1.3, 4.0])
@pytest.mark.parametrize("u", [1e-6, 0.02, 0.3, 5.0])
def test_one_component_is_the_normal_law(mean, u):
    expected = stats.norm.cdf((1 - mean) / u) - stats.norm.cdf((-1 - mean) / u)
    spread = np.array([[u**2]])
    assert in_disc((mean,), spread, 1.0) == pytest.approx(expected, abs=1e-12)
    assert inside(np.array([mean]), spread, Region(((0,),))) == pytest.approx(expected, abs=1e-12)


@pytest.mark.parametrize("mean", [0.0, 0.5, 0.97, 1.2])
@pytest.mark.parametrize("u", [0.01, 0.1, 0.5, 3.0])
def test_a_round_spread_is_the_non_central_chi_square_law(mean, u):
    expected = stats.ncx2.cdf(1 / u**2, 2, (mean / u) ** 2) if mean else stats.chi2.cdf(1 / u**2, 2)
    spread = np.eye(2) * u**2
    centre = np.array([mean * 0.6, mean * 0.8])
    assert in_disc(tuple(centre), spread, 1.0) == pytest.approx(expected, abs=1e-9)
    assert inside(centre, spread, Region(((0, 1),))) == pytest.approx(expected, abs=1e-5)


@pytest.mark.parametrize("u", [(0.2, 0.2), (0.5, 0.01), (0.3, 1e-5), (0.01, 2.0)])
@pytest.mark.parametrize("lean", [0.0, 0.9, -0.999])
def test_an_oval_spread_agrees_with_draws(u, lean):
    cross = lean * u[0] * u[1]
    spread = np.array([[u[0] ** 2, cross], [cross, u[1] ** 2]])
    mean = (0.7, 0.4)
    root = np.array([[u[0], 0.0], [lean * u[1], math.sqrt(1 - lean**2) * u[1]]])
    draws = np.random.default_rng(11).normal(size=(400_000, 2)) @ root.T + mean
    expected = np.mean((draws**2).sum(axis=1) <= 1)
    # 400,000 draws: standard deviation at most 0.0008.
    assert in_disc(mean, spread, 1.0) == pytest.approx(expected, abs=0.0032)
    assert inside(np.array(mean), spread, Region(((0, 1),))) == pytest.approx(in_disc(mean, spread, 1.0), abs=1e-4)


def test_no_spread_is_a_plain_comparison():
    nothing = np.zeros((2, 2))
    assert in_disc((0.6, 0.8), nothing, 1.0) == 1.0
    assert in_disc((0.6, 0.81), nothing, 1.0) == 0.0
    assert inside(np.array([0.6, 0.8]), nothing, Region(((0, 1),))) == 1.0
    assert in_disc((0.1, 0.1), nothing, 0.0) == 0.0


@pytest.mark.parametrize("share", [0.05, 0.5, 0.95])
def test_a_length_stays_below_its_quantile_as_often_as_said(share):
    spread = np.array([[0.04, 0.01], [0.01, 0.02]])
    r = length_quantile((0.3, -0.2), spread, share)
    assert in_disc((0.3, -0.2), spread, r) == pytest.approx(share, abs=1e-7)
    assert length_quantile((0.3, 0.4), np.zeros((2, 2)), share) == pytest.approx(0.5)


def independent(means: list[float], us: list[float]) -> float:
    return float(
        np.prod([stats.norm.cdf((1 - m) / u) - stats.norm.cdf((-1 - m) / u) for m, u in zip(means, us, strict=True)])
    )


@pytest.mark.parametrize("means", [[0.0, 0, 0, 0, 0], [0.9, 0.2, 0.5, -0.7, 0.1], [0.95] * 5, [1.3, 0, 0, 0, 0]])
@pytest.mark.parametrize("u", [0.03, 0.2, 0.6])
@pytest.mark.parametrize("size", [2, 3, 4, 5])
def test_independent_strips_multiply(means, u, size):
    means, us = means[:size], [u * (1 + 0.1 * n) for n in range(size)]
    region = Region(tuple((n,) for n in range(size)))
    found = inside(np.array(means), np.diag(np.square(us)), region)
    assert found == pytest.approx(independent(means, us), abs=2e-4 if size > 2 else 1e-5)


@pytest.mark.parametrize("means", [[0.9, 0.0, 0.0, 0.6], [0.2, 0.9, 0.7, 0.5], [0.0, 0.0, 0.0, 0.0]])
@pytest.mark.parametrize("u", [0.05, 0.3, 1.0])
def test_independent_discs_multiply(means, u):
    found = inside(np.array(means), np.eye(4) * u**2, Region(((0, 1), (2, 3))))
    lengths = [math.hypot(*means[:2]), math.hypot(*means[2:])]
    expected = math.prod(stats.ncx2.cdf(1 / u**2, 2, max((r / u) ** 2, 1e-12)) for r in lengths)
    assert found == pytest.approx(expected, abs=2e-4)


def test_dependent_limits_and_a_sum_of_ratios_agree_with_draws():
    generator = np.random.default_rng(3)
    for _ in range(5):
        mix = generator.normal(0, 0.25, (5, 4))
        mean = generator.uniform(-0.4, 0.4, 5)
        draws = generator.normal(size=(400_000, 4)) @ mix.T + mean
        lengths = [np.hypot(draws[:, 0], draws[:, 1]), np.hypot(draws[:, 2], draws[:, 3]), np.abs(draws[:, 4])]
        each = np.all([r <= 1 for r in lengths], axis=0)
        summed = each & (sum(lengths) <= 1)
        largest = each & (np.maximum(lengths[0], lengths[1]) + lengths[2] <= 1)
        discs = ((0, 1), (2, 3), (4,))
        for kept, groups in (
            (each, ()),
            (summed, (((0, 1),), ((2, 3),), ((4,),))),
            (largest, (((0, 1), (2, 3)), ((4,),))),
        ):
            found = inside(mean, mix @ mix.T, Region(discs, groups))
            # 400,000 draws: standard deviation at most 0.0008.
            assert found == pytest.approx(float(np.mean(kept)), abs=0.0032)


def test_the_same_question_has_the_same_answer():
    mean, spread = np.array([0.5, 0.2, 0.1, 0.4]), np.eye(4) * 0.1
    region = Region(((0, 1), (2, 3)))
    assert inside(mean, spread, region) == inside(mean, spread, region)
