"""What machines say while they run: odd looks, breakdowns and refused run-ups have a flag, an owner and a follow-up."""

from datetime import timedelta

import pytest
import time_machine

from couplings.services.fits import remove_fit
from inspections.models import Check, Flag, RunningLook
from inspections.reasons import check_sentence, flag_sentence
from inspections.services.amendments import amend_visit
from inspections.services.flags import clear_flag, own_flag
from inspections.services.policies import load_policies
from inspections.services.runups import accept_run_up
from inspections.services.signing import sign_visit
from inspections.services.walks import look_in_passing
from plant.recording import recording
from tests.factories import NOW, TODAY, MembershipFactory, PersonFactory
from tests.inspections.visits import begin, fill_installation, save

pytestmark = pytest.mark.django_db
ODD = {"noise": "usual", "below": "metal", "odd": "smells of rubber"}
FAILED = {"noticed": "A bang, then it ran down.", "part": "three jaws", "went": "evidence", "went_to": "cabinet 2"}


@pytest.fixture
def policies(site):
    with recording(by=None, at=NOW):
        load_policies(site=site, kinds=("look", "wear", "follow-up", "element"))


def look(fit, by, days=0, **fields):
    with time_machine.travel(NOW + timedelta(days=days), tick=False), recording(by=by, at=NOW + timedelta(days=days)):
        return look_in_passing(coupling=fit.coupling, fields=fields or {"noise": "usual", "below": "nothing"})


def signed(visit, by, at=NOW):
    with recording(by=by, at=at):
        sign_visit(visit=visit)
    visit.refresh_from_db()
    return visit


def broken(fit, order, by, **more):
    visit = begin(fit, order, by, kind="breakdown")
    save(visit, "breakdown", FAILED | more, by)
    return signed(visit, by)


def open_of(fit):
    return {one.kind: one for one in Flag.objects.filter(coupling=fit.coupling, cleared_at=None)}


def follow_up(fit):
    return Check.objects.filter(coupling=fit.coupling, kind="follow-up", settled_on=None).first()


def test_an_odd_look_is_flagged_with_what_was_seen_and_asks_to_come_back(fit, policies, mechanic, engineer):
    look(fit, mechanic, **ODD)
    flag = open_of(fit)["odd-look"]
    assert flag.owner == engineer, "the site's only reliability engineer deals with it to begin with"
    said = flag_sentence(flag)
    assert "metal or rust powder; smells of rubber" in said
    assert "asks for a stop: metal is worn off" in said
    again = follow_up(fit)
    assert "odd at a running check, found on 12 October 2026" in check_sentence(again)
    assert again.owner == engineer
    look(fit, mechanic, days=1)
    assert "odd-look" not in open_of(fit)
    assert follow_up(fit) is None


def test_a_running_look_settles_the_running_look_check_whatever_it_finds(fit, policies, mechanic):
    look(fit, mechanic)
    first = Check.objects.get(coupling=fit.coupling, kind="look", settled_on=None)
    look(fit, mechanic, days=20, **ODD)
    first.refresh_from_db()
    assert (first.settled_on, first.outcome) == (TODAY + timedelta(days=20), "done")
    following = Check.objects.get(coupling=fit.coupling, kind="look", settled_on=None)
    assert following.due_on > first.due_on
    assert following.numbers["last_done_on"] == (TODAY + timedelta(days=20)).isoformat()


def test_where_nobody_could_look_nothing_is_settled_and_nothing_flagged(fit, policies, mechanic):
    look(fit, mechanic)
    waiting = Check.objects.get(coupling=fit.coupling, kind="look", settled_on=None)
    look(fit, mechanic, days=20, not_measured="Scaffold in the way.")
    assert Check.objects.get(coupling=fit.coupling, kind="look", settled_on=None) == waiting
    assert "odd-look" not in open_of(fit)
    assert RunningLook.objects.count() == 1


