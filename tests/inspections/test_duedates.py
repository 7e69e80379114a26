"""Due dates against published and common-practice cases (fixtures/reference/statistics.json), and their properties."""

import json
from datetime import date, timedelta
from math import floor
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inspections.forecasting.duedates import (
    FIXED,
    FLOATING,
    WINDOW,
    History,
    Interval,
    Rule,
    around,
    next_count,
    next_due,
    slot,
    state_of,
)
from inspections.forecasting.running import Running, estimated, rate, reaches_on, readings, whichever_first

REFERENCE = json.loads((Path(__file__).parents[2] / "fixtures" / "reference" / "statistics.json").read_text())
CASES = {case["id"]: case for case in REFERENCE["cases"]}
NO_METER = Running()
TODAY = date(2026, 10, 12)


def on(text):
    return date.fromisoformat(text)


def case(name, *, kind):
    """One case with its source; the kind is asserted so that nobody takes a constructed number for a published one."""
    found = CASES[name]
    assert found["source_kind"] == kind
    assert found["source"]
    return found["inputs"], found["expected"]


def test_every_case_of_the_reference_is_asserted_here_or_says_why_not():
    asserted = {
        "sched-floating", "sched-fixed-skip", "sched-overdue", "sched-two-clocks", "sched-two-clocks-idle",
        "sched-window-180", "sched-grace-25",
    }  # fmt: skip
    assert asserted == set(CASES)
    left = {one["id"]: one["reason"] for one in REFERENCE["not_covered"]}
    assert not asserted & set(left)
    assert all(left.values())


# DA Pam 750-8 in PS Magazine TB 43-PS-636 p. 31: whole days, so no tolerance.
def test_the_window_of_180_days_is_the_printed_one():
    inputs, expected = case("sched-window-180", kind="published")
    window = around(on(inputs["due"]), inputs["interval_days"], inputs["share"])
    assert [window.opens_on.isoformat(), window.closes_on.isoformat()] == expected


# The rule is published (DA Pam 750-8), the four days around the window were computed independently.
def test_the_state_changes_on_the_days_around_the_window():
    inputs, expected = case("sched-overdue", kind="constructed")
    window = around(on(inputs["due"]), inputs["interval_days"], 0.1)
    assert [state_of(on(today), window.opens_on, window.closes_on) for today in inputs["today"]] == expected


# NRC Generic Letter 89-14: 25 % late at most, and three intervals in a row within 3.25 of them. Our windows have whole
# days, and a date done inside its window counts on from the day it was due, so three late ones keep the older rule too.
def test_a_quarter_of_grace_ends_on_the_published_days_also_for_three_in_a_row():
    inputs, (latest, three) = case("sched-grace-25", kind="constructed")
    begin, rule = on("2026-01-01"), Rule(every=Interval(days=inputs["interval_days"]), mode=WINDOW, window_share=0.25)
    anchor, count, ends = begin, 1, []
    for _ in range(3):
        here = slot(rule.every, anchor, count, rule.window_share)
        ends.append((here.closes_on - begin).days)
        anchor, count = next_count(rule, anchor, count, here.closes_on)
    assert ends[0] == floor(latest)
    assert ends[2] == floor(three)


def _next_after(inputs, mode):
    every = Interval(days=inputs["interval_days"])
    rule = Rule(every=every, mode=mode)
    due, done = on(inputs["due"]), on(inputs["done"])
    anchor, count = next_count(rule, due - timedelta(days=inputs["interval_days"]), 1, done)
    return slot(every, anchor, count, rule.window_share).due_on.isoformat()


# Common practice: from the date done.
def test_floating_counts_from_the_day_it_was_done():
    inputs, expected = case("sched-floating", kind="common-practice")
    assert _next_after(inputs, FLOATING) == expected


# Common practice: keep the calendar, never schedule into the past.
def test_fixed_skips_the_dates_that_have_passed():
    inputs, expected = case("sched-fixed-skip", kind="common-practice")
    assert _next_after(inputs, FIXED) == expected


# Common practice: whichever comes first.
@pytest.mark.parametrize("name", ["sched-two-clocks", "sched-two-clocks-idle"])
def test_the_earlier_of_days_and_run_hours_wins(name):
    inputs, (days, which) = case(name, kind="common-practice")
    got_days, got_which = whichever_first(
        inputs["calendar_days"], inputs["hour_limit"], inputs["hours_since"], inputs["rate_h_per_day"]
    )
    assert got_days == pytest.approx(days, abs=1e-9)
    assert got_which == which


