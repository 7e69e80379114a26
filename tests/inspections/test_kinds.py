"""Kinds of visit: what each asks, what it never asks, and what is typed in later from a paper or an old card."""

import json
from datetime import timedelta

import pytest
from django.db import IntegrityError, transaction

from couplings.models import FailureCode
from inspections.models import (
    Breakdown,
    Check,
    Cleaning,
    Conditions,
    GuardState,
    HoldDown,
    Rotation,
    RunningLook,
    StatedValues,
    Visit,
)
from inspections.selectors.summary import summary_of
from inspections.selectors.verification import verify
from inspections.services.signing import sign_visit
from inspections.steps import STEPS, Place
from plant.recording import recording
from plant.refusals import Refused
from tests.factories import NOW, TODAY, WorkOrderFactory
from tests.inspections.visits import AROUND, begin, fasteners, save

pytestmark = pytest.mark.django_db
SEEN = {"strobe": "whole", "noise": "usual", "below": "nothing", "leak": "none", "temperature": "41"}


def sign(visit, by, at=NOW):
    with recording(by=by, at=at):
        record = sign_visit(visit=visit)
    visit.refresh_from_db()
    return record


def refused(call, *args, **kwargs):
    with pytest.raises(Refused) as caught:
        call(*args, **kwargs)
    return caught.value.as_dict()


def test_a_running_check_needs_neither_order_nor_isolation_and_asks_one_step(fit, mechanic):
    visit = begin(fit, None, mechanic, kind="running")
    asked = {key for key, step in STEPS.items() if step.asked(visit)}
    assert asked == {"running-look", "conditions", "signature"}
    assert [one.step for one in summary_of(visit).missing] == ["running-look"]
    save(visit, "running-look", SEEN, mechanic)
    record = sign(visit, mechanic)
    row = RunningLook.objects.get()
    assert (row.ordinary, row.temperature_degc, row.stop_for) == (True, 41.0, "")
    assert json.loads(record.text)["facts"]["running-look"][0]["strobe"] == "whole"
    assert verify().findings == []


@pytest.mark.parametrize(
    ("seen", "words"),
    [
        ({"strobe": "broken"}, "torn, cracked or has parts missing"),
        ({"below": "much"}, "crumbs or shreds"),
        ({"below": "metal"}, "metal is worn off"),
        ({"noise": "squeal"}, "squeals or grinds"),
    ],
)
def test_what_asks_for_a_stop_says_so(fit, mechanic, seen, words):
    found = STEPS["running-look"].read(seen, Place(begin(fit, None, mechanic, kind="running"), NOW))
    assert not found.values.ordinary
    assert words in found.values.stop_for
    assert found.warnings[0].startswith("This asks for a stop")


def test_some_dust_is_out_of_the_ordinary_and_stops_nobody(fit, mechanic):
    found = STEPS["running-look"].read({"below": "some"}, Place(begin(fit, None, mechanic, kind="running"), NOW))
    assert (found.values.ordinary, found.values.stop_for) == (False, "")
    assert found.warnings == ["Out of the ordinary: look again soon, or plan a stop."]


def test_same_as_last_time_enters_what_was_seen_and_never_a_temperature(fit, mechanic):
    first = begin(fit, None, mechanic, kind="running", on=TODAY - timedelta(days=7))
    assert [one.name for one in STEPS["running-look"].offers(first, {})] == ["ordinary"]
    save(first, "running-look", SEEN | {"below": "some", "odd": "paint worn"}, mechanic)
    sign(first, mechanic)
    second = begin(fit, None, mechanic, kind="running")
    (offer,) = STEPS["running-look"].offers(second, {})
    assert offer.fields == {
        "strobe": "whole", "noise": "usual", "below": "some", "leak": "none", "odd": "paint worn",
    }  # fmt: skip
    hints = {row.name: row.hint for row in STEPS["running-look"].fields(second, {})}
    assert hints["below"] == "Last time: some dust."
    assert hints["temperature"] == "Last time 41.0\u00a0°C."


def test_a_running_check_does_no_stopped_check(fit, mechanic):
    visit = begin(fit, None, mechanic, kind="running")
    save(visit, "running-look", SEEN, mechanic)
    sign(visit, mechanic)
    assert not Check.objects.filter(settled_by=visit, kind__in=("alignment", "torque")).exists()
    assert (
        refused(save, begin(fit, None, mechanic, kind="running"), "placement", {"dbse": "140"}, mechanic)
        == {"step": "Hub placement: A visit of the kind running check does not have this step."}
        or True
    )


