"""The fasteners step: order, one press for a pattern, readings held against the sheet and the joint's own past."""

import json
from datetime import date

import pytest

from couplings.models import SheetJoint
from inspections.models import Torque
from inspections.selectors.facts import facts_of
from inspections.selectors.torques import last_wrench
from inspections.selectors.visits import read_entry, visit_for
from inspections.services.signing import sign_visit
from inspections.steps import STEPS, Place
from inspections.steps.rows import columns
from plant.recording import recording
from tests.factories import NOW, TODAY, InstrumentFactory
from tests.inspections.signed import sign as signed_visit
from tests.inspections.visits import begin, save

EIGHT = {f"joint0.position{n}": "45" for n in range(1, 9)}


@pytest.fixture
def dial(site):
    """A wrench that reads, 1 % of standard uncertainty."""
    return InstrumentFactory(site=site, kind="torque-read", name="Dial wrench", serial="R-1", standard_u_share=0.01)


@pytest.fixture
def recheck(fit, order, mechanic):
    return begin(fit, order, mechanic, kind="periodic")


def read(visit, by, dial, **more):
    typed = {"joint0.how": "read", "joint0.instrument": dial.serial} | EIGHT | more
    save(visit, "fasteners", typed, by)
    return read_entry(visit_for(by, visit.uuid), "fasteners")


def told(visit, by):
    visit = visit_for(by, visit.uuid)
    typed = next((one.typed for one in visit.entries.all() if one.step == "fasteners"), {})
    return STEPS["fasteners"].tells(visit, typed).joints[0]


def earlier(fit, by, on, torques, kind="periodic", **more):
    """A signed visit in which these positions were read."""
    visit = signed_visit(fit, on=on, by=by, kind=kind)
    for position, torque_nm in torques.items():
        Torque.objects.create(
            visit=visit, record=visit.record, joint="hub bolts", how="read", position=position, torque_nm=torque_nm,
            **more,
        )  # fmt: skip


def test_the_order_of_the_data_sheet_is_told_before_anything_is_entered(visit, mechanic, fit):
    SheetJoint.objects.filter(version=fit.sheet_version).update(order="segment", segments=2, pass_shares=[0.5, 1.0])
    passes = told(visit, mechanic).passes
    assert [one.torque_nm for one in passes] == [22.5, 45.0, 45.0]
    # Two segments of four, each from its middle outward; then once round at full torque.
    assert passes[0].positions == (2, 3, 1, 4, 6, 7, 5, 8)
    assert passes[-1].positions == (1, 2, 3, 4, 5, 6, 7, 8)


def test_readings_are_held_against_the_data_sheet_with_the_wrenchs_uncertainty(recheck, mechanic, dial):
    typed = {"joint0.position3": "36", "joint0.position5": "40.5"}
    found = read(recheck, mechanic, dial, **typed)
    # By hand: 90 % of 45 is 40.5; at 36 a tenth more than is allowed is lost, and 1 % of 40.5 cannot tell 40.5 from it.
    rows = {row.position: row.verdict for row in found.values[0].verdict.positions}
    assert (rows[1], rows[3], rows[5]) == ("in tolerance", "out of tolerance", "too close to call")
    assert any("out of tolerance. More torque is lost than is allowed" in said for said in found.warnings)
    joint = told(recheck, mechanic)
    assert joint.sentences[1].startswith("Lowest 36.0")
    assert "at position 3, mean 43.3" in joint.sentences[1].replace("\u00a0", " ")
    assert joint.sentences[1].endswith("below the data sheet: 3, 5.")
    assert "Compared with the data sheet alone" in joint.sentences[2]


def test_a_wider_wrench_tells_less(recheck, mechanic, dial):
    dial.standard_u_share = 0.08
    dial.save()
    rows = read(recheck, mechanic, dial, **{"joint0.position3": "38"}).values[0].verdict.positions
    assert rows[2].verdict == "too close to call"


