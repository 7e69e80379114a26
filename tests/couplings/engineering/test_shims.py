"""Shims under a foot: every change adds up, keeps the limit where it can, and says what is not there."""

from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from couplings.engineering.shims import ShimError, shim_change

packs = st.lists(st.sampled_from([0.05, 0.1, 0.25, 0.5, 1.0, 2.0]), max_size=6)
changes = st.integers(-80, 80).map(lambda steps: steps * 0.05)


def tried(there, change, most):
    """Fewest shims handled, by trying every choice over again in plain counting."""
    best = None
    for taken in product((False, True), repeat=len(there)):
        out = sum(shim for shim, gone in zip(there, taken, strict=True) if gone)
        put_in = out + change
        if put_in < -1e-6:
            continue
        count = len(there) - sum(taken) + (put_in > 1e-6)
        rank = (max(0, count - most), sum(taken) + (put_in > 1e-6))
        best = rank if best is None else min(best, rank)
    return best


@given(packs, changes, st.integers(1, 5))
def test_the_change_adds_up_and_nothing_comes_out_that_is_not_there(there, change, most):
    found = shim_change(there, change, most)

    left = list(there)
    for shim in found.take_out_mm:
        left.remove(shim)  # ValueError: took out what does not lie there
    assert found.put_in_mm >= 0
    assert found.change_mm - found.short_mm == pytest.approx(change, abs=1e-6)
    assert found.count == len(left) + (found.put_in_mm > 0)
    assert (found.short_mm > 0) == (change < -sum(there) - 1e-6)
    if not found.short_mm:
        handled = len(found.take_out_mm) + (found.put_in_mm > 0)
        assert (max(0, found.count - most), handled) == tried(there, change, most)


def test_a_shim_that_is_there_is_taken_out_as_it_is():
    found = shim_change([2.0, 0.5, 0.05], -0.5)
    assert (found.take_out_mm, found.put_in_mm, found.count) == ((0.5,), 0.0, 2)


def test_a_full_pack_changes_one_shim_instead_of_growing():
    found = shim_change([1.0, 0.5, 0.25, 0.1], 0.1, most=4)
    assert (found.take_out_mm, found.put_in_mm, found.count) == ((0.1,), pytest.approx(0.2), 4)


def test_more_than_is_there_cannot_come_out():
    found = shim_change([0.25, 0.1], -0.6)
    assert (found.take_out_mm, found.count, found.short_mm) == ((0.25, 0.1), 0, pytest.approx(0.25))


@pytest.mark.parametrize(
    ("there", "change", "most", "field"),
    [
        ([0.0], 0.1, 4, "shims.0"),
        ([float("nan")], 0.1, 4, "shims.0"),
        ([0.1] * 13, 0.1, 4, "shims"),
        ([], float("inf"), 4, "change"),
        ([], 0.1, 0, "most"),
    ],
)
def test_what_cannot_be_meant_is_refused_by_name(there, change, most, field):
    with pytest.raises(ShimError) as refused:
        shim_change(there, change, most)
    assert field in refused.value.errors