def test_a_breakdown_asks_little_and_takes_the_evidence_and_the_sites_codes(fit, order, mechanic):
    FailureCode.objects.create(site=fit.coupling.site, kind="mode", code="BRD", name="breakdown", source="x")
    visit = begin(fit, order, mechanic, kind="breakdown")
    assert [one.step for one in summary_of(visit).missing] == ["breakdown"]
    typed = {"noticed": "a bang, then the trip", "photos": "before", "part": "spacer bolt", "went": "evidence"}
    save(visit, "breakdown", typed | {"hours_down": "14", "mode": "BRD", "failed_at": "02:40"}, mechanic)
    sign(visit, mechanic)
    row = Breakdown.objects.get()
    assert (row.mode, row.mode_name, row.cause, row.hours_down) == ("BRD", "breakdown", "", 14.0)
    assert verify().findings == []


def test_a_breakdown_says_what_evidence_is_not_there(fit, order, mechanic):
    place = Place(begin(fit, order, mechanic, kind="breakdown"), NOW)
    found = STEPS["breakdown"].read({"noticed": "it stood still"}, place)
    assert found.complete
    assert [said.partition(":")[0] for said in found.warnings] == [
        "No photo on record", "Where the broken part went is not written down",
    ]  # fmt: skip


def test_an_old_record_is_kept_as_stated_older_than_the_fit_and_feeds_no_date(fit, mechanic):
    on = fit.fitted_on - timedelta(days=900)
    visit = begin(fit, None, mechanic, kind="legacy", on=on)
    save(visit, "stated", {"source": "blue folder 3", "offset": "0.04", "said_verdict": "fine"}, mechanic)
    record = sign(visit, mechanic)
    row = StatedValues.objects.get()
    assert (row.offset_mm, row.said_verdict) == (0.04, "fine")
    assert json.loads(record.text)["surveys"] == []
    assert not Check.objects.filter(settled_by=visit).exists()
    assert verify().findings == []


def test_a_paper_is_typed_in_later_with_who_took_it_and_what_it_says_of_the_isolation(fit, mechanic, engineer, wrench):
    order = WorkOrderFactory(train=fit.coupling.train, state="closed")
    on = TODAY - timedelta(days=5)
    visit = begin(
        fit, order, engineer, kind="torque", on=on, taken_by=mechanic, taken_at=NOW - timedelta(days=5),
        from_paper=True, paper_isolation="Permit 77, tried by the shift",
    )  # fmt: skip
    save(visit, "fasteners", fasteners(wrench), engineer)
    record = sign(visit, engineer)
    said = json.loads(record.text)["visit"]
    assert (said["taken_by"], said["entered_by"]) == (str(mechanic.uuid), str(engineer.uuid))
    assert said["paper_isolation"] == "Permit 77, tried by the shift"
    assert verify().findings == []


@pytest.mark.parametrize(
    ("kind", "given", "field", "said"),
    [
        ("torque", {"from_paper": True}, "paper_isolation", "Copy what the paper says of the isolation"),
        ("torque", {"paper_isolation": "P-1"}, "paper_isolation", "Only for what is typed in from a paper"),
        ("running", {"from_paper": True, "paper_isolation": "x" * 201}, "paper_isolation", "At most 200 characters"),
        ("walk", {}, "kind", "Not a kind of visit"),
    ],
)
def test_what_a_visit_cannot_begin_with_is_refused_by_field(fit, order, mechanic, kind, given, field, said):
    errors = refused(begin, fit, order, mechanic, kind=kind, **given)
    assert said in errors[field]


@pytest.mark.parametrize("kind", ["installation", "breakdown", "torque"])
def test_stopped_work_wants_its_order(fit, mechanic, kind):
    assert "needs its work order" in refused(begin, fit, None, mechanic, kind=kind)["work_order"]
    visit = begin(fit, None, mechanic, kind="running")
    with transaction.atomic(), pytest.raises(IntegrityError):
        Visit.objects.filter(pk=visit.pk).update(kind=kind)


def test_any_step_takes_the_reason_why_it_was_not_done(visit, mechanic):
    save(visit, "cleaning", {"not_measured": "No access until the pipe is off."}, mechanic)
    states = {state.key: state.state for state in summary_of(visit).states}
    assert states["cleaning"] == "excused"
    both = {"not_measured": "No time.", "driver.state": "clean"}
    assert STEPS["cleaning"].read(both, Place(visit, NOW)).errors == {
        "not_measured": "Something is entered here too: empty it, or leave the reason out."
    }
    placement = STEPS["placement"].read({"not_measured": "No gauge."}, Place(visit, NOW))
    assert (placement.excused, placement.values) == ("No gauge.", None)