# The rule of DA Pam 750-8 on the printed window: 30 March to 5 May counts from 17 April.
@pytest.mark.parametrize(
    "done, counts_from",
    [("2006-03-29", "2006-03-29"), ("2006-03-30", "2006-04-17"), ("2006-05-05", "2006-04-17")]
    + [("2006-05-06", "2006-05-06")],
)
def test_fixed_in_window_counts_from_the_due_date_inside_and_from_the_day_outside(done, counts_from):
    every = Interval(days=180)
    anchor, count = next_count(Rule(every=every), on("2006-04-17") - timedelta(days=180), 1, on(done))
    assert every.after(anchor, count - 1) == on(counts_from)


def test_a_fixed_date_whose_window_is_not_open_yet_stands_after_an_early_visit():
    every = Interval(months=12)
    rule = Rule(every=every, mode=FIXED)
    assert next_count(rule, on("2026-01-01"), 1, on("2026-06-01")) == (on("2026-01-01"), 1)


# The calendar itself: the last day of each month, leap years by the Gregorian rule.
@pytest.mark.parametrize(
    "anchor, months, expected",
    [
        ("2026-01-31", 1, "2026-02-28"),
        ("2028-01-31", 1, "2028-02-29"),
        ("2028-02-29", 12, "2029-02-28"),
        ("2028-02-29", 48, "2032-02-29"),
        ("2096-02-29", 48, "2100-02-28"),
        ("2026-12-31", 2, "2027-02-28"),
        ("2026-08-31", 240, "2046-08-31"),
    ],
)
def test_months_end_on_a_day_the_month_has(anchor, months, expected):
    assert Interval(months=months).after(on(anchor)).isoformat() == expected


def test_the_31st_comes_back_after_a_short_month():
    every = Interval(months=1)
    assert [every.after(on("2026-01-31"), count).isoformat() for count in (1, 2, 3)] == [
        "2026-02-28", "2026-03-31", "2026-04-30",
    ]  # fmt: skip


def test_done_in_its_window_month_after_month_the_date_does_not_creep():
    rule = Rule(every=Interval(months=1))
    history = History(done_on=(on("2026-01-31"), on("2026-02-26"), on("2026-04-02")))
    due = next_due(rule, history, NO_METER, TODAY)
    assert due.due_on == on("2026-04-30")
    assert due.numbers["counts_from"] == "2026-03-31"


FIRST = Rule(every=Interval(months=12), first_days=30, first_hours=500)


def meter(per_day, *, first="2026-01-01", last="2026-10-12", every=10):
    begin, end = on(first).toordinal(), on(last).toordinal()
    return readings([(float(day), per_day * (day - begin)) for day in range(begin, end + 1, every)])


def test_after_an_installation_thirty_days_win_where_no_meter_is_read():
    due = next_due(FIRST, History((TODAY,), installed_on=TODAY), NO_METER, TODAY)
    assert (due.winner, due.due_on) == ("first-days", on("2026-11-11"))
    assert (due.opens_on, due.closes_on) == (on("2026-11-08"), on("2026-11-14"))
    assert (due.runner_up, due.runner_up_on) == ("policy", on("2027-10-12"))


def test_a_machine_that_runs_all_day_comes_to_its_hours_first():
    due = next_due(FIRST, History((TODAY,), installed_on=TODAY), meter(24), TODAY)
    # 500 h at 24 h a day are 20.8 days from the end of 12 October.
    assert (due.winner, due.due_on) == ("first-hours", on("2026-11-02"))
    assert (due.runner_up, due.runner_up_on) == ("first-days", on("2026-11-11"))


def test_a_standby_machine_gets_no_date_from_its_hours():
    due = next_due(FIRST, History((TODAY,), installed_on=TODAY), meter(0), TODAY)
    assert (due.winner, due.runner_up) == ("first-days", "policy")


def test_hours_that_would_take_decades_are_no_date():
    assert reaches_on(meter(0.01), TODAY, 500) is None


def test_the_day_on_which_the_hours_were_reached_is_read_off_the_meter():
    # 10 h a day until installed, then 20 h a day; 500 h are 25 days after the end of 1 June.
    start = on("2026-01-01").toordinal()
    worked = on("2026-06-02").toordinal()
    shown = [(float(start), 0.0), (float(worked), 1000.0), (worked + 100.0, 3000.0)]
    assert reaches_on(readings(shown), on("2026-06-01"), 500) == date.fromordinal(worked + 25)


def test_a_machine_that_hardly_ran_lately_is_dated_by_its_year_in_part():
    # 24 h a day until 90 days before the last reading, then 60 h in all: a quarter of the ten days' running.
    end = on("2026-10-12").toordinal()
    shown = readings([(end - 365.0, 0.0), (end - 90.0, 24.0 * 275), (float(end), 24.0 * 275 + 60)])
    year = (24 * 275 + 60) / 365
    assert rate(shown) == pytest.approx(0.25 * 60 / 90 + 0.75 * year)


