"""Drift of a fleet: the filter against joint normals and an oracle, kept states, groups, clocks, jumps."""

import numpy as np
import pytest
from scipy import stats

from inspections.forecasting.drift import (
    Filtered,
    advanced,
    chains,
    clock_years,
    filtered,
    leg_place,
    log_likelihood,
    nothing,
)
from inspections.forecasting.envelope import round_limits
from inspections.forecasting.groups import fit_group, grouped, weak_prior
from inspections.forecasting.jumps import left_out, unexplained
from inspections.forecasting.legs import ForecastError, Legs, Standing
from inspections.forecasting.parameters import GroupFit, at_couplings
from inspections.forecasting.posterior import believed, fleet_beliefs

PRIOR = weak_prior(0.075, 0.075)
FIT = GroupFit(
    (0.004, -0.002, 0.001, 0.0), (1e-6,) * 4, (3e-4, 2e-4, 1e-4, 1e-4), (1.4e-4, 1e-4, 6e-5, 5e-5), 0.02, (1e-3,) * 4
)  # fmt: skip


def fleet(n, seed=5, most=5, fit=FIT, reading=6e-3, hours=None):
    """Legs drawn from the model; half of the readings are carried over to the next leg."""
    rng = np.random.default_rng(seed)
    count = rng.integers(1, most + 1, n)
    coupling = np.repeat(np.arange(n), count)
    total = len(coupling)
    first = np.append(True, np.diff(coupling) > 0)
    years = rng.uniform(0.3, 2.0, total)
    clock = years if hours is None else hours(rng, coupling, years)
    rate = np.array(fit.rate) + rng.normal(size=(n, 4)) * np.sqrt(fit.rate_variance)
    truth = rate[coupling] * clock[:, None] + rng.normal(size=(total, 4)) * np.sqrt(np.outer(clock, fit.diffusion))
    shared = ~first & (rng.random(total) < 0.5)
    end_error = rng.normal(size=(total, 4)) * reading
    start_error = np.where(shared[:, None], np.roll(end_error, 1, axis=0), rng.normal(size=(total, 4)) * reading)
    variance = np.full((total, 4), reading**2)
    start = start_error
    end = truth + end_error
    index = np.arange(total)
    legs = Legs(
        coupling, years * 365.25, clock * 8766 if hours else np.full(total, np.nan), start, end, variance,
        variance.copy(), shared, np.zeros((total, 4)), index, index,
    )  # fmt: skip
    last = np.append(np.flatnonzero(first)[1:] - 1, total - 1)
    carried = rng.random(n) < 0.5
    standing = Standing(end[last], variance[last], np.zeros(n), np.zeros(n), carried)
    return legs, standing, truth


def joint(legs, rows, c, fit=FIT, known_rate=None):
    """Mean and covariance of the moves of one coupling, written out."""
    t = legs.days[rows] / 365.25
    noise = legs.start_variance[rows, c] + legs.end_variance[rows, c] + legs.extra[rows, c]
    cov = np.diag(fit.diffusion[c] * t + noise)
    for k in range(1, len(rows)):
        if legs.shared[rows[k]]:
            cov[k, k - 1] = cov[k - 1, k] = -legs.start_variance[rows[k], c]
    return fit.rate[c] * t, cov + fit.rate_variance[c] * np.outer(t, t)


def test_the_likelihood_is_that_of_the_joint_normal_law_of_all_moves():
    legs, _, _ = fleet(40)
    laid = chains(legs)
    got = log_likelihood(
        filtered(laid, np.array(FIT.diffusion)[:, None]),
        *(np.array(one)[:, None] for one in (FIT.rate, FIT.rate_variance)),
    )
    for place, coupling in enumerate(laid.couplings):
        rows = np.flatnonzero(legs.coupling == coupling)
        for c in range(4):
            mean, cov = joint(legs, rows, c)
            expected = stats.multivariate_normal(mean, cov).logpdf(legs.moves[rows, c])
            assert got[c, place] == pytest.approx(expected, abs=1e-9)