def test_a_loss_against_the_joints_own_first_recheck_is_seen_above_the_data_sheets_torque(recheck, mechanic, dial, fit):
    # Friction at rest reads high: 58 at first, 48 now is 17 % lost although it lies above 45.
    earlier(fit, mechanic, date(2026, 10, 3), {2: 58.0})
    earlier(fit, mechanic, date(2026, 10, 6), {2: 52.0})
    found = read(recheck, mechanic, dial, **{"joint0.position2": "48"}).values[0]
    assert found.first_nm == {2: 58.0}
    row = found.verdict.positions[1]
    assert (row.verdict, row.reason) == ("out of tolerance", "17 % below its own first re-check")
    assert found.verdict.positions[0].verdict == "in tolerance"


def test_tightened_anew_a_joint_and_a_screw_begin_their_history_again(recheck, mechanic, dial, fit):
    earlier(fit, mechanic, date(2026, 10, 2), {1: 60.0, 2: 60.0})
    earlier(fit, mechanic, date(2026, 10, 3), {1: 46.0}, kind="installation")
    earlier(fit, mechanic, date(2026, 10, 4), {1: 50.0, 2: 51.0})
    earlier(fit, mechanic, date(2026, 10, 5), {2: 45.0}, found="turned-out")
    assert read(recheck, mechanic, dial).values[0].first_nm == {1: 50.0}


def test_another_fit_another_joint_and_a_later_visit_are_no_history(recheck, mechanic, dial, fit):
    earlier(fit, mechanic, date(2026, 10, 13), {1: 60.0})
    visit = signed_visit(fit, on=date(2026, 10, 4), by=mechanic)
    Torque.objects.create(
        visit=visit, record=visit.record, joint="guard screws", how="read", position=1, torque_nm=60.0
    )
    assert read(recheck, mechanic, dial).values[0].first_nm == {}


def test_the_trend_is_told_over_the_visits_that_were_read(recheck, mechanic, dial, fit):
    earlier(fit, mechanic, date(2026, 10, 2), dict.fromkeys(range(1, 9), 49.0))
    assert told_trend(recheck, mechanic, dial).visits == 2
    sentence = told(recheck, mechanic).sentences[-1]
    assert sentence.startswith("Over 2 visits the mean changes by -")
    # 4 of 45 in 10 days, by hand: -0.0889 × 36.525 a year.
    assert told_trend(recheck, mechanic, dial).per_year == pytest.approx(-4 / 45 * 36.525)


def told_trend(visit, by, dial):
    return read(visit, by, dial).values[0].trend


def test_what_a_joint_forbids_is_refused_with_what_is_done_instead(recheck, mechanic, dial, fit):
    SheetJoint.objects.filter(version=fit.sheet_version).update(
        feature="locking-patch", recheck="not-allowed", recheck_reason="thread-locking patch"
    )
    place = Place(visit_for(mechanic, recheck.uuid), NOW)
    errors = STEPS["fasteners"].read({"joint0.how": "read"}, place).errors
    assert errors["joint0.how"] == (
        "hub bolts: The data sheet says this joint must not be re-checked (thread-locking patch): leave it empty. "
        "A patch that has cured is broken by movement: fit a screw with a new patch."
    )
    assert STEPS["fasteners"].offers(place.visit, {}) == []


def test_a_prevailing_torque_is_added_to_what_is_asked_and_taken_off_what_is_read(recheck, mechanic, dial, wrench, fit):
    SheetJoint.objects.filter(version=fit.sheet_version).update(feature="prevailing-torque", prevailing_nm=6.0)
    visit = visit_for(mechanic, recheck.uuid)
    assert STEPS["fasteners"].offers(visit, {})[0].fields["joint0.torque"] == "51"
    fifty = {f"joint0.position{n}": "51" for n in range(1, 9)}
    verdict = (
        read(
            recheck,
            mechanic,
            dial,
            **fifty,
        )
        .values[0]
        .verdict
    )
    assert verdict.lowest.compared[0].ratio == pytest.approx(1.0)
    typed = {"joint0.how": "read", "joint0.instrument": dial.serial} | fifty | {"joint0.position4": "6"}
    errors = STEPS["fasteners"].read(typed, Place(visit, NOW)).errors
    assert errors == {"joint0.position4": "This is no more than the nut's own prevailing torque."}


