"""Hold points, hand-over notes and run-ups: what somebody else has to say of a visit."""

import json
from datetime import timedelta

import pytest
import time_machine

from couplings.models import SheetHoldPoint
from inspections.models import HandOver, RunUp, SignedRecord, Witness
from inspections.selectors.hold_points import hold_points
from inspections.selectors.summary import summary_of
from inspections.selectors.verification import verify
from inspections.services.amendments import amend_visit
from inspections.services.runups import accept_run_up
from inspections.services.signing import sign_visit
from inspections.services.witnessing import hand_over, witness_step
from plant.recording import recording
from plant.refusals import NotAllowed, Refused
from tests.factories import NOW
from tests.inspections.visits import PLACEMENT, begin, fasteners, save

pytestmark = pytest.mark.django_db
RAN = {"outcome": "accepted", "ran_at": "2026-11-02 14:30", "driver_vibration": "2.2", "current": "91"}
LATER = NOW + timedelta(days=21, hours=6)


@pytest.fixture
def point(visit):
    return SheetHoldPoint.objects.create(
        version=visit.sheet_version, step="placement", what="gap with the rotor in place", role="engineer"
    )


def see(visit, by, what="gap with the rotor in place", step="placement"):
    with recording(by=by, at=NOW):
        return witness_step(visit=visit, step=step, what=what)


def sign(visit, by):
    with recording(by=by, at=NOW):
        record = sign_visit(visit=visit)
    visit.refresh_from_db()
    return record


def run_up(visit, by, fields=RAN, at=LATER):
    with recording(by=by, at=at):
        return accept_run_up(visit=visit, fields=fields)


def refused(call, *args, **kwargs):
    with pytest.raises(Refused) as caught:
        call(*args, **kwargs)
    return caught.value.as_dict()


def test_a_hold_point_blocks_the_next_step_and_no_other(visit, point, mechanic, engineer):
    save(visit, "placement", PLACEMENT, mechanic)
    said = refused(save, visit, "set-screws", {"driver_count": "2"}, mechanic)[""]
    assert "hold point that nobody has witnessed yet" in said
    assert point.what in said
    save(visit, "alignment", {"method": "direct"}, mechanic, number=1)
    see(visit, engineer)
    save(visit, "set-screws", {"driver_count": "2"}, mechanic)


def test_nobody_witnesses_himself(visit, point, mechanic):
    point.role = "mechanic"
    point.save()
    save(visit, "placement", PLACEMENT, mechanic)
    assert "somebody else has to witness it" in refused(see, visit, mechanic)[""]


def test_whoever_typed_in_the_step_does_not_witness_it(visit, point, mechanic, engineer):
    save(visit, "placement", PLACEMENT, mechanic)
    save(visit, "placement", {"dbse": "140.3"}, engineer, seen=1)
    assert "somebody else" in refused(see, visit, engineer)[""]


def test_a_witness_has_the_role_that_the_data_sheet_asks_for(visit, point, mechanic, planner):
    save(visit, "placement", PLACEMENT, mechanic)
    assert "in the role reliability engineer" in refused(see, visit, planner)[""]


def test_there_has_to_be_something_to_see(visit, point, engineer, mechanic):
    assert "not complete yet" in refused(see, visit, engineer)[""]
    assert "no such hold point" in refused(see, visit, engineer, what="the weather")["what"]
    save(visit, "placement", PLACEMENT, mechanic)
    see(visit, engineer)
    assert "witnessed this already" in refused(see, visit, engineer)["what"]


def test_a_change_of_the_step_wants_the_witness_again(visit, point, mechanic, engineer):
    save(visit, "placement", PLACEMENT, mechanic)
    see(visit, engineer)
    save(visit, "placement", {"dbse": "140.4"}, mechanic, seen=1)
    visit.refresh_from_db()
    (here,) = hold_points(visit)
    assert (here.witness, here.lapsed.by) == (None, engineer)
    assert "changed since it was witnessed" in str([one.sentence for one in summary_of(visit).missing])