def test_each_leg_is_predicted_from_the_others_as_the_conditional_normal_law_says():
    legs, _, _ = fleet(30, seed=9)
    fit = GroupFit(
        FIT.rate,
        (0.0,) * 4,
        *(getattr(FIT, n) for n in ("rate_variance", "diffusion", "jumps_per_year", "jump_variance")),
    )
    miss, variance = left_out(chains(legs), at_couplings([fit], np.zeros(30, dtype=int)), len(legs))
    for coupling in range(30):
        rows = np.flatnonzero(legs.coupling == coupling)
        for c in range(4):
            mean, cov = joint(legs, rows, c, fit)
            off = legs.moves[rows, c] - mean
            for k, row in enumerate(rows):
                rest = np.delete(np.arange(len(rows)), k)
                gain = cov[k, rest] @ np.linalg.inv(cov[np.ix_(rest, rest)]) if len(rest) else np.zeros(0)
                assert miss[row, c] == pytest.approx(off[k] - gain @ off[rest], abs=1e-12)
                assert variance[row, c] == pytest.approx(cov[k, k] - gain @ cov[rest, k], rel=1e-9)


def test_position_and_rate_after_an_uncorrected_check_are_the_conditional_normal_law():
    """The joint law of (position at the end, rate) given all moves, solved without the filter."""
    legs, standing, _ = fleet(25, seed=11)
    fit = GroupFit(FIT.rate, (0.0,) * 4, FIT.rate_variance, FIT.diffusion, 0.0, (0.0,) * 4)
    belief, evidence, _ = fleet_beliefs(legs, standing, at_couplings([fit], np.zeros(25, dtype=int)))
    wide = legs.widened(evidence.extra)
    for i in range(25):
        rows = np.flatnonzero(legs.coupling == i)
        t = legs.days[rows] / 365.25
        for c in range(4):
            mean, cov = joint(wide, rows, c, fit)
            solve = np.linalg.inv(cov)
            off = legs.moves[rows, c] - mean
            rate = fit.rate[c] + fit.rate_variance[c] * t @ solve @ off
            assert belief.rate[c, i] == pytest.approx(rate, abs=1e-12)
            error = np.zeros(len(rows))
            error[-1] = legs.end_variance[rows[-1], c] if standing.carried[i] else 0.0
            read = standing.position[i, c]
            assert belief.position[c, i] == pytest.approx(read - error @ solve @ off, abs=1e-12)
            left = standing.variance[i, c] - error @ solve @ error
            assert belief.position_variance[c, i] == pytest.approx(left, abs=1e-12)
            tied = fit.rate_variance[c] * t @ solve @ error
            assert belief.together[c, i] == pytest.approx(tied, abs=1e-12)


def test_adding_one_leg_to_a_kept_state_gives_what_all_legs_give():
    legs, standing, _ = fleet(60, seed=2)
    parameters = at_couplings([FIT], np.zeros(60, dtype=int))
    full, evidence, state = fleet_beliefs(legs, standing, parameters)
    wide = legs.widened(evidence.extra)
    years = clock_years(legs)
    for i in (0, 7, 33, 59):
        kept = nothing(1)
        mine = parameters.taken(np.array([i]))
        for row in np.flatnonzero(legs.coupling == i):
            kept = advanced(kept, leg_place(wide, int(row), float(years[row])), mine.diffusion)
        for name in vars(kept):
            assert getattr(kept, name)[:, 0] == pytest.approx(getattr(state, name)[:, i], rel=1e-12, abs=1e-15)
        alone = Standing(*(values[[i]] for values in vars(standing).values()))
        belief = believed(kept, mine, alone, full.legs[[i]], full.longest[[i]])
        for name in ("position", "position_variance", "rate", "rate_variance", "together", "own"):
            assert getattr(belief, name)[:, 0] == pytest.approx(getattr(full, name)[:, i], rel=1e-10, abs=1e-14)


