"""Surveys and the other findings of a draft: warnings that stop nobody, and who stands where."""

import pytest

from inspections.models import ReadingSet, Survey, Torque
from inspections.selectors.visits import draft_result, read_entry, surveys_of, visits_of
from inspections.services.signing import sign_visit, summary_of
from plant.recording import recording
from tests.factories import NOW, InstrumentFactory
from tests.inspections.visits import ELEMENT, IN_LINE, PLACEMENT, PRINTED, fasteners, fill_installation, save


def warnings(visit):
    return " ".join(summary_of(visit).warnings)


@pytest.mark.parametrize(
    "step, fields, said",
    [
        ("placement", PLACEMENT | {"driver_engagement": "60"}, "75% of the bore sits on the shaft; this site asks at"),
        ("placement", PLACEMENT | {"dbse": "142"}, "142.0\u00a0mm; the data sheet asks 140.0\u00a0mm ± 1.0\u00a0mm"),
        ("element", ELEMENT | {"cured_on": "2020-01-01"}, "over its shelf life of 5 years"),
        ("element", ELEMENT | {"cured_on": ""}, "the age of this element will not be known"),
        ("element", ELEMENT | {"part_number": "E-90"}, "Part E-90; the data sheet names E-80"),
    ],
)
def test_a_finding_warns_and_stops_nobody(visit, mechanic, wrench, step, fields, said):
    fill_installation(visit, mechanic, wrench)
    entry = visit.entries.get(step=step)
    save(visit, step, fields, mechanic, seen=entry.version)

    assert said in warnings(visit)
    assert summary_of(visit).ready


def test_a_torque_that_differs_from_the_sheet_is_said_with_both_figures(visit, mechanic, wrench):
    save(visit, "fasteners", fasteners(wrench) | {"joint0.torque": "30"}, mechanic)
    assert "hub bolts: set to 30.0\u00a0N·m; the data sheet asks 45.0\u00a0N·m." in warnings(visit)


def test_the_sheets_torque_typed_in_the_other_system_is_no_difference(visit, mechanic, wrench):
    save(visit, "fasteners", fasteners(wrench) | {"joint0.torque": "33.2 ftlb"}, mechanic)
    assert "the data sheet asks" not in warnings(visit)


def test_positions_that_were_not_read_are_named(visit, mechanic, site):
    InstrumentFactory(site=site, kind="torque-read", serial="R-1")
    read = {"joint0.how": "read", "joint0.instrument": "R-1", "joint0.position1": "45", "joint0.position4": "30"}
    save(visit, "fasteners", read, mechanic)

    assert "not read at positions 2, 3, 5, 6, 7, 8 of 8" in warnings(visit)
    assert "below the data sheet's 45.0\u00a0N·m at position 4" in warnings(visit)


def test_the_instruments_own_uncertainty_is_used_then_the_sites(visit, mechanic, site):
    InstrumentFactory(site=site, serial="D-1", standard_u_mm=0.002)
    plain = {name: text for name, text in PRINTED.items() if not name.endswith(".u")}
    save(visit, "alignment", plain | {"set0.instrument": "D-1"}, mechanic, number=1)

    read = read_entry(visit, "alignment", 1)

    # The second dial has none named: the site's starter of 0.01 mm.
    assert [one.u_mm for one in read.values.request.sets] == [0.002, 0.01]


def test_a_dial_out_of_calibration_is_kept_and_marked(visit, mechanic, wrench, site):
    dial = InstrumentFactory(site=site, serial="D-1", calibrated_on="2025-01-01")
    fill_installation(visit, mechanic, wrench, left=IN_LINE | {"set0.instrument": "D-1"})
    assert "was out of calibration on 2026-10-12" in warnings(visit)

    with recording(by=mechanic, at=NOW):
        record = sign_visit(visit=visit)

    assert ReadingSet.objects.get(survey__record=record, number=1).instrument == dial
    assert not Torque.objects.get(record=record).out_of_calibration


def test_feet_come_from_the_register_and_their_lack_is_said(visit, mechanic):
    save(visit, "alignment", PRINTED, mechanic, number=1)
    # Motor: shaft 1000 mm, feet 800 and 300 from its driver-side end; half of 140 mm between the shaft ends.
    assert [(foot.move.name, foot.move.x_mm) for foot in draft_result(visit, "alignment", 1).feet] == [
        ("inboard", 270.0),
        ("outboard", 770.0),
    ]
    visit.coupling.driver_machine.foot_planes.all().delete()

    live = draft_result(type(visit).objects.get(), "alignment", 1)

    assert live.feet == ()
    assert "feet of the driver-side machine are not in the register" in live.feet_missing


def test_what_shims_leave_is_judged_too(visit, mechanic):
    save(visit, "alignment", PRINTED, mechanic, number=1)

    live = draft_result(visit, "alignment", 1)

    # Wanted 0.248 and 0.448 up; of 0.05 mm shims 0.25 and 0.45 can be put in: 0.002 too high at both feet.
    assert [foot.shim_mm for foot in live.feet] == pytest.approx([0.25, 0.45])
    assert [foot.left_mm for foot in live.feet] == pytest.approx([-0.002, -0.002])
    assert live.expected.tolerance_used == pytest.approx(0.002 / 0.2)


def test_an_axial_limit_counts_once_the_hubs_are_placed(visit, mechanic):
    visit.sheet_version.limits.create(quantity="axial", stated_as="length", stated_value=1.5, value=1.5)
    save(visit, "alignment", IN_LINE, mechanic, number=1)
    save(visit, "as-left", IN_LINE, mechanic)
    assert draft_result(visit, "alignment", 1).verdict == "in tolerance", "a round has no placement yet"
    assert draft_result(visit, "as-left").verdict == "not known"

    save(visit, "placement", PLACEMENT | {"dbse": "140.75"}, mechanic)

    line = next(line for line in draft_result(type(visit).objects.get(), "as-left").lines if line.quantity == "axial")
    assert (line.value, line.share) == pytest.approx((0.75, 0.5))


def test_thermal_state_is_temperatures_and_hours(visit, mechanic, wrench):
    thermal = {"driver_support": "95 F", "driven_support": "40", "stopped": "90 min", "taken_at": "09:40"}
    fill_installation(visit, mechanic, wrench, left=IN_LINE | thermal)

    with recording(by=mechanic, at=NOW):
        sign_visit(visit=visit)

    survey = Survey.objects.get()
    assert survey.driver_support_degc == pytest.approx(35)
    assert (survey.driven_support_degc, survey.stopped_hours) == pytest.approx((40, 1.5))
    assert survey.taken_at.isoformat() == "2026-10-12T07:40:00+00:00", "09:40 at a site two hours ahead"


def test_lists_print_without_further_queries(visit, mechanic, wrench, site, django_assert_num_queries):
    InstrumentFactory(site=site, serial="D-1")
    fill_installation(visit, mechanic, wrench, left=IN_LINE | {"set0.instrument": "D-1"})
    with recording(by=mechanic, at=NOW):
        sign_visit(visit=visit)
    visit.refresh_from_db()
    coupling = visit.coupling

    with django_assert_num_queries(1):  # one joined query, the verdict a subquery in it
        assert [(one.left_verdict, str(one.signed_by), one.work_order.number) for one in visits_of(coupling)]
    with django_assert_num_queries(4):  # surveys with their results, sets, readings, instruments
        rows = [
            (
                survey.result.verdict,
                [(row.instrument, [one.mm for one in row.readings.all()]) for row in survey.sets.all()],
            )
            for survey in surveys_of(visit)
        ]
    assert rows[0][0] == "in tolerance"