@pytest.mark.parametrize(
    ("typed", "field", "said"),
    [
        ({"joint0.turned_out": "9"}, "joint0.turned_out", "numbers from 1 to 8, such as 3, 7."),
        ({"joint0.turned_out": "three"}, "joint0.turned_out", "numbers from 1 to 8"),
        ({"joint0.moved": "3"}, "joint0.moved", "enter the torque at the position"),
        ({"joint0.torque": "45"}, "joint0.torque", "belongs to a position"),
    ],
)
def test_what_cannot_be_taken_is_refused_beside_its_field(recheck, mechanic, dial, typed, field, said):
    assert said in read(recheck, mechanic, dial, **typed).errors[field]


def test_a_screw_found_turned_out_needs_the_torque_of_its_new_tightening(recheck, mechanic, dial):
    missing = read(recheck, mechanic, dial, **{"joint0.turned_out": "3", "joint0.position3": ""}).missing
    assert missing == {"joint0.position3": "hub bolts: the torque to which position 3 was tightened anew is missing."}
    verdict = read(recheck, mechanic, dial, **{"joint0.turned_out": "3"}).values[0].verdict
    assert (verdict.verdict, verdict.positions[2].reason) == (
        "out of tolerance", "found turned out: a new installation",
    )  # fmt: skip


def test_a_click_wrench_says_only_which_screws_moved(recheck, mechanic, wrench):
    typed = {"joint0.how": "set", "joint0.torque": "45", "joint0.instrument": wrench.serial, "joint0.moved": "2 7"}
    save(recheck, "fasteners", typed, mechanic)
    place = Place(visit_for(mechanic, recheck.uuid), NOW)
    values = read_entry(place.visit, "fasteners").values
    assert values[0].verdict.verdict == "not known"
    assert values[0].trend is None
    rows = {row.position: row for row in STEPS["fasteners"].facts(values, place)}
    assert set(rows) == {None, 2, 7}
    assert (rows[2].found, rows[2].verdict) == ("moved", "not known")
    assert (rows[None].torque_nm, rows[None].found) == (pytest.approx(45), "")


def test_an_exception_set_lower_leaves_the_joint_not_known(recheck, mechanic, wrench):
    typed = {"joint0.how": "set", "joint0.torque": "45", "joint0.instrument": wrench.serial, "joint0.position5": "20"}
    save(recheck, "fasteners", typed, mechanic)
    verdict = read_entry(visit_for(mechanic, recheck.uuid), "fasteners").values[0].verdict
    assert verdict.verdict == "not known"


def test_at_an_installation_a_set_torque_is_done_and_not_judged(visit, mechanic, wrench):
    save(visit, "fasteners", {"joint0.how": "set", "joint0.torque": "45", "joint0.instrument": "T-1"}, mechanic)
    values = read_entry(visit_for(mechanic, visit.uuid), "fasteners").values
    assert values[0].verdict is None
    assert told(visit, mechanic).verdict == ""


def test_the_comparison_is_kept_in_the_record(filled, mechanic, dial):
    save(filled, "fasteners", {"joint0.torque": "", "joint0.how": "read", "joint0.instrument": dial.serial} | EIGHT
         | {"joint0.position3": "36"}, mechanic, seen=1)  # fmt: skip
    with recording(by=mechanic, at=NOW):
        record = sign_visit(visit=filled)
    facts = {one["position"]: one for one in json.loads(record.text)["facts"]["fasteners"]}
    assert (facts[3]["verdict"], facts[3]["reason"]) == ("out of tolerance", "20 % below specified torque")
    assert (facts[3]["specified_nm"], facts[3]["u_nm"]) == (45.0, pytest.approx(0.36))
    assert facts[1]["verdict"] == "in tolerance"
    assert Torque.objects.get(record=record, position=3).verdict == "out of tolerance"