def test_a_coupling_alone_gets_what_it_gets_among_the_fleet():
    legs, standing, _ = fleet(50, seed=4)
    legs.end[legs.coupling == 20] += np.array([0.3, 0, 0, 0])  # a jump, so that flags and widening take part
    limits = round_limits(np.full(50, 0.075), np.full(50, 0.075))
    parameters = at_couplings([FIT], np.zeros(50, dtype=int))
    full, _, _ = fleet_beliefs(legs, standing, parameters, limits)
    mine = legs.taken(legs.coupling == 20)
    mine.coupling[:] = 0
    one = np.array([20])
    alone, evidence, _ = fleet_beliefs(
        mine, Standing(*(values[one] for values in vars(standing).values())), parameters.taken(one), limits.taken(one)
    )
    assert evidence.flagged.any()
    for name, values in vars(alone).items():
        assert values == pytest.approx(getattr(full.taken(one), name), rel=1e-12, abs=1e-15)


def test_a_plane_that_was_not_read_leaves_the_rate_to_the_group_and_breaks_no_neighbour():
    legs, standing, _ = fleet(6, seed=6, most=4)
    legs.end[:, 1] = np.nan
    belief, _, _ = fleet_beliefs(legs, standing, at_couplings([FIT], np.zeros(6, dtype=int)))
    assert belief.rate[1] == pytest.approx(np.full(6, FIT.rate[1]))
    assert (belief.own[1] == 0).all()
    assert (belief.own[0] > 0).all()


def test_a_coupling_without_legs_has_the_groups_rate_and_its_spread():
    standing = Standing(np.zeros((1, 4)), np.full((1, 4), 1e-5), np.zeros(1), np.zeros(1), np.zeros(1, dtype=bool))
    empty = fleet(3)[0].taken(np.zeros(0, dtype=int))
    belief, evidence, _ = fleet_beliefs(empty, standing, at_couplings([FIT], [0]))
    assert len(evidence.flagged) == 0
    assert belief.rate[:, 0] == pytest.approx(FIT.rate)
    assert belief.rate_variance[:, 0] == pytest.approx(np.add(FIT.rate_variance, FIT.rate_error))
    assert belief.legs.tolist() == [0]


def test_group_parameters_are_found_again():
    legs, _, _ = fleet(3000, seed=8)
    fit = fit_group(legs, PRIOR, by_hours=False)
    # Within three and a half of the fit's own standard deviations of its mean.
    assert (np.abs(np.subtract(fit.rate, FIT.rate)) < 3.5 * np.sqrt(fit.rate_error)).all()
    assert np.allclose(np.divide(fit.rate_variance, FIT.rate_variance), 1, atol=0.15)
    assert np.allclose(np.divide(fit.diffusion, FIT.diffusion), 1, atol=0.1)
    assert fit.couplings == 3000


def test_the_prior_keeps_a_single_leg_from_claiming_certainty_and_means_nothing_to_a_large_fleet():
    legs, _, _ = fleet(1, most=1)
    fit = fit_group(legs, PRIOR, by_hours=False)
    assert min(fit.rate_variance) > 0
    assert min(fit.diffusion) > 0
    large, _, _ = fleet(1500, seed=3)
    usual = fit_group(large, PRIOR, by_hours=False)
    other = fit_group(large, weak_prior(0.15, 0.15), by_hours=False)
    assert np.allclose(np.divide(usual.diffusion, other.diffusion), 1, atol=0.02)
    assert np.allclose(np.divide(usual.rate_variance, other.rate_variance), 1, atol=0.03)


def test_the_clock_that_explains_more_is_kept_and_the_calendar_where_hours_are_missing():
    def uneven(rng, coupling, years):
        return years * rng.uniform(0.05, 1.0, len(years))

    by_hours, _, _ = fleet(300, seed=1, hours=uneven)
    assert fit_group(by_hours, PRIOR).by_hours
    legs, _, _ = fleet(300, seed=1)
    rng = np.random.default_rng(0)
    shuffled = Legs(**(vars(legs) | {"hours": legs.days * 24 * rng.uniform(0.05, 1.0, len(legs))}))
    assert not fit_group(shuffled, PRIOR).by_hours
    by_hours.hours[0] = np.nan
    assert not fit_group(by_hours, PRIOR).by_hours
    with pytest.raises(ForecastError):
        clock_years(by_hours, True)


