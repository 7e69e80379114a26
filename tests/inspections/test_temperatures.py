"""Surveys taken warm are judged as they would be at the site's reference temperature, in either frame."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from couplings.engineering.alignment import Misalignment, at, direct, swapped, to_record
from couplings.engineering.tables.coefficients import STARTER_COEFFICIENTS
from couplings.engineering.thermal import Layer, Support, corrected
from couplings.models import GrowthCoefficient
from inspections.models import Placement, SurveyResult
from inspections.selectors.verification import verify
from inspections.selectors.visits import draft_result
from inspections.services.amendments import amend_visit
from inspections.services.signing import sign_visit
from inspections.steps.rows import columns
from inspections.steps.temperatures import TEMPERATURE_U_K, Ground, Leg, correct
from plant.recording import recording
from tests.factories import NOW
from tests.inspections.test_signed_frame import exchanged
from tests.inspections.visits import IN_LINE, PLACEMENT, PRINTED, fill_installation, save

IRON = next(row for row in STARTER_COEFFICIENTS if row.material == "gray iron")
WARM = {"driver_support": "35", "driven_support": "20"}


def live(visit, by, fields, number=1):
    save(visit, "alignment", fields, by, number=number)
    return draft_result(type(visit).objects.get(pk=visit.pk), "alignment", number)


def sign(visit, by, **more):
    with recording(by=by, at=NOW):
        return sign_visit(visit=visit, **more)


def test_fifteen_degrees_over_400_mm_of_iron_are_seven_hundredths(visit, mechanic):
    """The published figure for it is 0.07 mm; all four planes alike, so the offset and not the slope."""
    for machine in (visit.coupling.driver_machine, visit.coupling.driven_machine):
        machine.foot_planes.update(support_height_mm=400)

    found = live(visit, mechanic, IN_LINE | WARM)

    # The warm motor stands high: cold it is 0.07 mm lower than it reads.
    assert found.misalignment.mean[0] == pytest.approx(-0.07, abs=0.005)
    assert found.misalignment.mean[2] == pytest.approx(0, abs=1e-9)
    assert found.correction.as_read.mean == pytest.approx((0, 0, 0, 0), abs=1e-9)
    assert found.feet[0].move.up_mm == pytest.approx(0.07, abs=0.005)
    u = math.hypot(400 * 15 * 1e-6 * IRON.alpha_u, 400e-6 * IRON.alpha * TEMPERATURE_U_K * math.sqrt(2))
    assert found.misalignment.covariance[0][0] == pytest.approx(found.correction.as_read.covariance[0][0] + u**2)


def test_the_sites_own_coefficient_corrects_the_survey_and_only_its_row_for_the_support_material(visit, mechanic):
    for machine in (visit.coupling.driver_machine, visit.coupling.driven_machine):
        machine.foot_planes.update(support_height_mm=400)
    by_starter = live(visit, mechanic, IN_LINE | WARM)
    rows = {"site": visit.site, "source": "invented for a test", "per_k_u": 0.1}
    GrowthCoefficient.objects.create(material="carbon steel", per_k=30, **rows)
    assert live(visit, mechanic, IN_LINE | WARM).misalignment.mean == by_starter.misalignment.mean

    GrowthCoefficient.objects.create(material="gray iron", per_k=10, **rows)
    found = live(visit, mechanic, IN_LINE | WARM)

    # 10 millionths of 400 mm, 15 times.
    assert found.misalignment.mean[0] == pytest.approx(-0.06)
    u = math.hypot(400 * 15 * 1e-6 * 0.1, 400e-6 * 10 * TEMPERATURE_U_K * math.sqrt(2))
    assert found.misalignment.covariance[0][0] == pytest.approx(found.correction.as_read.covariance[0][0] + u**2)
    assert {leg["alpha"] for leg in found.correction.as_json()["supports"]} == {10}


def test_each_machine_grows_by_its_own_material(visit, mechanic):
    """Both supports 15 K warm: a frame of aluminium rises by its own coefficient, the iron of the other by iron's."""
    for machine in (visit.coupling.driver_machine, visit.coupling.driven_machine):
        machine.foot_planes.update(support_height_mm=400)
    warm = {"driver_support": "35", "driven_support": "35"}
    alike = live(visit, mechanic, IN_LINE | warm)
    assert alike.misalignment.mean[0] == pytest.approx(0, abs=1e-9)
    assert alike.correction.as_json()["material"] == "gray iron"
    # What two frames of one material share cancels: only the two thermometers are left.
    only_thermometers = 400e-6 * IRON.alpha * TEMPERATURE_U_K * math.sqrt(2)
    as_read = alike.correction.as_read.covariance[0][0]
    assert alike.misalignment.covariance[0][0] == pytest.approx(as_read + only_thermometers**2)

    rows = {"site": visit.site, "source": "invented for a test", "per_k_u": 0.1}
    GrowthCoefficient.objects.create(material="aluminium 6061", per_k=30, **rows)
    GrowthCoefficient.objects.create(material="gray iron", per_k=10, **rows)
    visit.coupling.driver_machine.support_material = "aluminium 6061"
    visit.coupling.driver_machine.save()
    found = live(visit, mechanic, IN_LINE | warm)

    # 30 against 10 millionths of 400 mm, 15 times; the two coefficients are wrong independently of each other.
    assert found.misalignment.mean[0] == pytest.approx(-400 * 15 * 20e-6)
    u = math.hypot(400 * 15 * 0.1e-6, 400 * 15 * 0.1e-6, 400 * 30e-6 * TEMPERATURE_U_K, 400 * 10e-6 * TEMPERATURE_U_K)
    assert found.misalignment.covariance[0][0] == pytest.approx(found.correction.as_read.covariance[0][0] + u**2)
    kept = found.correction.as_json()
    assert kept["material"] == "driver-side aluminium 6061, driven-side gray iron"
    assert [(leg["side"], leg["alpha"]) for leg in kept["supports"]] == [("driver", 30)] * 2 + [("driven", 10)] * 2


