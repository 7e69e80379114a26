"""Legs: what counts as a machine's own movement, in one frame, at one temperature, against one target."""

import numpy as np
import pytest

from couplings.engineering.alignment import Misalignment, to_record
from couplings.engineering.tables.coefficients import STARTER_COEFFICIENTS
from couplings.engineering.thermal import Layer, Support, relative_growth
from inspections.forecasting.legs import LEGACY_U, ForecastError, Spells, legs_of, surveys

R = 1e-4  # (0.01 mm)^2
IRON = next(row for row in STARTER_COEFFICIENTS if row.material == "gray iron")
LEFT, FOUND = (False, True), (True, False)
BOTH = (True, True)


def rows(*seen, coupling=None, **more):
    """(day, position, (as found, as left)) of one coupling."""
    day, position, kind = zip(*seen, strict=True)
    position = np.array([np.broadcast_to(one, (4,)) for one in position])
    which = np.zeros(len(seen), dtype=int) if coupling is None else coupling
    kinds = np.array(kind)
    variance = more.pop("variance", R)
    return surveys(which, day, position, variance, kinds[:, 0], kinds[:, 1], **more)


def test_a_leg_goes_from_as_left_to_the_next_as_found():
    legs, standing, reasons = legs_of(
        rows((0, 0.0, LEFT), (365.25, 0.03, FOUND), (366, 0.01, LEFT), (731, 0.02, FOUND))
    )
    assert legs.days.tolist() == [365.25, 365.0]
    assert legs.moves[:, 0] == pytest.approx([0.03, 0.01])
    assert legs.shared.tolist() == [False, False]
    assert reasons.tolist() == ["", "", "", ""]
    # Found and not measured again: nobody knows how it stands now.
    assert np.isnan(standing.position).all()


def test_a_survey_that_moved_nothing_ends_one_leg_and_starts_the_next_with_the_same_error():
    legs, standing, _ = legs_of(rows((0, 0.0, LEFT), (100, 0.03, BOTH), (200, 0.05, BOTH)))
    assert legs.shared.tolist() == [False, True]
    assert legs.moves[:, 1] == pytest.approx([0.03, 0.02])
    assert standing.carried.tolist() == [True]
    assert standing.day.tolist() == [200]


def test_one_physical_state_recorded_motor_moved_then_pump_moved_is_a_leg_of_zero():
    seen_by_motor = Misalignment.of([0.04, -0.02, 0.1, 0.05], np.eye(4) * R)
    # The same shafts with the other machine movable, seen from the other end: every sign written out by hand.
    seen_by_pump = Misalignment.of([-0.04, -0.02, 0.1, -0.05], np.eye(4) * R)
    record = [to_record(seen_by_motor, "driven"), to_record(seen_by_pump, "driver")]
    legs, _, _ = legs_of(rows((0, record[0].mean, LEFT), (365, record[1].mean, FOUND)))
    assert legs.moves == pytest.approx(np.zeros((1, 4)), abs=1e-15)


def test_a_warm_as_found_is_brought_to_the_reference_and_weighs_less():
    """15 °C over 400 mm of iron is 0.07 mm (published figure of the trade's handbooks)."""
    layer = Layer(400.0, IRON.alpha, 35.0, 20.0, IRON.alpha_u, 2.0, 2.0)
    growth = relative_growth([], [Support("inboard", 200.0, (layer,)), Support("outboard", 700.0, (layer,))])
    added = np.array([np.zeros(4), growth.mean_array])
    spread = np.array([np.zeros(4), np.diag(growth.covariance)])
    warm = rows((0, 0.0, LEFT), (365, [0.07, 0, 0, 0], FOUND), added=added, added_variance=spread)
    legs, _, _ = legs_of(warm)
    assert growth.mean_array[0] == pytest.approx(-0.07, abs=0.005)
    assert legs.moves[0, 0] == pytest.approx(0.0, abs=0.005)
    assert legs.end_variance[0, 0] == pytest.approx(R + growth.covariance_array[0, 0])
    assert legs.end_variance[0, 0] > legs.start_variance[0, 0]


@pytest.mark.parametrize("kind", [FOUND, BOTH])
def test_a_survey_after_the_first_foot_was_loosened_never_ends_a_leg(kind):
    seen = rows((0, 0.0, LEFT), (100, 0.2, kind), (200, 0.21, FOUND), loosened=[False, True, False])
    legs, _, reasons = legs_of(seen)
    assert reasons[1] == "loosened"
    # As left it may start one; merely found, the machine's state after it is not known.
    assert len(legs) == (1 if kind == BOTH else 0)
    assert 0 not in legs.start_row