def test_groups_are_of_one_kind_where_thirty_have_legs_else_of_the_site_else_of_all():
    kind = ["grouted"] * 30 + ["skid"] * 29 + ["hung"]
    site = ["north"] * 30 + ["south"] * 29 + ["west"]
    have = np.ones(60, dtype=bool)
    groups, members = grouped(kind, site, have)
    assert groups[0] == ("kind", "grouted")
    assert groups[40] == ("all", None)
    assert members["all", None].sum() == 60
    assert members["kind", "grouted"].sum() == 30
    groups, members = grouped(kind, ["north"] * 60, have)
    assert groups[40] == ("site", "north")
    assert members["site", "north"].sum() == 60
    have[0] = False
    assert grouped(kind, site, have)[0][0] == ("all", None)


def jumped(seed=12, n=400):
    legs, standing, _ = fleet(n, seed=seed)
    rng = np.random.default_rng(seed)
    hit = rng.random(len(legs)) < 0.05
    legs.end[hit] += rng.normal(size=(int(hit.sum()), 4)) * 0.08
    return legs, standing, hit


def test_jumps_are_found_widened_and_kept_out_of_the_groups_diffusion():
    legs, _, hit = jumped()
    limits = round_limits(np.full(400, 0.075), np.full(400, 0.075))
    fit = fit_group(legs, PRIOR, limits, by_hours=False)
    found = unexplained(legs, clock_years(legs), at_couplings([fit], np.zeros(400, dtype=int)), limits)
    assert found.flagged[hit].mean() > 0.8
    assert found.flagged[~hit].mean() < 0.01
    assert (found.extra[~found.flagged] == 0).all()
    assert (found.extra[found.flagged].max(axis=1) > 0).all()
    # The draws put 0.05 into each leg of 1.15 years on the mean.
    assert fit.jumps_per_year == pytest.approx(0.05 / 1.15, rel=0.4)
    assert np.sqrt(fit.jump_variance) == pytest.approx(np.full(4, 0.08), rel=0.25)
    assert np.allclose(np.divide(fit.diffusion, FIT.diffusion), 1, atol=0.3)
    plain = fit_group(legs, None, by_hours=False)
    assert min(np.divide(plain.diffusion, fit.diffusion)) > 1.5


def test_an_improbable_leg_that_moved_less_than_a_quarter_of_the_tolerance_is_not_worth_asking_about():
    legs, _, _ = jumped()
    wide = round_limits(np.full(400, 5.0), np.full(400, 5.0))
    found = unexplained(legs, clock_years(legs), at_couplings([FIT], np.zeros(400, dtype=int)), wide)
    assert (found.probability < 1e-3).any()
    assert not found.flagged.any()
    assert np.isfinite(found.moved).all()


def test_a_flagged_leg_neither_carries_the_rate_away_nor_is_deleted():
    legs, standing, _ = fleet(1, seed=21, most=5)
    parameters = at_couplings([FIT], [0])
    calm, _, _ = fleet_beliefs(legs, standing, parameters)
    legs.end[1] += np.array([0.5, 0, 0, 0])
    shaken, evidence, state = fleet_beliefs(legs, standing, parameters)
    assert evidence.flagged.tolist() == [False, True] + [False] * (len(legs) - 2)
    assert evidence.largest[1] == 0
    assert state.count[0, 0] == len(legs)
    assert abs(shaken.rate[0, 0] - calm.rate[0, 0]) < 2 * np.sqrt(calm.rate_variance[0, 0])
    assert shaken.rate_variance[0, 0] > calm.rate_variance[0, 0]


def test_beliefs_of_unlike_couplings_are_refused():
    legs, standing, _ = fleet(4)
    with pytest.raises(ForecastError):
        fleet_beliefs(legs, standing, at_couplings([FIT], [0, 0]))
    with pytest.raises(ForecastError):
        fit_group(legs.taken(np.zeros(0, dtype=int)), PRIOR)
    with pytest.raises(ForecastError):
        weak_prior(0.0, 0.1)


