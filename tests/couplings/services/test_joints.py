"""Joints of a data sheet: strength, nut factor, order and re-check rule, and the advice while a sheet is written."""

import json

import pytest

from couplings.engineering.torquecheck import RECHECK_RULES
from couplings.models import SheetJoint
from couplings.selectors.joints import holding_advice, holding_by_count, joint_advice, sentences_of
from couplings.selectors.sheets import text_of
from couplings.services.sheets import begin_version, change_version, publish_version
from plant.recording import recording
from tests.couplings.services.test_sheets import BOLTS, published, refusal, written
from tests.factories import NOW, CouplingFactory, SheetVersionFactory

KNOWN = BOLTS | {
    "thread": "M10x1.5", "strength_standard": "ISO 898-1", "strength_class": "8.8",
    "nut_factor": 0.2, "nut_factor_source": "Shigley, 9th ed., Table 8-15 p. 439, zinc plated",
}  # fmt: skip


def joint_of(engineer, site, **more):
    return written(engineer, site, joints=[KNOWN | more]).versions.get().joints.get()


def refused(engineer, site, **more):
    version = SheetVersionFactory(sheet__site=site, published_at=None, digest="")
    errors = refusal(change_version, by=engineer, version=version, joints=[BOLTS | more])
    return {path.removeprefix("joints.0."): said for path, said in errors.items()}


def test_a_joint_keeps_what_its_sheet_says_and_the_next_version_copies_it(engineer, site):
    more = {"order": "segment", "segments": 2, "pass_shares": [0.5, 1.0], "feature": "prevailing-torque"}
    version = published(engineer, site, joints=[KNOWN | more | {"prevailing_nm": 4.0}])
    with recording(by=engineer, at=NOW):
        copy = begin_version(sheet=version.sheet).joints.get()
    for name, value in (KNOWN | more).items():
        assert getattr(copy, name) == value
    assert (copy.prevailing_nm, copy.recheck) == (4.0, "allowed")


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("strength_class", "10.9"), ("nut_factor", 0.18), ("nut_factor_source", "own tests"), ("order", "round"),
        ("pass_shares", [0.5, 1.0]), ("feature", "single-use"), ("thread", "M10x1.25"),
    ],
)  # fmt: skip
def test_the_digest_covers_what_the_sheet_says_of_a_joint(engineer, site, field, value):
    version = written(engineer, site, joints=[KNOWN]).versions.get()
    before = text_of(version)
    with recording(by=engineer, at=NOW):
        change_version(version=version, joints=[KNOWN | {field: value}])
        digest = publish_version(version=version).digest
    assert text_of(version) != before
    assert json.loads(text_of(version))["joints"][0][field] == value
    assert len(digest) == 64


@pytest.mark.parametrize(
    ("given", "field", "said"),
    [
        ({"nut_factor": 0.2}, "nut_factor_source", "Say where this nut factor is from"),
        ({"nut_factor_source": "a table"}, "nut_factor", "or leave its source out"),
        ({"nut_factor": float("nan"), "nut_factor_source": "x"}, "nut_factor", "between 0.03 and 1"),
        ({"strength_class": "8.8"}, "strength_standard", "Name the standard"),
        ({"strength_standard": "SAE J429"}, "strength_class", "Which property class or grade of SAE J429?"),
        ({"strength_standard": "SAE J429", "strength_class": "8.8"}, "strength_class", "has no 8.8 here. It has: "),
        ({"strength_standard": "ISO 898-5", "strength_class": "45H"}, "strength_class", "never in tension"),
        ({"pass_shares": [0.5, 0.9]}, "pass_shares", "The last pass must be at full torque."),
        ({"pass_shares": [0.7, 0.5, 1]}, "pass_shares", "less than the one before"),
        ({"pass_shares": "0.5, 1"}, "pass_shares", "List the shares"),
        ({"pass_shares": [True, 1.0]}, "pass_shares", "List the shares"),
        ({"order": "segment", "segments": 3}, "segments", "8 positions do not lie evenly on 3 segments."),
        ({"order": "round", "segments": 2}, "segments", "middle of a segment outward only"),
        ({"prevailing_nm": 5.0}, "prevailing_nm", "prevailing-torque nut only"),
        ({"feature": "prevailing-torque", "prevailing_nm": 50.0}, "prevailing_nm", "check the unit"),
        ({"feature": "locking-patch", "recheck": "allowed"}, "recheck", "A patch that has cured is broken"),
        ({"feature": "glue"}, "feature", "not a valid choice"),
    ],
)
def test_a_joint_that_contradicts_itself_is_refused_beside_its_field(engineer, site, given, field, said):
    assert said in refused(engineer, site, **given)[field]


def test_the_features_of_a_joint_are_those_the_rules_speak_of():
    assert set(SheetJoint.Feature.values) == {rule.feature for rule in RECHECK_RULES}