def test_an_uncoupled_spell_or_another_unit_breaks_a_leg_and_what_lies_at_its_ends_does_not():
    seen = rows((0, 0.0, LEFT), (100, 0.1, BOTH), (200, 0.2, FOUND))

    def kept(*spells):
        begins, ends = zip(*spells, strict=True)
        given = Spells(np.zeros(len(spells), dtype=int), np.array(begins, float), np.array(ends, float))
        return legs_of(seen, spells=given)

    legs, _, reasons = kept((40, 60))
    assert legs.end_row.tolist() == [2]
    assert legs.shared.tolist() == [False]
    assert reasons.tolist() == ["", "spell", ""]
    assert len(kept((150, 150))[0]) == 1  # an instant inside
    assert len(kept((100, 100), (0, 0), (200, 200), (200, np.inf))[0]) == 2
    assert len(kept((-50, 10), (190, np.inf))[0]) == 0
    other = Spells(np.array([1]), np.array([0.0]), np.array([500.0]))
    assert len(legs_of(seen, spells=other, couplings=2)[0]) == 2


def test_a_new_target_is_no_movement():
    target = np.array([[0.1, 0.0, -0.2, 0.0]])
    legs, standing, _ = legs_of(rows((0, 0.05, LEFT), (100, 0.05, BOTH)), target)
    assert legs.moves == pytest.approx(np.zeros((1, 4)))
    assert standing.position[0] == pytest.approx([-0.05, 0.05, 0.25, 0.05])


def test_an_old_figure_without_its_readings_enters_with_a_large_variance():
    unknown = np.array([[np.nan] * 4, [R] * 4])
    legs, _, _ = legs_of(rows((0, 0.0, LEFT), (100, 0.02, FOUND), variance=unknown, legacy=[True, False]))
    assert legs.start_variance[0] == pytest.approx(np.square(LEGACY_U))
    assert legs.end_variance[0] == pytest.approx([R] * 4)


def test_a_plane_that_was_not_read_is_left_out_and_the_other_stays():
    legs, _, _ = legs_of(rows((0, 0.0, LEFT), (100, [0.02, np.nan, 0.1, np.nan], FOUND)))
    assert np.isfinite(legs.moves[0]).tolist() == [True, False, True, False]
    nothing, _, reasons = legs_of(rows((0, 0.0, LEFT), (100, np.nan, FOUND)))
    assert len(nothing) == 0
    assert reasons[1] == "not-read"


def test_rounds_in_between_other_couplings_and_the_order_of_rows_change_nothing():
    seen = [(0, 0.0, LEFT), (100, 0.05, FOUND), (100.2, 0.03, (False, False)), (100.4, 0.0, LEFT), (300, 0.02, FOUND)]
    alone, _, _ = legs_of(rows(*seen))
    twice = [*seen, *[(day + 1, np.multiply(2, x), kind) for day, x, kind in seen]]
    which = np.array([1] * 5 + [0] * 5)
    order = np.random.default_rng(3).permutation(10)
    mixed, _, _ = legs_of(rows(*[twice[i] for i in order], coupling=which[order]))
    assert mixed.coupling.tolist() == [0, 0, 1, 1]
    assert mixed.moves[2:] == pytest.approx(alone.moves)
    assert mixed.days[2:].tolist() == alone.days.tolist()


def test_running_hours_of_a_leg_are_unknown_rather_than_negative():
    seen = ((0, 0.0, LEFT), (100, 0.05, FOUND))
    assert legs_of(rows(*seen, hours=[10.0, 1010.0]))[0].hours.tolist() == [1000.0]
    assert np.isnan(legs_of(rows(*seen, hours=[10.0, 4.0]))[0].hours).all()
    assert np.isnan(legs_of(rows(*seen))[0].hours).all()


@pytest.mark.parametrize(
    ("change", "field"),
    [({"coupling": [-1, 0]}, "coupling"), ({"day": [0, np.nan]}, "day"), ({"variance": -1.0}, "variance")],
)
def test_rows_that_cannot_be_used_are_refused_by_field(change, field):
    good = {
        "coupling": [0, 0], "day": [0, 1], "position": np.zeros((2, 4)), "variance": R, "as_found": [False, True],
        "as_left": [True, False],
    }  # fmt: skip
    with pytest.raises(ForecastError) as refused:
        surveys(**(good | change))
    assert list(refused.value.errors) == [field]