@pytest.mark.long
def test_an_independent_filter_gives_the_same_likelihood_on_random_chains():
    """statsmodels' state-space filter: position and rate, rate drawn from the group, first position diffuse."""
    from statsmodels.tsa.statespace.kalman_filter import KalmanFilter

    rng = np.random.default_rng(77)
    for _ in range(20):
        n = int(rng.integers(3, 12))
        years = rng.uniform(0.2, 2.5, n)
        q, r2, m, tau2 = rng.uniform(0.5, 5), rng.uniform(0.5, 5), rng.normal(), rng.uniform(0.5, 5)
        v = m + np.sqrt(tau2) * rng.normal()
        x = np.append(0, np.cumsum(v * years + np.sqrt(q * years) * rng.normal(size=n)))
        y = x + np.sqrt(r2) * rng.normal(size=n + 1)
        index = np.arange(n)
        four = lambda one: np.repeat(one[:, None], 4, axis=1)  # noqa: E731
        legs = Legs(
            np.zeros(n, dtype=int), years * 365.25, np.full(n, np.nan), four(y[:-1]), four(y[1:]), np.full((n, 4), r2),
            np.full((n, 4), r2), index > 0, np.zeros((n, 4)), index, index + 1,
        )  # fmt: skip
        ours = float(log_likelihood(filtered(chains(legs), q), m, tau2)[0, 0])
        oracle = KalmanFilter(k_endog=1, k_states=2, k_posdef=1)
        oracle.bind(y[None, :].copy())
        steps = np.append(years, 0.0)
        oracle["design"] = np.array([[1.0, 0.0]])
        oracle["obs_cov"] = np.array([[r2]])
        oracle["transition"] = np.array([[np.ones(n + 1), steps], [np.zeros(n + 1), np.ones(n + 1)]])
        oracle["selection"] = np.array([[1.0], [0.0]])
        oracle["state_cov"] = (q * steps)[None, None, :]
        # The first reading is given: the position is known to its variance, the rate to the group's.
        oracle.initialize_known(np.array([y[0], m]), np.diag([1e9, tau2]))
        logs = oracle.filter().llf_obs
        assert ours == pytest.approx(logs[1:].sum(), abs=1e-5)


@pytest.mark.long
def test_a_mixed_model_gives_the_same_group_on_legs_of_one_length():
    """statsmodels' MixedLM on moves of one year, where rate and noise are a random intercept and a residual."""
    from statsmodels.regression.mixed_linear_model import MixedLM

    n, each, r2 = 120, 4, 3.6e-5
    rng = np.random.default_rng(31)
    moves = 0.01 + np.repeat(rng.normal(size=n) * 0.015, each) + rng.normal(size=n * each) * np.sqrt(1.4e-4 + 2 * r2)
    which = np.repeat(np.arange(n), each)
    index = np.arange(n * each)
    legs = Legs(
        which, np.full(len(which), 365.25), np.full(len(which), np.nan), np.zeros((len(which), 4)),
        np.repeat(moves[:, None], 4, axis=1), np.full((len(which), 4), r2), np.full((len(which), 4), r2),
        np.zeros(len(which), dtype=bool), np.zeros((len(which), 4)), index, index,
    )  # fmt: skip
    ours = fit_group(legs, None, by_hours=False)
    oracle = MixedLM(moves * 100, np.ones(len(moves)), groups=which).fit(reml=False)
    assert ours.rate[0] == pytest.approx(float(oracle.fe_params[0]) / 100, rel=1e-3)
    assert ours.rate_variance[0] == pytest.approx(float(np.asarray(oracle.cov_re)[0, 0]) / 1e4, rel=5e-3)
    assert ours.diffusion[0] + 2 * r2 == pytest.approx(float(oracle.scale) / 1e4, rel=5e-3)


def test_a_state_can_be_taken_apart_by_coupling():
    legs, _, _ = fleet(5)
    state = filtered(chains(legs), 1e-4)
    part = state.taken(np.array([2]))
    assert isinstance(part, Filtered)
    assert part.tt[:, 0].tolist() == state.tt[:, 2].tolist()