def test_signing_waits_for_the_witness_and_the_witness_does_not_sign(filled, point, mechanic, engineer):
    assert "Hold point, not witnessed" in refused(sign, filled, mechanic)["placement"]
    see(filled, engineer)
    assert "somebody else has to sign it" in refused(sign, filled, engineer)[""]
    record = sign(filled, mechanic)
    assert json.loads(record.text)["witnesses"][0]["what"] == point.what
    assert verify().findings == []


def test_a_witness_is_not_added_to_a_signed_visit(filled, mechanic, engineer):
    sign(filled, mechanic)
    SheetHoldPoint.objects.create(version=filled.sheet_version, step="placement", what="late", role="engineer")
    assert "nothing is added to it any more" in refused(see, filled, engineer, what="late")[""]
    assert not Witness.objects.exists()


def test_nobody_has_to_look_on_at_a_step_that_is_not_done(fit, order, point, mechanic, wrench):
    check = begin(fit, order, mechanic, kind="torque")
    save(check, "fasteners", fasteners(wrench), mechanic)
    assert hold_points(check) == []
    save(check, "placement", {"not_measured": "not touched"}, mechanic)
    assert hold_points(type(check).objects.get(pk=check.pk)) == []
    save(check, "placement", PLACEMENT | {"not_measured": ""}, mechanic, seen=1)
    assert [one.what for one in hold_points(type(check).objects.get(pk=check.pk))] == [point.what]
    save(check, "placement", dict.fromkeys(PLACEMENT, ""), mechanic, seen=2)
    sign(type(check).objects.get(pk=check.pk), mechanic)


def test_notes_pass_from_shift_to_shift_and_into_the_record(filled, mechanic, engineer):
    for by, text in ((mechanic, "Guard is in the shop."), (engineer, "Guard is back.")):
        with recording(by=by, at=NOW):
            hand_over(visit=filled, text=text, to="night shift")
    record = sign(filled, mechanic)
    assert [one["text"] for one in json.loads(record.text)["hand_overs"]] == ["Guard is in the shop.", "Guard is back."]
    assert verify().findings == []


@pytest.mark.parametrize(
    ("given", "field", "said"),
    [
        ({"text": "  "}, "text", "Say what is done"),
        ({"text": "x" * 1001}, "text", "At most 1000 characters; this is 1001."),
        ({"text": "x", "to": "y" * 81}, "to", "At most 80 characters."),
        ({"text": "a\x00b"}, "text", "characters that are not text"),
    ],
)
def test_a_note_that_cannot_be_kept_says_why(visit, mechanic, given, field, said):
    with recording(by=mechanic, at=NOW), pytest.raises(Refused) as caught:
        hand_over(visit=visit, **given)
    assert said in caught.value.as_dict()[field]
    assert not HandOver.objects.exists()


def test_a_run_up_three_weeks_later_by_somebody_else_is_the_next_link(filled, mechanic, engineer):
    first = sign(filled, mechanic)
    record = run_up(filled, engineer)
    filled.refresh_from_db()
    assert (record.number, record.kind, record.previous_digest) == (2, "run-up", first.digest)
    assert (filled.record, filled.signed_by) == (first, mechanic), "the dates follow from the work, not from the run-up"
    assert json.loads(record.text)["accepts"] == first.digest
    row = RunUp.objects.get()
    assert (row.driver_vibration_mm_s, row.current_a, row.record) == (2.2, 91.0, record)
    assert verify().findings == []


def test_whoever_signed_does_not_accept_the_run_up(filled, mechanic):
    sign(filled, mechanic)
    assert "somebody else has to accept" in refused(run_up, filled, mechanic)[""]


def test_a_run_up_is_accepted_once_and_one_that_was_not_is_tried_again(filled, mechanic, engineer):
    sign(filled, mechanic)
    run_up(filled, engineer, RAN | {"outcome": "refused", "remarks": "4 mm/s at the motor"})
    run_up(filled, engineer)
    assert "accepted already" in refused(run_up, filled, engineer)[""]
    assert SignedRecord.objects.filter(kind="run-up").count() == 2
    assert verify().findings == []