def test_a_warm_survey_and_the_same_shafts_read_cold_agree_once_corrected(visit, mechanic):
    """Constructed another way: the warm shafts are drawn foot by foot, then read by two dials as plain geometry."""
    cold_offset, cold_slope = 0.05, -0.3
    rises = {"outboard": 355e-6 * IRON.alpha * 18, "inboard": 355e-6 * IRON.alpha * 18}
    low = {"inboard": 355e-6 * IRON.alpha * -6, "outboard": 355e-6 * IRON.alpha * -6}
    # Motor feet 770 and 270 mm from the centre, pump feet 270 and 770 mm on the other side, every plane on its own.
    motor = np.polyfit([0.770, 0.270], [rises["outboard"], rises["inboard"]], 1)
    pump = np.polyfit([-0.270, -0.770], [low["inboard"], low["outboard"]], 1)
    warm = (cold_offset + motor[1] - pump[1], cold_slope + motor[0] - pump[0])

    def dials(offset, slope, kept):
        """Rim dials at 75 and -75 mm without sag: 6 o'clock less 12 is twice the fall (or rise) of the shaft there."""
        far, near = offset + slope * 0.075, offset - slope * 0.075
        return kept | {
            "set0.sag": "0", "set1.sag": "0", "set0.12": "0", "set1.12": "0",
            "set0.6": f"{-2 * far:.9f}", "set1.6": f"{2 * near:.9f}",
            "set0.3": f"{-far:.9f}", "set0.9": f"{-far:.9f}", "set1.3": f"{near:.9f}", "set1.9": f"{near:.9f}",
        }  # fmt: skip

    cold = live(visit, mechanic, dials(cold_offset, cold_slope, PRINTED), 1)
    hot = live(visit, mechanic, dials(*warm, PRINTED | {"driver_support": "38", "driven_support": "14"}), 2)

    assert cold.correction.added is None
    assert hot.correction.as_read.mean[0] == pytest.approx(warm[0], abs=1e-6)
    assert hot.misalignment.mean == pytest.approx(cold.misalignment.mean, abs=1e-6)
    assert hot.misalignment.covariance[0][0] > cold.misalignment.covariance[0][0]


@pytest.mark.parametrize(
    ("change", "fields", "why"),
    [
        ({}, {}, "not corrected: no support temperatures were measured"),
        ({}, {"driver_support": "35"}, "not corrected: the temperature of the driven-side supports was not measured"),
        ({"support_height_mm": None}, WARM, "not corrected: no support heights in the register for the driven-side"),
    ],
)
def test_what_is_missing_is_named_and_nothing_is_changed(visit, mechanic, wrench, change, fields, why):
    if change:
        visit.coupling.driven_machine.foot_planes.filter(name="inboard").update(**change)
    plain = live(visit, mechanic, PRINTED, 1)
    found = live(visit, mechanic, PRINTED | fields, 2)

    assert found.correction.missing.startswith(why)
    assert found.misalignment == plain.misalignment
    assert (found.verdict, found.judgement.tolerance_used) == (plain.verdict, plain.judgement.tolerance_used)

    fill_installation(visit, mechanic, wrench, left=IN_LINE | fields)
    visit.entries.filter(step="alignment").delete()
    sign(visit, mechanic)
    result = SurveyResult.objects.get()
    assert result.correction["applied"] is False
    assert result.correction["why"].startswith(why)


