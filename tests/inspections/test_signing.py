"""Signing: all entries become rows under one chained record, in the one frame, or nothing does."""

import json
import math

import pytest

from couplings.models import Element, Grade, GradeRow
from inspections.models import (
    ElementFact,
    Flag,
    Placement,
    Reading,
    ReadingSet,
    SignedRecord,
    Survey,
    SurveyResult,
    Torque,
    Visit,
)
from inspections.selectors.visits import draft_result, latest_as_left
from inspections.services.signing import sign_visit, summary_of
from inspections.steps.records import digest_of
from plant.models import Event
from plant.recording import recording
from plant.refusals import NotAllowed, Refused, Stale
from tests.factories import NOW, InstrumentFactory
from tests.inspections.visits import ELEMENT, IN_LINE, PRINTED, begin, fasteners, fill_installation, save

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


def test_an_installation_becomes_one_record_with_every_row(filled, mechanic):
    record = sign(filled, mechanic)

    filled.refresh_from_db()
    assert (filled.state, filled.signed_by, filled.record) == (Visit.State.SIGNED, mechanic, record)
    assert (record.number, record.kind, record.previous_digest) == (1, "visit", "")
    assert record.digest == digest_of("", record.text)
    assert Survey.objects.get(record=record).as_left
    assert ReadingSet.objects.filter(survey__record=record).count() == 2
    assert Reading.objects.filter(set__survey__record=record).count() == 8
    assert Placement.objects.get(record=record).driver_share == pytest.approx(78 / 80)  # 78 mm of an 80 mm bore
    assert ElementFact.objects.get(record=record).batch == "B7"
    assert Torque.objects.get(record=record).torque_nm == pytest.approx(45)
    assert result_of(record, as_left=True).verdict == "in tolerance"
    assert latest_as_left(filled.coupling).record == record


def test_the_fit_takes_over_what_was_left(filled, mechanic):
    sign(filled, mechanic)

    filled.fit.refresh_from_db()
    assert filled.fit.dbse_mm == pytest.approx(140.2)
    assert Element.objects.get(fit=filled.fit, removed_on__isnull=True).part_number == "E-80"
    assert set(Event.objects.values_list("kind", flat=True)) >= {"visit.signed", "element.fitted"}


def test_the_text_keeps_readings_as_typed_with_results_rules_and_names(filled, mechanic):
    text = json.loads(sign(filled, mechanic).text)

    typed = next(step["typed"] for step in text["steps"] if step["step"] == "as-left")
    assert typed["set1.9"] == "-0.02"
    assert text["rule_version"] == text["surveys"][0]["result"]["rule_version"]
    assert text["names"]["driver_machine"] == "motor"
    assert text["names"]["work_order"]["permit"] == "P-100"
    assert text["sheet"]["digest"] == filled.sheet_version.digest
    assert text["settings"] == {
        "confidence": 0.95, "closure_limit_mm": 0.05, "reading_u_mm": 0.01, "engagement_share": 0.8, "units": "metric",
    }  # fmt: skip
    assert text["instruments"][str(Torque.objects.get().instrument.uuid)]["serial"] == "T-1"


def test_the_printed_survey_gives_the_printed_answer_live_and_signed(visit, mechanic, wrench):
    fill_installation(visit, mechanic, wrench, left=PRINTED)

    live = draft_result(visit, "as-left")
    assert live.misalignment.mean == pytest.approx((*PRINTED_OFFSET, *PRINTED_SLOPE), abs=1e-9)
    assert live.flex_angles == pytest.approx((-1.2, -0.214, 0.8, 0.214), abs=5e-4)
    # The sheet here allows 0.20 mm and 1 mm/m, so the offset governs: hypot(0.14, 0.03) / 0.20.
    assert live.judgement.tolerance_used == pytest.approx(math.hypot(0.14, 0.03) / 0.2)
    moves = {foot.move.name: foot.move for foot in live.feet}
    # The printed feet stand at 250 and 700 mm, these at 70 + 200 and 70 + 700: up 0.14 + 0.4 x.
    assert moves["inboard"].up_mm == pytest.approx(0.14 + 0.4 * 0.270)
    assert moves["outboard"].up_mm == pytest.approx(0.14 + 0.4 * 0.770)
    assert [moves[name].right_mm for name in ("inboard", "outboard")] == pytest.approx([0.03, 0.03])

    result = result_of(sign(visit, mechanic, left_so_reason="Pipe strain, new spring in June"), as_left=True)
    assert numbers(result) == pytest.approx((*PRINTED_OFFSET, *PRINTED_SLOPE), abs=1e-9)
    assert result.decision == "guarded"


def test_typed_feet_take_the_place_of_the_registers(visit, mechanic, wrench):
    feet = {"feet0.name": "inboard", "feet0.x": "250", "feet1.name": "outboard", "feet1.x": "700"}
    save(visit, "alignment", PRINTED | feet, mechanic, number=1)

    live = draft_result(visit, "alignment", 1)
    assert [foot.move.up_mm for foot in live.feet] == pytest.approx([0.24, 0.42])  # as printed
    # Shims of 0.05 mm: 0.24 is nearest to five of them, 0.42 to eight, common practice.
    assert [foot.shim_mm for foot in live.feet] == pytest.approx([0.25, 0.40])