def test_work_on_the_stopped_machine_answers_an_odd_look(fit, policies, order, mechanic, wrench):
    look(fit, mechanic, **ODD)
    visit = fill_installation(begin(fit, order, mechanic), mechanic, wrench)
    signed(visit, mechanic)
    flag = Flag.objects.get(coupling=fit.coupling, kind="odd-look")
    assert flag.cause == "looked into while it stood, on 2026-10-12"


def test_an_odd_look_cleared_with_a_cause_is_not_flagged_again_by_the_next_signature(
    fit, policies, order, mechanic, engineer
):
    look(fit, mechanic, **ODD)
    with recording(by=engineer, at=NOW):
        clear_flag(flag=open_of(fit)["odd-look"], cause="The grinder beside it.")
    broken(fit, order, mechanic)
    assert set(open_of(fit)) == {"breakdown"}


def test_a_breakdown_is_flagged_with_its_evidence_until_somebody_says_what_was_found(
    fit, policies, order, mechanic, engineer, wrench
):
    broken(fit, order, mechanic, hours_down="6")
    flag = open_of(fit)["breakdown"]
    said = flag_sentence(flag)
    for words in ("Broke down on 12 October 2026: A bang, then it ran down.", "Down for 6\u00a0h",
                  "three jaws, kept as evidence, cabinet 2", "not known yet"):  # fmt: skip
        assert words in said
    assert flag.owner == engineer
    assert "broke down" in check_sentence(follow_up(fit))
    signed(fill_installation(begin(fit, order, mechanic), mechanic, wrench), mechanic)
    assert open_of(fit)["breakdown"] == flag, "repaired is not yet understood"
    with recording(by=engineer, at=NOW):
        remove_fit(fit=fit, removed_on=TODAY)
    assert open_of(fit)["breakdown"] == flag
    with recording(by=engineer, at=NOW):
        clear_flag(flag=flag, cause="Torsional overload at the start; soft starter set.")
    assert "breakdown" not in open_of(fit)


def test_an_amendment_that_takes_the_oddness_back_takes_the_flag_back(fit, policies, mechanic, engineer):
    record = look(fit, mechanic, **ODD)
    with recording(by=engineer, at=NOW):
        amend_visit(visit=record.visit, steps={"running-look": {"noise": "usual"}}, reason="another machine")
    assert open_of(fit) == {}


def test_a_refused_run_up_is_flagged_until_one_is_accepted(fit, policies, order, mechanic, engineer, wrench):
    visit = signed(fill_installation(begin(fit, order, mechanic), mechanic, wrench), mechanic)
    ran = {"outcome": "refused", "ran_at": "2026-10-14 10:00", "remarks": "4 mm/s at the motor"}
    with recording(by=engineer, at=NOW + timedelta(days=3)):
        accept_run_up(visit=visit, fields=ran)
    said = flag_sentence(open_of(fit)["run-up"])
    assert "after the work of 12 October 2026 was not accepted by Ana: 4 mm/s at the motor" in said
    assert "run-up not accepted" in check_sentence(follow_up(fit))
    with recording(by=engineer, at=NOW + timedelta(days=5)):
        accept_run_up(visit=visit, fields={"outcome": "accepted", "ran_at": "2026-10-16 10:00"})
    assert "run-up" not in open_of(fit)
    assert follow_up(fit) is None


def test_whoever_dealt_with_the_last_one_deals_with_the_next(fit, policies, site, mechanic, engineer):
    other = PersonFactory(username="ivo")
    MembershipFactory(person=other, site=site, role="engineer")
    look(fit, mechanic, **ODD)
    flag = open_of(fit)["odd-look"]
    assert flag.owner is None, "two engineers: nobody is chosen beforehand"
    with recording(by=engineer, at=NOW):
        own_flag(flag=flag, owner=other)
    look(fit, mechanic, days=1)
    look(fit, mechanic, days=2, **ODD)
    assert (open_of(fit)["odd-look"].owner, open_of(fit)["odd-look"].previous) == (other, flag)
