"""A condition opens a flag, an engineer owns and clears it, and one that comes back names its predecessor."""

from datetime import date

import pytest

from inspections.models import Flag, Visit
from inspections.selectors.flags import open_flags
from inspections.services.flags import clear_flag, open_flag, own_flag
from plant.models import Event
from plant.recording import recording
from plant.refusals import Missing, NotAllowed, Refused, Stale
from tests.factories import FitFactory
from tests.inspections.signed import amend, noon, sign

TODAY = date(2026, 10, 12)
OUT = Flag.Kind.OUT


@pytest.fixture
def fit(site):
    return FitFactory(coupling__train__site=site)


@pytest.fixture
def flag(fit):
    with recording(by=None, at=noon(TODAY)):
        return open_flag(coupling=fit.coupling, kind=OUT, evidence={})


def test_left_out_of_tolerance_opens_a_flag_with_its_evidence(fit, mechanic):
    visit = sign(fit, on=TODAY, by=mechanic, kind=Visit.Kind.INSTALLATION, aligned=True, verdict="out of tolerance")
    flag = open_flags(coupling=fit.coupling).get()
    assert flag.kind == OUT
    assert flag.evidence["visit"] == str(visit.uuid)
    assert (flag.evidence["role"], flag.evidence["tolerance_used"]) == ("as-left", 1.42)
    opened = Event.objects.get(kind="flag.opened")
    assert opened.payload["flag"] == str(flag.uuid)


def test_left_in_tolerance_later_clears_it_with_the_cause(fit, mechanic):
    sign(fit, on=TODAY, by=mechanic, aligned=True, verdict="out of tolerance")
    sign(fit, on=date(2026, 10, 20), by=mechanic, aligned=True)
    flag = Flag.objects.get()
    assert flag.cause == "as-left in tolerance on 2026-10-20"
    assert flag.cleared_by == mechanic
    assert Event.objects.filter(kind="flag.cleared").count() == 1


def test_too_close_to_call_leaves_the_flag_standing(fit, mechanic):
    sign(fit, on=TODAY, by=mechanic, aligned=True, verdict="out of tolerance")
    sign(fit, on=date(2026, 10, 20), by=mechanic, aligned=True, verdict="too close to call")
    assert open_flags(coupling=fit.coupling).count() == 1


@pytest.mark.parametrize("verdict", ["in tolerance", "too close to call", "not known"])
def test_no_other_verdict_opens_a_flag(fit, mechanic, verdict):
    sign(fit, on=TODAY, by=mechanic, aligned=True, verdict=verdict)
    assert not Flag.objects.exists()


def test_a_second_time_out_keeps_the_one_flag_and_renews_its_evidence(fit, mechanic):
    sign(fit, on=TODAY, by=mechanic, aligned=True, verdict="out of tolerance")
    sign(fit, on=date(2026, 10, 20), by=mechanic, aligned=True, verdict="out of tolerance")
    flag = Flag.objects.get()
    assert flag.evidence["on"] == "2026-10-20"
    assert flag.version == 2
    assert Event.objects.filter(kind="flag.opened").count() == 1


def test_a_flag_that_comes_back_names_the_last_one(fit, mechanic):
    for day, verdict in [(1, "out of tolerance"), (2, "in tolerance"), (3, "out of tolerance")]:
        sign(fit, on=date(2026, 11, day), by=mechanic, aligned=True, verdict=verdict)
    again = open_flags(coupling=fit.coupling).get()
    assert again.previous.cause.startswith("as-left in tolerance")


def test_an_amendment_that_changes_the_verdict_moves_the_flag(fit, mechanic):
    visit = sign(fit, on=TODAY, by=mechanic, aligned=True, verdict="out of tolerance")
    amend(visit, by=mechanic, aligned=True, verdict="in tolerance")
    assert not open_flags(coupling=fit.coupling).exists()


def test_an_old_visit_entered_late_does_not_speak_for_today(fit, mechanic):
    sign(fit, on=TODAY, by=mechanic, aligned=True)
    sign(fit, on=date(2026, 3, 1), by=mechanic, aligned=True, verdict="out of tolerance")
    assert not Flag.objects.exists()


def test_an_engineer_clears_a_flag_with_its_cause(flag, engineer):
    with recording(by=engineer, at=noon(TODAY)):
        clear_flag(flag=flag, cause="pipe strain found and removed")
    flag.refresh_from_db()
    assert (flag.cleared_by, flag.cause) == (engineer, "pipe strain found and removed")


def test_a_mechanic_may_not_clear_it_and_a_stranger_does_not_know_of_it(flag, mechanic, stranger):
    with recording(by=mechanic, at=noon(TODAY)), pytest.raises(NotAllowed):
        clear_flag(flag=flag, cause="it looked right")
    with recording(by=stranger, at=noon(TODAY)), pytest.raises(Missing):
        clear_flag(flag=flag, cause="it looked right")


def test_a_flag_is_not_cleared_without_a_cause_nor_twice_nor_by_a_stale_page(flag, engineer):
    with recording(by=engineer, at=noon(TODAY)), pytest.raises(Refused, match="Say why"):
        clear_flag(flag=flag, cause="  ")
    with recording(by=engineer, at=noon(TODAY)), pytest.raises(Stale):
        clear_flag(flag=flag, cause="found", expected=7)
    with recording(by=engineer, at=noon(TODAY)):
        clear_flag(flag=flag, cause="found")
    with recording(by=engineer, at=noon(TODAY)), pytest.raises(Refused, match="cleared already"):
        clear_flag(flag=flag, cause="found")


def test_an_overdue_flag_is_not_cleared_by_hand(fit, engineer):
    with recording(by=None, at=noon(TODAY)):
        flag = open_flag(coupling=fit.coupling, kind=Flag.Kind.OVERDUE, evidence={"checks": []})
    with recording(by=engineer, at=noon(TODAY)), pytest.raises(Refused, match="clears itself"):
        clear_flag(flag=flag, cause="we are on it")


def test_somebody_of_the_site_owns_a_flag(flag, engineer, mechanic, stranger):
    with recording(by=engineer, at=noon(TODAY)):
        own_flag(flag=flag, owner=mechanic)
    flag.refresh_from_db()
    assert flag.owner == mechanic
    with recording(by=engineer, at=noon(TODAY)), pytest.raises(Refused) as refusal:
        own_flag(flag=flag, owner=stranger)
    assert refusal.value.as_dict() == {"owner": "This person has no role at the site; choose somebody who has."}


def test_open_flags_are_those_the_reader_may_see(flag, planner, stranger):
    assert list(open_flags(person=planner)) == [flag]
    assert list(open_flags(person=stranger)) == []