def test_feet_that_are_not_in_the_register_are_named(visit, mechanic):
    visit.coupling.driven_machine.foot_planes.all().delete()
    found = live(visit, mechanic, PRINTED | WARM)
    assert found.correction.missing == "not corrected: the feet of the driven-side machine are not in the register"


def test_the_record_keeps_both_and_the_rule(visit, mechanic, engineer, wrench):
    fill_installation(visit, mechanic, wrench, left=IN_LINE | WARM)
    record = sign(visit, mechanic)

    result = SurveyResult.objects.get()
    kept = result.correction
    assert (result.rule_version, kept["applied"], kept["material"]) == ("alignment-2", True, "gray iron")
    assert kept["offset_v_mm"] == pytest.approx(-355e-6 * IRON.alpha * 15)
    assert result.offset_v_mm - kept["offset_v_mm"] == pytest.approx(0, abs=1e-9), "as read: in line"
    assert [leg["x_mm"] for leg in kept["supports"]] == [270, 770, -270, -770]
    assert verify().findings == []

    # What is not amended goes over as it was, though the site has another reference now.
    visit.refresh_from_db()
    visit.site.reference_degc = 40
    visit.site.save()
    with recording(by=engineer, at=NOW):
        second = amend_visit(visit=visit, steps={"placement": PLACEMENT}, reason="the rule was read wrongly")
    assert SurveyResult.objects.get(survey__record=second).correction == kept
    assert verify().findings == []
    assert record.digest != second.digest


def test_a_text_signed_before_surveys_were_corrected_still_agrees_with_its_rows():
    assert "correction" not in columns(SurveyResult(rule_version="alignment-1"))
    assert columns(SurveyResult(correction={"applied": False, "why": "-"}))["correction"]["why"] == "-"
    assert not {"driver_orientation", "hub_face_gap_mm"} & set(columns(Placement(dbse_mm=140.0)))


def test_the_correction_is_the_same_whichever_machine_moved(visit, mechanic):
    one = live(visit, mechanic, PRINTED | WARM, 1)
    other = live(visit, mechanic, exchanged(PRINTED | WARM), 2)

    assert other.record.mean == pytest.approx(one.record.mean, abs=1e-9)
    assert other.judgement.tolerance_used == pytest.approx(one.judgement.tolerance_used)
    assert other.misalignment.mean == pytest.approx(swapped(one.misalignment).mean, abs=1e-9)


degc = st.integers(-20, 90).map(float)
height = st.integers(50, 900).map(float)
figures = st.tuples(*[st.integers(-100, 100).map(lambda n: n / 100)] * 4)


@given(figures, degc, degc, height, height, height, height, st.sampled_from(("driver", "driven")))
def test_corrected_in_the_record_or_in_the_crews_frame_is_the_same(mean, driver, driven, h1, h2, h3, h4, stationary):
    """The other way round: correct in the frame the crew worked in, then convert."""
    legs = (
        Leg("driver", "inboard", 270, h1), Leg("driver", "outboard", 770, h2),
        Leg("driven", "inboard", -320, h3), Leg("driven", "outboard", -900, h4),
    )  # fmt: skip
    survey = direct(mean[:2], mean[2:], offset_u_mm=(0.01, 0.02), slope_u_mrad=(0.03, 0.04)).misalignment

    found, correction = correct(to_record(survey, stationary), Ground(20.0, IRON, legs), driver, driven)

    def supports(side, outwards):
        warm = driver if side == "driver" else driven
        layer = {"alpha": IRON.alpha, "alpha_u": IRON.alpha_u, "from_u_k": TEMPERATURE_U_K, "coefficient": "iron"}
        return [
            Support(leg.name, outwards * abs(leg.x_mm), (Layer(leg.height_mm, from_degc=warm, to_degc=20.0,
                    from_thermometer=side, **layer),))
            for leg in legs if leg.side == side
        ]  # fmt: skip

    movable = "driver" if stationary == "driven" else "driven"
    there = to_record(corrected(survey, supports(stationary, -1), supports(movable, 1)), stationary)
    assert found.mean == pytest.approx(there.mean, abs=1e-9)
    assert np.array(found.covariance) == pytest.approx(np.array(there.covariance), abs=1e-12)
    assert correction.missing == ""
    # Straight from the definition: at each plane the shaft comes back by what its supports grew there.
    back = 1e-6 * IRON.alpha * (20.0 - driver)
    motor = Misalignment.of(np.array(correction.added.mean), correction.added.covariance)
    pump_line = np.polyfit([-0.320, -0.900], [1e-6 * IRON.alpha * (20.0 - driven) * h for h in (h3, h4)], 1)
    for x_mm, h in ((270, h1), (770, h2)):
        assert at(motor, x_mm)[0][0] + np.polyval(pump_line, x_mm / 1000) == pytest.approx(back * h, abs=1e-9)
