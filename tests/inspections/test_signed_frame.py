"""What is signed stands in the one frame, whichever machine moved, from wherever it was seen, in whatever unit."""

import math

import pytest

from inspections.models import (
    Reading,
    SurveyResult,
)
from inspections.selectors.visits import draft_result
from inspections.services.signing import sign_visit
from plant.recording import recording
from tests.factories import NOW
from tests.inspections.visits import IN_LINE, PRINTED, fill_installation, save

# The answer printed with the survey in the description of the alignment calculation: offset up and right of the movable
# shaft [mm], angularity [mm/m], flex angles A and B [mm/m], moves [mm].
PRINTED_OFFSET, PRINTED_SLOPE = (-0.14, -0.03), (-0.4, 0.0)


def sign(visit, by, **more):
    with recording(by=by, at=NOW):
        return sign_visit(visit=visit, **more)


def result_of(record, **role):
    return SurveyResult.objects.get(survey__record=record, **{f"survey__{name}": held for name, held in role.items()})


def numbers(result):
    return (result.offset_v_mm, result.offset_h_mm, result.slope_v_mrad, result.slope_h_mrad)


def exchanged(survey):
    """The same shafts read with the other machine standing still.

    Constructed by walking round the machines: carrier, plane and clock of each dial turn over, the readings stay. The
    dial that the stationary shaft carried is carried by the movable one, x is measured the other way, and what was at
    3 o'clock is at 9.
    """
    turned = dict(survey) | {"stationary": "driver" if survey["stationary"] == "driven" else "driven"}
    for mine, other in (("set0", "set1"), ("set1", "set0")):
        turned[f"{mine}.x"] = survey[f"{other}.x"].removeprefix("-") if mine == "set0" else f"-{survey[f'{other}.x']}"
        for here, there in (("12", "12"), ("3", "9"), ("6", "6"), ("9", "3")):
            turned[f"{mine}.{here}"] = survey[f"{other}.{there}"]
    return turned


def in_thou(survey):
    """The same survey typed in thousandths of an inch, by a crew whose tools are so divided."""
    lengths = [name for name in survey if name.startswith("set") and survey[name]]
    return survey | {name: f"{float(survey[name].replace(',', '.')) / 0.0254:.9f} thou" for name in lengths}


@pytest.mark.parametrize(
    "typed",
    [
        pytest.param(exchanged(PRINTED), id="the driven machine was moved"),
        pytest.param(in_thou(PRINTED), id="in inches"),
        pytest.param(in_thou(exchanged(PRINTED)), id="the driven machine was moved, in inches"),
    ],
)
def test_the_record_is_the_same_whichever_machine_moved_and_whatever_the_unit(visit, mechanic, wrench, typed):
    fill_installation(visit, mechanic, wrench, left=typed)

    result = result_of(sign(visit, mechanic, left_so_reason="as found by the crew"), as_left=True)

    assert numbers(result) == pytest.approx((*PRINTED_OFFSET, *PRINTED_SLOPE), abs=1e-7)
    assert result.tolerance_used == pytest.approx(math.hypot(0.14, 0.03) / 0.2, abs=1e-7)


def test_a_crew_at_the_stationary_machine_writes_the_mirrored_clock(visit, mechanic, wrench):
    seen = dict(PRINTED) | {"viewed_from": "stationary"}
    for number in ("set0", "set1"):
        seen[f"{number}.3"], seen[f"{number}.9"] = PRINTED[f"{number}.9"], PRINTED[f"{number}.3"]
    fill_installation(visit, mechanic, wrench, left=seen)

    record = sign(visit, mechanic, left_so_reason="as found by the crew")

    assert numbers(result_of(record, as_left=True)) == pytest.approx((*PRINTED_OFFSET, *PRINTED_SLOPE), abs=1e-9)
    right_hand = Reading.objects.get(set__survey__record=record, set__number=1, angle_deg=90)
    assert right_hand.typed == "0,12", "stored as the movable machine's observer would have named it"


def test_the_target_turns_with_the_observer(visit, mechanic):
    # Wanted: 0.10 up and 0.02 right of the driver-side shaft, seen from the driver end. Constructed; the rule of the
    # exchange (offset V, H becomes -V, +H) is confirmed by simulation in tests/couplings/engineering.
    visit.coupling.target_parts.create(offset_v_mm=0.10, offset_h_mm=0.02, on=NOW.date())
    save(visit, "alignment", PRINTED, mechanic, number=1)
    save(visit, "alignment", exchanged(PRINTED), mechanic, number=2)

    one, other = (draft_result(visit, "alignment", number) for number in (1, 2))

    assert one.from_target.mean[:2] == pytest.approx((-0.24, -0.05))
    assert other.target[:2] == pytest.approx((-0.10, 0.02))
    assert other.judgement.tolerance_used == pytest.approx(one.judgement.tolerance_used)


def test_flex_planes_keep_the_crews_names_on_the_page_and_the_records_in_the_record(visit, mechanic):
    visit.sheet_version.limits.create(quantity="flex-angle", stated_as="slope", stated_value=2.0, value=2.0)
    save(visit, "alignment", PRINTED, mechanic, number=1)
    save(visit, "alignment", exchanged(PRINTED), mechanic, number=2)

    def angle(number, quantity):
        lines = draft_result(visit, "alignment", number).lines
        return next(line.value for line in lines if line.quantity == quantity)

    # Printed: A (-1.2, -0.214), B (0.8, 0.214), A on the stationary side; with the other machine still, A is B.
    assert angle(1, "flex-angle-a") == pytest.approx(math.hypot(1.2, 0.214), abs=5e-4)
    assert angle(2, "flex-angle-a") == pytest.approx(math.hypot(0.8, 0.214), abs=5e-4)
    assert angle(2, "flex-angle-b") == pytest.approx(angle(1, "flex-angle-a"))


def test_top_and_bottom_alone_solve_their_own_plane(visit, mechanic):
    vertical = {name: text for name, text in PRINTED.items() if name[5:] not in ("3", "9")}
    save(visit, "alignment", vertical, mechanic, number=1)

    live = draft_result(visit, "alignment", 1)

    assert (live.misalignment.mean[0], live.misalignment.mean[2]) == pytest.approx((-0.14, -0.4))
    assert not live.misalignment.has_horizontal
    assert live.verdict == "not known"
    assert "read 3 and 9 too" in live.judgement.reason
    assert live.feet[0].move.up_mm == pytest.approx(0.14 + 0.4 * 0.270)


def test_a_plane_that_was_not_read_is_stored_empty(visit, mechanic, wrench):
    vertical = {name: text for name, text in IN_LINE.items() if name[5:] not in ("3", "9")}
    fill_installation(visit, mechanic, wrench, left=vertical)

    result = result_of(sign(visit, mechanic), as_left=True)

    assert (result.offset_v_mm, result.slope_v_mrad) == pytest.approx((0, 0), abs=1e-12)
    assert (result.offset_h_mm, result.slope_h_mrad, result.verdict) == (None, None, "not known")