def test_an_amendment_after_a_run_up_stands_behind_it_and_the_chain_holds(filled, mechanic, engineer):
    first = sign(filled, mechanic)
    run_up(filled, engineer)
    with recording(by=engineer, at=LATER):
        amended = amend_visit(visit=filled, steps={"placement": PLACEMENT | {"dbse": "140.3"}}, reason="misread")
    assert (amended.number, amended.amends) == (3, first)
    assert verify().findings == []


@pytest.mark.parametrize(
    ("change", "field", "said"),
    [
        ({"outcome": ""}, "outcome", "Say whether the run-up is accepted."),
        ({"outcome": "fine"}, "outcome", "is not a choice here"),
        ({"ran_at": ""}, "ran_at", "Say when the readings were taken."),
        ({"ran_at": "2026-09-01 10:00"}, "ran_at", "Before 2026-10-12, the day of the visit"),
        ({"ran_at": "2027-01-01 10:00"}, "ran_at", "lies in the future"),
        ({"outcome": "remarks"}, "remarks", "Say what is remarked"),
        ({"driver_vibration": "2 mm"}, "driver_vibration", "mm is a unit of length"),
        ({"driver_bearing": "900"}, "driver_bearing", "cannot be meant"),
        ({"speed": "-10"}, "speed", "cannot be meant"),
        ({"colour": "red"}, "colour", "has no field of this name"),
    ],
)
def test_a_run_up_that_cannot_be_signed_says_why_beside_the_field(filled, mechanic, engineer, change, field, said):
    sign(filled, mechanic)
    errors = refused(run_up, filled, engineer, RAN | change)
    assert said in errors[f"fields.{field}"]
    assert not RunUp.objects.exists()


def test_a_draft_and_a_running_check_have_no_run_up(fit, visit, mechanic, engineer):
    assert "not signed as mechanically complete yet" in refused(run_up, visit, engineer)[""]
    passing = begin(fit, None, mechanic, kind="running")
    save(passing, "running-look", {"noise": "usual"}, mechanic)
    sign(passing, mechanic)
    assert "no run-up to accept" in refused(run_up, passing, engineer)[""]


def test_roles_say_who_may_witness_and_accept(visit, filled, mechanic, manager, client_account):
    with pytest.raises(NotAllowed):
        see(visit, client_account)
    sign(filled, mechanic)
    with pytest.raises(NotAllowed):
        run_up(filled, manager)


def test_the_pages_show_the_hold_point_take_the_witness_the_note_and_the_run_up(
    client, filled, point, mechanic, engineer
):
    with time_machine.travel(NOW, tick=False):
        client.force_login(engineer)
        page = client.get(f"/visits/{filled.uuid}/").content.decode()
        assert "One hold point waits for a witness" in page
        assert "I looked on: witness gap with the rotor in place" in page
        given = {"step": "placement", "what": point.what}
        client.force_login(mechanic)
        own = client.post(f"/visits/{filled.uuid}/witness/", given)
        assert own.status_code == 422
        assert "somebody else has to witness it" in own.content.decode()
        client.force_login(engineer)
        assert client.post(f"/visits/{filled.uuid}/witness/", given)["Location"].endswith("#points")
        empty = client.post(f"/visits/{filled.uuid}/hand-over/", {"text": "", "to": "night"})
        assert 'id="f-text_error"' in empty.content.decode()
        assert 'value="night"' in empty.content.decode(), "nothing typed is lost"
        client.post(f"/visits/{filled.uuid}/hand-over/", {"text": "Guard is in the shop."})
        sign(filled, mechanic)
        shown = client.get(f"/visits/{filled.uuid}/record/").content.decode()
        assert "Run-up not accepted yet" in shown
        assert "looked on:" in shown
        assert "Guard is in the shop." in shown
    with time_machine.travel(LATER, tick=False):
        client.force_login(engineer)
        wrong = client.post(f"/visits/{filled.uuid}/run-up/", RAN | {"current": "91 mm"})
        assert wrong.status_code == 422
        assert 'value="91 mm"' in wrong.content.decode()
        assert client.post(f"/visits/{filled.uuid}/run-up/", RAN)["Location"] == f"/visits/{filled.uuid}/record/"
        assert "Run-up accepted" in client.get(f"/visits/{filled.uuid}/record/").content.decode()