def test_a_meter_that_goes_backward_counts_as_no_running():
    replaced = readings([(0.0, 9000.0), (10.0, 9100.0), (20.0, 5.0), (30.0, 105.0)])
    assert replaced.ran() == [0.0, 100.0, 100.0, 200.0]


def test_sixty_days_without_a_reading_make_hours_estimated():
    shown = meter(24, last="2026-10-12", every=1)
    assert not estimated(shown, on("2026-12-10"))
    assert estimated(shown, on("2026-12-11"))
    due = next_due(FIRST, History((TODAY,), installed_on=TODAY), shown, on("2026-12-11"))
    assert due.numbers["hours_estimated"] is True
    assert due.numbers["last_reading_on"] == "2026-10-12"


def test_a_visit_before_the_first_running_is_over_leaves_its_check_due():
    history = History((TODAY, TODAY + timedelta(days=10)), installed_on=TODAY)
    assert next_due(FIRST, history, NO_METER, TODAY).winner == "first-days"


def test_a_visit_once_its_window_is_open_settles_the_first_running():
    history = History((TODAY, on("2026-11-08")), installed_on=TODAY)
    due = next_due(FIRST, history, NO_METER, on("2026-11-08"))
    assert (due.winner, due.due_on) == ("policy", on("2027-11-08"))


def test_a_first_running_that_was_settled_stays_so_when_a_reading_comes_late():
    history = History((TODAY, on("2026-10-30")), installed_on=TODAY, first_done=True)
    assert next_due(FIRST, history, meter(1), TODAY).winner == "policy"


def test_a_policy_without_an_interval_asks_once_after_each_installation():
    once = Rule(first_days=30)
    assert next_due(once, History((on("2026-01-10"),)), NO_METER, TODAY) is None
    again = History((on("2026-01-10"), TODAY), installed_on=TODAY)
    assert next_due(once, again, NO_METER, TODAY).due_on == on("2026-11-11")


def test_a_coupling_nobody_has_checked_counts_from_its_fitting():
    due = next_due(FIRST, History(fitted_on=on("2024-03-01")), NO_METER, TODAY)
    assert due.due_on == on("2025-03-01")
    assert due.numbers["fitted_on"] == "2024-03-01"
    assert next_due(FIRST, History(), NO_METER, TODAY) is None


days = st.dates(date(1990, 1, 1), date(2060, 1, 1))
intervals = st.one_of(
    st.integers(1, 240).map(lambda n: Interval(months=n)), st.integers(10, 3000).map(lambda n: Interval(days=n))
)


@given(days, intervals, st.lists(st.integers(0, 4000), max_size=12), st.sampled_from([FLOATING, WINDOW]))
def test_the_next_date_lies_after_everything_done_and_at_most_one_interval_and_window_on(anchor, every, steps, mode):
    done = [anchor]
    for step in steps:
        done.append(done[-1] + timedelta(days=step))
    due = next_due(Rule(every=every, mode=mode), History(tuple(done)), NO_METER, done[-1])
    last = max(done)
    assert due.opens_on <= due.due_on <= due.closes_on
    assert due.due_on > last
    longest = (every.after(last, 1) - last).days
    assert (due.due_on - last).days <= longest * 1.1 + 4  # four days of month ends


@given(days, intervals, st.lists(st.integers(0, 4000), max_size=12))
def test_a_fixed_calendar_never_leaves_its_grid(anchor, every, steps):
    done = [anchor]
    for step in steps:
        done.append(done[-1] + timedelta(days=step))
    due = next_due(Rule(every=every, mode=FIXED), History(tuple(done)), NO_METER, done[-1])
    assert due.opens_on > done[-1] or due.due_on == every.after(anchor, 1)
    assert any(every.after(anchor, count) == due.due_on for count in range(1, 5000))


@given(
    st.lists(st.tuples(st.floats(0, 2000), st.floats(0, 100_000)), max_size=12),
    st.integers(0, 2000),
    st.floats(1, 100_000),
)
def test_hours_never_give_a_date_before_they_began_nor_one_without_end(pairs, since, hours):
    base = on("2020-01-01").toordinal()
    shown = readings([(base + day, value) for day, value in pairs])
    started = date.fromordinal(base + since)
    reached = reaches_on(shown, started, hours)
    per_day = rate(shown)
    assert per_day is None or 0 <= per_day <= 24
    if reached is not None:
        assert started <= reached <= started + timedelta(days=2000 + 20 * 365 + 2)