def test_both_families_get_their_own_verdict(visit, mechanic, wrench):
    grade = Grade.objects.create(site=visit.site, name="Pumps", criticalities="A")
    GradeRow.objects.create(grade=grade, up_to_rpm=3600, offset_mm=0.05, source="invented for this test")
    fill_installation(visit, mechanic, wrench, left=PRINTED)

    result = result_of(sign(visit, mechanic, left_so_reason="no shims left"), as_left=True)

    # 0.143 mm is inside the sheet's 0.20 and far outside the grade's 0.05.
    assert (result.sheet_verdict, result.grade_verdict) == ("in tolerance", "out of tolerance")
    assert result.verdict == "out of tolerance"


def test_out_of_tolerance_is_signed_only_with_a_reason_and_opens_a_flag(visit, mechanic, wrench):
    visit.sheet_version.limits.filter(quantity="offset").update(value=0.05)
    fill_installation(visit, mechanic, wrench, left=PRINTED)
    summary = summary_of(visit)
    assert (summary.verdict, summary.needs_reason, summary.ready) == ("out of tolerance", True, True)

    with pytest.raises(Refused) as refused:
        sign(visit, mechanic)
    assert refused.value.as_dict() == {
        "left_so_reason": "As-left is out of tolerance: say why it is left so; a flag is opened for it."
    }
    assert not SignedRecord.objects.exists()
    assert not Survey.objects.exists()

    sign(visit, mechanic, left_so_reason="Sole plate cracked, order 4711")
    visit.refresh_from_db()
    assert visit.left_so_reason == "Sole plate cracked, order 4711"
    flag = Flag.objects.get(coupling=visit.coupling, kind=Flag.Kind.OUT, cleared_at__isnull=True)
    assert (flag.kind, flag.evidence["left_so_reason"]) == ("out-of-tolerance", "Sole plate cracked, order 4711")


def test_a_reason_typed_in_the_last_step_is_taken(visit, mechanic, wrench):
    visit.sheet_version.limits.filter(quantity="offset").update(value=0.05)
    fill_installation(visit, mechanic, wrench, left=PRINTED)
    save(visit, "signature", {"left_so_reason": "Sole plate cracked"}, mechanic)

    sign(visit, mechanic)

    visit.refresh_from_db()
    assert visit.left_so_reason == "Sole plate cracked"


def test_nothing_moved_makes_one_survey_both(fit, order, mechanic):
    visit = begin(fit, order, mechanic, kind="periodic")
    save(visit, "as-found", IN_LINE, mechanic)
    save(visit, "as-left", {"same_as": "as-found"}, mechanic)

    record = sign(visit, mechanic)

    survey = Survey.objects.get(record=record)
    assert (survey.as_found, survey.as_left, survey.result.decision) == (True, True, "guarded")
    visit.refresh_from_db()
    assert visit.nothing_moved


def test_a_round_can_be_kept_as_as_left_and_all_rounds_are_kept(fit, order, mechanic):
    visit = begin(fit, order, mechanic, kind="alignment")
    save(visit, "as-found", PRINTED, mechanic)
    save(visit, "alignment", PRINTED | {"taken_at": "09:00"}, mechanic, number=1)
    save(visit, "alignment", IN_LINE, mechanic, number=2)
    save(visit, "as-left", {"same_as": "round:2"}, mechanic)

    record = sign(visit, mechanic)

    roles = list(Survey.objects.filter(record=record).values_list("number", "as_found", "as_left", "result__decision"))
    assert roles == [(1, True, False, "simple"), (2, False, False, "guarded"), (3, False, True, "guarded")]


def test_after_loosening_nothing_moved_cannot_be_said(fit, order, mechanic):
    visit = begin(fit, order, mechanic, kind="periodic")
    save(visit, "as-found", IN_LINE | {"loosened_at": "09:50"}, mechanic)
    save(visit, "as-left", {"same_as": "as-found"}, mechanic)

    with pytest.raises(Refused, match="Something was loosened after the as-found readings"):
        sign(visit, mechanic)
    assert not SignedRecord.objects.exists()


def test_a_reason_stands_in_for_as_found_but_not_for_an_installations_as_left(fit, order, mechanic, wrench):
    periodic = begin(fit, order, mechanic, kind="periodic")
    save(periodic, "as-found", {"not_measured": "coupling was open when we came"}, mechanic)
    save(periodic, "as-left", IN_LINE, mechanic)
    assert summary_of(periodic).ready

    installation = begin(fit, order, mechanic)
    fill_installation(installation, mechanic, wrench, left={"not_measured": "no time"})
    with pytest.raises(Refused) as refused:
        sign(installation, mechanic)
    assert refused.value.as_dict() == {
        "as-left": "A visit of the kind installation needs this measured; a reason does not stand in its place."
    }


