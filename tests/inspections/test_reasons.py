"""Reason sentences: what, by when; because of which number; what else would have said what."""

from datetime import date

import pytest

from inspections.models import Check, Flag
from inspections.reasons import check_sentence, flag_sentence

DUE = date(2026, 11, 11)
INSTALLED = {"installed_on": "2026-10-12", "first_days": 30, "first_hours": 500}
RUN = INSTALLED | {"hours_per_day": 24.0}
YEARLY = {"every_months": 12, "every_days": None, "mode": "window", "counts_from": "2026-10-12"}


def said(winner, numbers, runner_up="", runner_up_on=None, due=DUE):
    check = Check(
        kind="alignment", due_on=due, winner=winner, numbers=numbers, runner_up=runner_up, runner_up_on=runner_up_on
    )
    return check_sentence(check, "metric").replace("\u00a0", " ")


def test_the_first_running_by_days():
    assert said("first-days", RUN, "first-hours", date(2026, 12, 1)) == (
        "Due 11 November 2026: 30 days after the installation on 12 October 2026, once the machine has done its first "
        "running; 500 h of running, at 24 h a day, would say 1 December 2026."
    )


def test_the_first_running_by_hours():
    assert said("first-hours", RUN, "first-days", DUE, due=date(2026, 11, 2)) == (
        "Due 2 November 2026: 500 h of first running since the installation on 12 October 2026, at 24 h a day; "
        "30 days after the installation would say 11 November 2026."
    )


def test_hours_without_a_meter_say_so():
    assert said("first-days", INSTALLED).endswith("; its 500 h of running cannot be dated without meter readings.")


def test_hours_that_are_estimated_say_since_when():
    numbers = RUN | {"hours_estimated": True, "last_reading_on": "2026-08-01"}
    sentence = said("first-hours", numbers, "first-days", DUE)
    assert sentence.endswith(". Hours estimated: the meter was last read on 1 August 2026.")
    assert "estimated" not in said("policy", numbers | YEARLY | {"last_done_on": "2026-10-12"})


def test_the_policy_with_the_day_it_was_last_done():
    assert said("policy", YEARLY | {"last_done_on": "2026-10-12"}, due=date(2027, 10, 12)) == (
        "Due 12 October 2027: policy, every 12 months, last done on 12 October 2026."
    )


def test_the_policy_that_counts_from_another_day_says_from_which():
    sentence = said("policy", YEARLY | {"last_done_on": "2026-10-20"}, due=date(2027, 10, 12))
    assert sentence.endswith("last done on 20 October 2026 and counted from the due date 12 October 2026.")


def test_a_coupling_never_checked_says_since_when_it_is_there():
    numbers = YEARLY | {"every_months": 1, "fitted_on": "2024-03-01"}
    assert "every 1 month, fitted on 1 March 2024 and never checked here since" in said("policy", numbers)


def test_a_trigger_without_words_is_a_mistake_not_an_empty_sentence():
    with pytest.raises(ValueError, match="no words"):
        said("moon", {})


def test_numbers_and_units_do_not_break():
    check = Check(kind="alignment", due_on=DUE, winner="first-days", numbers=INSTALLED)
    assert "500\u00a0h" in check_sentence(check)
    assert "30\u00a0days" in check_sentence(check)


def test_out_of_tolerance_says_how_far_how_sure_and_why_it_was_left():
    evidence = {
        "on": "2026-10-12", "role": "as-left", "tolerance_used": 1.424, "probability": 0.02,
        "left_so_reason": "bolt-bound, base to be machined in the May stop",
    }  # fmt: skip
    assert flag_sentence(Flag(kind="out-of-tolerance", evidence=evidence)).replace("\u00a0", " ") == (
        "Left out of tolerance on 12 October 2026: 142 % of the limit; one chance in fifty that it is in tolerance. "
        "Left so: bolt-bound, base to be machined in the May stop"
    )


def test_as_found_out_of_tolerance_is_found_not_left():
    sentence = flag_sentence(Flag(kind="out-of-tolerance", evidence={"on": "2026-10-12", "role": "as-found"}))
    assert sentence == "Found out of tolerance on 12 October 2026."


def test_overdue_names_what_was_due_when():
    late = [{"kind": "alignment", "due_on": "2026-09-21"}, {"kind": "torque", "due_on": "2026-10-02"}]
    assert flag_sentence(Flag(kind="overdue", evidence={"checks": late})) == (
        "Overdue: Alignment was due on 21 September 2026; Torque re-check was due on 2 October 2026."
    )