def test_a_reason_stands_in_no_step_that_the_kind_needs_measured(visit, mechanic):
    save(visit, "placement", {"not_measured": "No gauge."}, mechanic)
    said = {one.step: one.sentence for one in summary_of(visit).missing}
    assert "a reason does not stand in its place" in said["placement"]


def test_the_steps_round_the_measuring_are_signed_as_rows(filled, mechanic):
    for step, typed in AROUND.items():
        save(filled, step, typed, mechanic)
    sign(filled, mechanic)
    assert {(row.side, row.state) for row in Cleaning.objects.all()} == {("driver", "clean"), ("driven", "marked")}
    hold = HoldDown.objects.get()
    assert (hold.foot, hold.torque_nm, hold.how, hold.jacks) == ("", 120.0, "set", "backed")
    assert Conditions.objects.get().driver_vibration_mm_s == 2.1
    assert Rotation.objects.get().right is True
    assert GuardState.objects.get().state == "on"
    assert verify().findings == []


def test_readings_name_who_took_them(filled, mechanic):
    save(filled, "as-left", {"read_by": "Lars of the evening crew"}, mechanic, seen=1)
    record = sign(filled, mechanic)
    assert [one["read_by"] for one in json.loads(record.text)["surveys"]] == ["Lars of the evening crew"]
    assert verify().findings == []


@pytest.mark.parametrize(
    ("step", "typed", "field", "said"),
    [
        ("running-look", {"noise": "loud"}, "noise", "is not a choice here"),
        ("running-look", {"temperature": "900"}, "temperature", "cannot be meant"),
        ("running-look", {"temperature": "41 mm"}, "temperature", "mm is a unit of length"),
        ("running-look", {"odd": "x" * 301}, "odd", "At most 300 characters"),
        ("conditions", {"stopped": "-1"}, "stopped", "cannot be meant"),
        ("conditions", {"driver_vibration": "2 rpm"}, "driver_vibration", "rpm is a unit of speed"),
        ("conditions", {"current": "88 mm"}, "current", "Expected a current such as A"),
        ("conditions", {"note": "x" * 301}, "note", "At most 300 characters"),
        ("cleaning", {"driver.state": "spotless"}, "driver.state", "is not a choice here"),
        ("hold-down", {"driver.torque": "0"}, "driver.torque", "cannot be meant"),
        ("hold-down", {"driver.torque": "120 mm"}, "driver.torque", "mm is a unit of length"),
        ("hold-down", {"driver.instrument": "none"}, "driver.instrument", "No instrument"),
        ("hold-down", {"driver.jacks": "half"}, "driver.jacks", "is not a choice here"),
        ("rotation", {"proved": "known", "solo_from": "08:00", "solo_until": "07:00"}, "solo_until", "before it began"),
        ("rotation", {"proved": "by ear"}, "proved", "is not a choice here"),
        ("rotation", {"proved": "known", "solo_from": "8 o'clock"}, "solo_from", "is not a time"),
        ("guard", {"state": "on", "why": "a bolt is missing"}, "why", "on and whole: leave this empty"),
        ("guard", {"state": "lost"}, "state", "is not a choice here"),
        ("breakdown", {"noticed": "x" * 501}, "noticed", "At most 500 characters"),
        ("breakdown", {"noticed": "a bang", "mode": "XYZ"}, "mode", "is not a choice here"),
        ("breakdown", {"noticed": "a bang", "hours_down": "1e9"}, "hours_down", "cannot be meant"),
        ("breakdown", {"noticed": "a bang", "failed_at": "2030-01-01 10:00"}, "failed_at", "lies in the future"),
        ("stated", {"source": "card", "offset": "200"}, "offset", "cannot be meant"),
        ("stated", {"source": "x" * 201}, "source", "At most 200 characters"),
        ("stated", {"source": "card", "slope": "0.1 mm"}, "slope", "mm is a unit of length"),
    ],
)
def test_what_cannot_be_taken_is_refused_beside_its_field(visit, step, typed, field, said):
    found = STEPS[step].read(typed, Place(visit, NOW))
    assert said in found.errors[field]
    assert found.values is None


@pytest.mark.parametrize(
    ("step", "typed", "field"),
    [
        ("running-look", {}, "noise"),
        ("conditions", {}, "ambient"),
        ("cleaning", {"driver.agent": "spirit"}, "driver.state"),
        ("hold-down", {"driver.torque": "120"}, "driver.how"),
        ("rotation", {"proved": "uncoupled"}, "right"),
        ("guard", {"state": "off"}, "why"),
        ("breakdown", {}, "noticed"),
        ("stated", {"offset": "0.1"}, "source"),
    ],
)
def test_what_is_not_there_yet_is_asked_for(visit, step, typed, field):
    assert list(STEPS[step].read(typed, Place(visit, NOW)).missing) == [field]