@pytest.mark.parametrize("rule", RECHECK_RULES, ids=lambda rule: rule.feature)
def test_a_feature_decides_whether_a_recheck_comes_due(engineer, site, rule):
    joint = joint_of(engineer, site, feature=rule.feature)
    assert joint.recheck == ("allowed" if rule.allowed == "qualified" else "not-allowed")
    assert joint.recheck_reason == ("" if rule.allowed == "qualified" else rule.title)


def test_the_advice_tells_the_preload_range_and_its_share_of_the_proof_load(engineer, site):
    advice = joint_advice(joint_of(engineer, site))
    preload = advice.preload
    # By hand: 45 N·m / (0.2 × 10 mm) = 22.5 kN; ISO 898-1 has 58.0 mm² and 580 MPa for M10 in 8.8, so 33.64 kN.
    assert preload.nominal_n == pytest.approx(22_500)
    assert preload.proof_n == pytest.approx(58.0 * 580, rel=1e-3)  # the standard rounds the area to three figures
    # NASA-STD-5020B Table 3: 35 % dry; s. 4.3.1: 5 % relaxation off the low end.
    assert preload.low_n == pytest.approx(22_500 * 0.65 * 0.95)
    assert preload.high_n == pytest.approx(22_500 * 1.35)
    assert advice.missing == ()
    assert advice.warnings == ()
    assert "67 % of the proof load" in sentences_of(advice, "metric")[0]


def test_the_advice_warns_above_the_proof_load(engineer, site):
    warnings = joint_advice(joint_of(engineer, site, torque_nm=70.0)).warnings
    assert warnings[0] == "The nominal preload is 104 % of the proof load: the bolt would be stretched for good."


@pytest.mark.parametrize(
    ("lacking", "said"),
    [
        ({"thread": "M10"}, "M10x1.5 is the coarse thread."),
        ({"thread": ""}, "The thread is not on the data sheet."),
        ({"strength_standard": "", "strength_class": ""}, "property class or grade is not on the data sheet"),
        ({"strength_standard": "house grade", "strength_class": "A"}, "No proof strength of house grade"),
        ({"nut_factor": None, "nut_factor_source": ""}, "a preload is not guessed"),
    ],
)
def test_the_advice_never_guesses_a_preload_but_says_what_is_missing(engineer, site, lacking, said):
    advice = joint_advice(joint_of(engineer, site, **lacking))
    assert advice.preload is None
    assert said in " ".join(advice.missing)


def test_a_running_torque_comes_on_top_at_the_wrench_in_every_pass(engineer, site):
    joint = joint_of(engineer, site, feature="prevailing-torque", prevailing_nm=5.0, pass_shares=[0.4, 1.0])
    assert [one.torque_nm for one in joint_advice(joint).passes] == pytest.approx([23.0, 50.0, 50.0])


def test_set_screws_of_a_known_size_are_held_against_the_shafts_torque(site):
    version = SheetVersionFactory(
        sheet__site=site, set_screw_size="3/8", set_screw_torque_nm=None, set_screw_angle_deg=60.0, bore_mm=50.8
    )
    advice = holding_advice(version, CouplingFactory(train__site=site, power_kw=5.5, rpm=1500.0))
    # By hand, from the table's 2000 lbf (Shigley, table 7-4) and 1.75 for a second screw: 8.896 kN × 1.75 × 25.4 mm.
    assert advice.held.torsional_nm == pytest.approx(2000 * 4.4482216 * 1.75 * 0.0254, rel=1e-6)
    assert advice.held.torsional_allowed_nm == pytest.approx(advice.held.torsional_nm / 4)
    assert advice.torque_nm == pytest.approx(9549.3 * 5.5 / 1500, rel=1e-4)
    assert "the shaft's torque is 35.0" in advice.sentence("metric")
    assert [one.count for one in holding_by_count(version, advice_coupling(site))] == [0, 1, 2, 4]


def advice_coupling(site):
    return CouplingFactory(train__site=site, power_kw=None)


def test_set_screws_that_hold_too_little_or_are_not_known_say_so(site):
    version = SheetVersionFactory(
        sheet__site=site, bore_mm=20.0, set_screw_holding_n=4000.0, set_screw_holding_source="maker's sheet"
    )
    strong = CouplingFactory(train__site=site)  # 315 kW at 2980 rpm: about a kilonewton metre
    assert "a key or the fit has to carry it" in holding_advice(version, strong, 1).sentence("metric")
    assert "at which angle" in holding_advice(version, strong, 2).missing
    assert "power of this coupling is not on record" in holding_advice(version, advice_coupling(site), 1).sentence("us")
    assert holding_advice(version, strong, 0).sentence("metric") == (
        "No set screw holds this hub: the fit or a key has to."
    )
    unknown = holding_advice(SheetVersionFactory(sheet__site=site), strong)
    assert "No holding power is on record for M8: state it on the data sheet" in unknown.sentence("metric")


def test_a_holding_power_without_its_source_is_refused(engineer, site):
    version = SheetVersionFactory(sheet__site=site, published_at=None, digest="")
    errors = refusal(change_version, by=engineer, version=version, set_screw_holding_n=4000.0)
    assert errors == {"set_screw_holding_source": "Say where this holding power is from."}