def test_everything_that_is_wanting_is_told_at_once(visit, mechanic):
    save(visit, "placement", {"dbse": "140"}, mechanic)

    with pytest.raises(Refused) as refused:
        sign(visit, mechanic)

    assert set(refused.value.as_dict()) == {
        "placement.driver_engagement", "placement.driven_engagement", "as-left", "element", "fasteners",
    }  # fmt: skip


def test_the_chain_of_a_coupling_goes_on(fit, order, mechanic, wrench):
    first = sign(fill_installation(begin(fit, order, mechanic), mechanic, wrench), mechanic)
    again = begin(fit, order, mechanic, kind="torque")
    save(again, "fasteners", fasteners(wrench), mechanic)

    second = sign(again, mechanic)

    assert (second.number, second.previous_digest) == (2, first.digest)
    assert second.digest == digest_of(first.digest, second.text)


def test_a_torque_read_at_each_position_is_a_row_per_position(fit, order, mechanic, site):
    tool = InstrumentFactory(site=site, kind="torque-read", serial="R-1", calibrated_on="2024-01-01")
    visit = begin(fit, order, mechanic, kind="torque")
    positions = {f"joint0.position{number}": str(40 + number) for number in range(1, 9)}
    save(visit, "fasteners", {"joint0.how": "read", "joint0.instrument": "R-1"} | positions, mechanic)
    assert any("out of calibration" in warning for warning in summary_of(visit).warnings)

    record = sign(visit, mechanic)

    rows = Torque.objects.filter(record=record)
    assert [(row.position, row.torque_nm) for row in rows] == [(number, 40 + number) for number in range(1, 9)]
    assert all(row.out_of_calibration and row.instrument == tool for row in rows)


def test_a_click_wrench_sets_the_pattern_with_exceptions(fit, order, mechanic, wrench):
    visit = begin(fit, order, mechanic, kind="torque")
    save(visit, "fasteners", fasteners(wrench) | {"joint0.position3": "40"}, mechanic)

    record = sign(visit, mechanic)

    rows = {row.position: (row.how, row.torque_nm) for row in Torque.objects.filter(record=record)}
    assert rows == {None: ("set", 45), 3: ("set", 40)}


def test_an_element_replaces_the_one_in_place_with_its_reason(fit, order, mechanic, wrench):
    sign(fill_installation(begin(fit, order, mechanic), mechanic, wrench), mechanic)
    visit = begin(fit, order, mechanic, kind="element")
    save(visit, "element", ELEMENT | {"batch": "B8", "removal_reason": "cracked", "went_to": "scrap"}, mechanic)
    save(visit, "fasteners", fasteners(wrench), mechanic)
    save(visit, "as-left", {"not_measured": "nothing loosened but the element"}, mechanic)

    sign(visit, mechanic)

    old, new = Element.objects.order_by("pk")
    assert (old.removed_on, old.removal_reason, old.went_to) == (visit.on, "cracked", "scrap")
    assert (new.batch, new.removed_on) == ("B8", None)


def test_a_planner_fills_nothing_and_signs_nothing(filled, planner):
    with pytest.raises(NotAllowed, match="does not let you sign visits"):
        sign(filled, planner)


def test_signing_names_the_version_it_saw(filled, mechanic):
    with pytest.raises(Stale):
        sign(filled, mechanic, expected=7)
    assert not SignedRecord.objects.exists()


def test_a_visit_is_signed_once(filled, mechanic):
    sign(filled, mechanic)
    with pytest.raises(Refused, match="a signed visit is corrected by an amendment"):
        sign(filled, mechanic)


def test_signing_takes_the_same_number_of_queries_however_long_the_chain(
    fit, order, mechanic, wrench, connection_queries
):
    counts = []
    for _ in range(3):
        visit = begin(fit, order, mechanic, kind="torque")
        save(visit, "fasteners", fasteners(wrench), mechanic)
        with connection_queries() as seen:
            sign(visit, mechanic)
        counts.append(len(seen))
    assert counts[1] == counts[2]


def test_the_published_one_plane_survey_gives_its_printed_move(visit, mechanic):
    """H. P. Bloch and F. K. Geitner, Machinery Component Maintenance and Repair, p. 203, fig. 5-21 (RV-02).

    Two opposite readings per dial solve their own plane: the printed move of the front feet is .036 in (to three
    decimals, hence the tolerance), from planes 14 in apart with those feet 26 in from the first plane. The book's plane
    is the horizontal one; a dial knows no gravity, so it is read here at 12 and 6.
    """
    survey = {
        "method": "reverse-rim", "stationary": "driven", "viewed_from": "movable",
        "set0.x": "7 inch", "set0.12": "0 inch", "set0.6": "-0.037 inch",
        "set1.x": "-7 inch", "set1.12": "0 inch", "set1.6": "-0.003 inch",
        "feet0.name": "front", "feet0.x": "19 inch", "feet1.name": "back", "feet1.x": "45 inch",
    }  # fmt: skip
    save(visit, "alignment", survey, mechanic, number=1)

    live = draft_result(visit, "alignment", 1)

    assert live.feet[0].move.up_mm / 25.4 == pytest.approx(-0.036, abs=0.0005)
    assert not live.misalignment.has_horizontal