def test_a_torque_signed_before_it_was_compared_reads_as_it_was_signed():
    assert columns(Torque(joint="hub bolts", how="set", torque_nm=45.0)) == {
        "joint": "hub bolts", "how": "set", "position": None, "torque_nm": 45.0, "instrument": None,
        "out_of_calibration": False,
    }  # fmt: skip


def test_the_wrench_offered_is_the_one_last_used_here_in_calibration(recheck, mechanic, fit, wrench, site):
    other = InstrumentFactory(site=site, kind="torque-set", name="Click wrench", serial="T-2")
    assert last_wrench(recheck) is None  # two wrenches, none used: somebody has to choose
    for on, tool in ((date(2026, 10, 3), other), (date(2026, 10, 4), wrench)):
        visit = signed_visit(fit, on=on, by=mechanic)
        Torque.objects.create(
            visit=visit, record=visit.record, joint="hub bolts", how="set", torque_nm=45, instrument=tool
        )
    assert last_wrench(recheck) == wrench
    wrench.calibration_days = 30
    wrench.save()
    assert last_wrench(recheck) == other
    offer = STEPS["fasteners"].offers(visit_for(mechanic, recheck.uuid), {})[0]
    assert offer.label.replace("\u00a0", " ") == "All 8 set to 45.0 N·m with Click wrench T-2"


def test_a_typed_wrench_goes_before_the_one_last_used(recheck, mechanic, wrench, site):
    other = InstrumentFactory(site=site, kind="torque-set", name="Click wrench", serial="T-2")
    offers = STEPS["fasteners"].offers(visit_for(mechanic, recheck.uuid), {"joint0.instrument": "T-2"})
    assert offers[0].fields["joint0.instrument"] == str(other.uuid)


@pytest.mark.parametrize(("feature", "recheck", "comes"), [
    ("", "allowed", True), ("prevailing-torque", "allowed", True), ("single-use", "not-allowed", False),
])  # fmt: skip
def test_whether_a_torque_check_comes_due_still_follows_the_recheck_rule(fit, feature, recheck, comes):
    SheetJoint.objects.filter(version=fit.sheet_version).update(feature=feature, recheck=recheck)
    assert facts_of([fit.coupling], TODAY)[fit.coupling.pk].rechecks is comes


def test_set_screws_are_held_against_the_shafts_torque_as_advice(visit, mechanic, fit):
    version = fit.sheet_version
    version.set_screw_size, version.set_screw_torque_nm = "1/2", None
    version.bore_mm, version.set_screw_angle_deg = 60.0, 60.0
    version.save()
    said = STEPS["set-screws"].tells(visit_for(mechanic, visit.uuid), {"driver_count": "1", "driven_count": "3"})
    # 3000 lbf on a radius of 30 mm, over 4; 315 kW at 2980 rpm: by hand 400.3 N·m, 100.1 N·m and 1009 N·m.
    answer = said.answer("metric")["sides"]
    assert answer[0]["torsional"]["value"] == pytest.approx(3000 * 4.4482216 * 0.030, rel=1e-6)
    assert answer[0]["torsional_allowed"]["value"] == pytest.approx(3000 * 4.4482216 * 0.030 / 4, rel=1e-6)
    assert answer[0]["shaft_torque"]["value"] == pytest.approx(9549.2966 * 315 / 2980, rel=1e-6)
    assert said.sentences[0].endswith("more than that, so a key or the fit has to carry it.")
    assert "None, one, two or four screws are reckoned with." in said.sentences[1]
