"""Conformity, guard bands and both risks against published values."""

import numpy as np
import pytest

from couplings.engineering.conformity import IN_TOLERANCE
from couplings.engineering.decisions import conformance, decided, guard_band, risks
from couplings.engineering.probability import in_disc
from tests.reference.statistics_cases import agrees, given


@given("dec-jcgm-upper", "dec-jcgm-lower", "dec-jcgm-two-sided")
def test_the_chance_that_a_measured_value_conforms(case):
    i = case["inputs"]
    agrees(case, conformance(i["y"], i["u"], i.get("lower"), i.get("upper")))


@given("dec-resistors")
def test_the_risks_of_a_guarded_acceptance(case):
    i = case["inputs"]
    consumer, producer = risks(i["y0"], i["u0"], i["um"], tuple(i["T"]), tuple(i["A"]))
    agrees(case, [conformance(i["y0"], i["u0"], *i["T"]), consumer, producer])


@given("dec-deaver")
def test_false_acceptance_and_false_refusal(case):
    i = case["inputs"]
    found = [
        risks(0.0, i["sigma"], one["um"], (-i["limits"], i["limits"]), (-one["accept"], one["accept"]))
        for one in i["cases"]
    ]
    agrees(case, [share for pair in found for share in pair])


@given("dec-three-way")
def test_three_verdicts_around_a_limit(case):
    """Constructed: the guard band of 8.22 is by hand."""
    i = case["inputs"]
    assert guard_band(i["u"], i["p"]) == pytest.approx(8.22, abs=0.005)
    said = [decided(float(conformance(y, i["u"], None, i["upper"])), y <= i["upper"], i["p"]) for y in i["y"]]
    assert said == case["expected"]
    assert said[0] == IN_TOLERANCE


@given("dec-resultant")
def test_the_resultant_of_two_components(case):
    """Constructed: two million draws."""
    i = case["inputs"]
    agrees(case, in_disc([i["a"], i["b"]], np.eye(2) * i["u"] ** 2, i["limit"]))
