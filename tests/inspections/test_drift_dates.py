"""Dates by drift: they win and lose against the policy, grow only with legs, show their risk, and ask for causes."""

from datetime import UTC, date, datetime, timedelta

import pytest
import time_machine
from django.core.management import CommandError, call_command

from inspections.forecasting.duedates import Drift, History, Interval, Rule, next_due
from inspections.forecasting.running import Running
from inspections.models import Check, DriftState, Flag, GroupFit, Leg, Policy, Visit
from inspections.reasons import check_sentence, flag_sentence
from inspections.selectors.drift_due import chance_on
from inspections.services.checks import recompute_site
from inspections.services.deferral import defer_check
from inspections.services.flags import clear_flag
from inspections.services.policies import load_policies, write_policy
from inspections.tasks import nightly, weekly, weekly_due
from plant.jobs import tick, work
from plant.models import Event, JobRun, Stop
from plant.recording import recording
from plant.refusals import Refused
from plant.services.stops import plan_stop
from tests.inspections.drifting import fitted, fleet, noon, surveyed
from tests.inspections.signed import sign

TODAY = date(2026, 1, 15)
DAY = timedelta(days=1)
RULE = Rule(every=Interval(months=12))
DONE = History(done_on=(date(2026, 1, 1),), fitted_on=date(2025, 1, 1))


def asked(due_on, by="risk", grows=False, left_on=date(2026, 1, 1)):
    return Drift(due_on, left_on, by, grows, {"drift_by": by})


def test_drift_wins_where_it_comes_before_the_policy_and_is_the_runner_up_where_it_does_not():
    won = next_due(RULE, DONE, Running(), TODAY, asked(date(2026, 6, 1)))
    assert (won.winner, won.due_on, won.runner_up, won.runner_up_on) == (
        "drift", date(2026, 6, 1), "policy", date(2027, 1, 1),
    )  # fmt: skip
    lost = next_due(RULE, DONE, Running(), TODAY, asked(date(2028, 6, 1)))
    assert (lost.winner, lost.due_on, lost.runner_up, lost.runner_up_on) == (
        "policy", date(2027, 1, 1), "drift", date(2028, 6, 1),
    )  # fmt: skip


def test_a_date_by_drift_has_no_days_of_grace():
    won = next_due(RULE, DONE, Running(), TODAY, asked(date(2026, 6, 1)))
    assert won.opens_on < won.due_on == won.closes_on


def test_where_its_own_legs_bear_it_out_the_policys_date_stands_back():
    won = next_due(RULE, DONE, Running(), TODAY, asked(date(2027, 9, 1), grows=True))
    assert (won.winner, won.due_on, won.runner_up, won.runner_up_on) == (
        "drift", date(2027, 9, 1), "policy", date(2027, 1, 1),
    )  # fmt: skip


def test_run_hours_still_come_first_where_a_forecast_would_wait_longer():
    # 240 h in ten days from the day it was done: 4 800 h are run in 200 days.
    running = Running((DONE.begins_on.toordinal() + 1.0, DONE.begins_on.toordinal() + 11.0), (0.0, 240.0))
    rule = Rule(every=Interval(months=12), every_hours=4800)
    won = next_due(rule, DONE, running, TODAY, asked(date(2027, 9, 1), grows=True))
    assert (won.winner, won.runner_up) == ("run-hours", "drift")


def test_what_never_reaches_the_risk_within_the_interval_leaves_the_policy_alone():
    won = next_due(RULE, DONE, Running(), TODAY, asked(date(2026, 12, 30), by="longest"))
    assert (won.winner, won.runner_up) == ("policy", "")


def test_a_date_by_drift_that_somebody_left_out_comes_back_only_when_it_is_measured_again():
    skipped = History(
        done_on=DONE.done_on, fitted_on=DONE.fitted_on, skipped_until=date(2026, 6, 1), skipped_on=date(2026, 5, 20)
    )
    assert next_due(RULE, skipped, Running(), TODAY, asked(date(2026, 6, 1))).winner == "policy"
    again = next_due(RULE, skipped, Running(), TODAY, asked(date(2026, 5, 28), left_on=date(2026, 5, 25)))
    assert again.winner == "drift"


@pytest.mark.parametrize(
    ("hours", "wanted"), [(None, ("lost", date(2026, 1, 31))), ((0.0, 240.0), ("lost", date(2026, 1, 22)))]
)
def test_fasteners_that_had_lost_are_checked_again_after_the_first_running_until_they_hold(hours, wanted):
    rule = Rule(first_days=30, first_hours=500)
    begin = date(2026, 1, 1).toordinal() + 1.0
    running = Running((begin, begin + 10), hours) if hours else Running()
    lost = next_due(rule, History(fitted_on=date(2025, 1, 1), lost_on=date(2026, 1, 1)), running, TODAY)
    assert (lost.winner, lost.due_on) == wanted
    assert next_due(rule, History(fitted_on=date(2025, 1, 1)), running, TODAY) is None


@pytest.fixture
def plant(site, mechanic):
    with recording(by=None, at=noon(date(2023, 10, 1))):
        load_policies(site=site, kinds=("alignment", "torque"))
    fits = fleet(site, mechanic, 6, rate_sd=0.012, at_most=0.5)
    return fits


def fit_and_follow(site):
    fitted(site, TODAY)
    with recording(by=None, at=noon(TODAY)):
        recompute_site(site=site, today=TODAY)


def alignment(fit):
    return Check.objects.get(coupling=fit.coupling, kind="alignment", settled_on=None)


def test_checks_are_won_by_drift_or_grow_with_evidence_and_say_why(plant, site):
    fit_and_follow(site)
    checks = {fit.pk: alignment(fit) for fit in plant}
    fast = checks[plant[4].pk]
    assert fast.winner == "drift"
    sentence = check_sentence(fast)
    assert "at this train's pace" in sentence
    assert "policy, every 12\u00a0months, would say" in sentence
    states = {state.coupling_id: state for state in DriftState.objects.all()}
    for fit in plant:
        check, state = checks[fit.pk], states[fit.coupling_id]
        # Never sooner than the shortest, never later than the longest, and never past twice its longest leg.
        if check.winner == "drift":
            assert state.left_on + 30 * DAY <= check.due_on
            assert check.due_on <= state.left_on + timedelta(days=24 * 30.4375)
            assert check.due_on <= state.left_on + max(366 * DAY, timedelta(days=2 * state.longest_days))
            assert chance_on(state, check.due_on) == pytest.approx(check.numbers["drift_chance"])
        else:
            assert check.winner == "policy"


def test_with_a_small_risk_it_waits_for_the_policy_and_with_evidence_for_longer(plant, site, engineer):
    """Half of it accepted: the two surveys of its own bear out more than the regular year, up to its bound."""
    with recording(by=engineer, at=noon(TODAY)):
        write_policy(site=site, check_kind="alignment", risk=0.5)
    fit_and_follow(site)
    check, state = alignment(plant[4]), DriftState.objects.get(coupling=plant[4].coupling)
    assert (check.winner, check.runner_up) == ("drift", "policy")
    assert check.runner_up_on < check.due_on <= state.left_on + timedelta(days=24 * 30.4375)
    assert "2 legs of its own let it wait longer than the regular interval" in check_sentence(check)
    with recording(by=engineer, at=noon(TODAY)):
        write_policy(site=site, check_kind="alignment", longest_months=None)
    assert alignment(plant[4]).winner == "policy"


def test_without_a_leg_of_its_own_a_forecast_lets_nothing_wait_longer(plant, site):
    fit_and_follow(site)
    alone = plant[1]
    Leg.objects.filter(coupling=alone.coupling_id).update(left_out_at=noon(TODAY), left_out_reason="test")
    fit_and_follow(site)
    state = DriftState.objects.get(coupling=alone.coupling_id)
    assert state.legs == 0
    assert state.due_on <= state.left_on + 366 * DAY


def test_a_policy_moves_the_accepted_risk_and_its_bounds_at_once(plant, site, engineer):
    fit_and_follow(site)
    before = alignment(plant[4]).due_on
    with recording(by=engineer, at=noon(TODAY)):
        write_policy(site=site, check_kind="alignment", risk=0.3)
    later = alignment(plant[4])
    assert DriftState.objects.get(coupling=plant[4].coupling_id).risk == 0.3
    assert later.due_on > before
    with recording(by=engineer, at=noon(TODAY)):
        write_policy(site=site, check_kind="alignment", by_drift=False)
    assert {one.winner for one in Check.objects.filter(kind="alignment", settled_on=None)} == {"policy"}
    with pytest.raises(Refused) as refused, recording(by=engineer, at=noon(TODAY)):
        write_policy(site=site, check_kind="alignment", longest_months=6)
    assert "longest_months" in refused.value.as_dict()
    with pytest.raises(Refused) as refused, recording(by=engineer, at=noon(TODAY)):
        write_policy(site=site, check_kind="alignment", risk=float("nan"))
    assert "risk" in refused.value.as_dict()


def test_the_night_gives_what_the_signature_gave(plant, site, mechanic):
    fit_and_follow(site)
    surveyed(plant[2], TODAY, mechanic, found=(0.05, 0.02, 0.1, 0.0), same=True)
    before = [list(model.objects.order_by("pk").values()) for model in (Check, DriftState, Leg, Flag)]
    with recording(by=None, at=noon(TODAY)):
        recompute_site(site=site, today=TODAY)
    assert [list(model.objects.order_by("pk").values()) for model in (Check, DriftState, Leg, Flag)] == before


def test_a_deferral_keeps_the_risk_it_was_made_with(plant, site, planner):
    fit_and_follow(site)
    check = alignment(plant[4])
    until = check.due_on + 60 * DAY
    state = DriftState.objects.get(coupling=plant[4].coupling_id)
    with recording(by=planner, at=noon(TODAY)):
        check = defer_check(check=check, until=until, reason="no crew before")
    assert check.deferred_risk == chance_on(state, until)
    assert check.deferred_risk > state.risk
    told = Event.objects.filter(kind="check.deferred").last()
    assert told.payload["risk"] == check.deferred_risk


def test_the_page_shows_the_risk_before_the_planner_confirms_and_says_another_day(plant, site, planner, client):
    fit_and_follow(site)
    check = alignment(plant[4])
    until = (check.due_on + 60 * DAY).isoformat()
    client.force_login(planner)
    with time_machine.travel(noon(TODAY), tick=False):
        page = client.get(f"/couplings/{check.coupling.uuid}/", {"look": until}).content.decode()
        assert "A straight line through its movements reaches" in page
        assert "is accepted" in page
        body = {"until": until, "reason": "no crew before"}
        first = client.post(f"/checks/{check.uuid}/defer/", body)
        assert first.status_code == 200
        assert "Not deferred yet." in first.content.decode()
        assert Check.objects.get(pk=check.pk).deferred_until is None
        assert client.post(f"/checks/{check.uuid}/defer/", body | {"seen": until}).status_code == 302
        assert "Who deferred it was shown the risk" in client.get(f"/couplings/{check.coupling.uuid}/").content.decode()
    check.refresh_from_db()
    assert check.deferred_risk is not None


def test_the_due_list_shows_the_risks_of_what_is_ticked_before_it_defers(plant, site, planner, client):
    fit_and_follow(site)
    check = alignment(plant[4])
    until = (check.due_on + 60 * DAY).isoformat()
    client.force_login(planner)
    body = {"row": [str(check.uuid)], "act": "defer", "until": until, "reason": "no crew before"}
    with time_machine.travel(noon(TODAY), tick=False):
        first = client.post("/due/chosen/", body)
        assert "read what it risks" in first.content.decode()
        assert client.post("/due/chosen/", body | {"seen": until}).status_code == 302
    check.refresh_from_db()
    assert check.deferred_risk is not None


def test_a_day_that_is_none_is_refused_beside_its_field(plant, site, planner, client):
    fit_and_follow(site)
    client.force_login(planner)
    page = client.get(f"/couplings/{plant[4].coupling.uuid}/", {"look": "soon"}).content.decode()
    assert "Write the day as 2026-10-12." in page


def test_a_jump_asks_for_a_cause_and_takes_it_to_its_leg(plant, site, mechanic, engineer):
    fit_and_follow(site)
    surveyed(plant[3], TODAY, mechanic, found=(0.45, -0.4, 0.9, -0.9), left=(0.0, 0.0, 0.0, 0.0))
    flag = Flag.objects.get(coupling=plant[3].coupling, kind="jump", cleared_at=None)
    said = flag_sentence(flag)
    assert "of the tolerance" in said
    assert "What was it: pipe strain" in said
    with pytest.raises(Refused), recording(by=engineer, at=noon(TODAY)):
        clear_flag(flag=flag, cause="it is fine now")
    with recording(by=engineer, at=noon(TODAY)):
        clear_flag(flag=flag, cause="pipe-strain: the hanger had come off")
    leg = Leg.objects.get(to_visit__on=TODAY, coupling=plant[3].coupling)
    assert (leg.cause, leg.cause_note, leg.cause_by, leg.jump) == (
        "pipe-strain", "the hanger had come off", engineer, True,
    )  # fmt: skip
    # It widens and is not deleted: the leg still counts, and the night asks no more.
    assert leg.used
    with recording(by=None, at=noon(TODAY)):
        recompute_site(site=site, today=TODAY)
    assert not Flag.objects.filter(coupling=plant[3].coupling, kind="jump", cleared_at=None).exists()


def test_out_before_the_next_stop_and_moving_fast_are_said_and_clear_themselves(plant, site, planner, engineer):
    fit_and_follow(site)
    fast = plant[4].coupling
    state = DriftState.objects.get(coupling=fast)
    assert Flag.objects.filter(coupling=fast, kind="moving-fast", cleared_at=None).exists() is (
        state.pace_share >= 0.5 and state.pace_chance <= 0.05
    )
    assert not Flag.objects.filter(coupling=fast, kind="forecast-out", cleared_at=None).exists()
    begins = alignment(plant[4]).due_on + 200 * DAY
    with recording(by=planner, at=noon(TODAY)):
        stop = plan_stop(site=site, name="Yearly stop", begins_on=begins, ends_on=begins + 5 * DAY)
    flag = Flag.objects.get(coupling=fast, kind="forecast-out", cleared_at=None)
    assert (flag.evidence["by"], flag.evidence["on"]) == ("stop", begins.isoformat())
    assert "By the next planned stop on" in flag_sentence(flag)
    with pytest.raises(Refused), recording(by=engineer, at=noon(TODAY)):
        clear_flag(flag=flag, cause="no")
    assert Stop.objects.get() == stop


def test_the_weekly_run_fits_every_group_and_is_harmless_twice_and_resumable(plant, site):
    at = datetime(2026, 1, 14, 6, 0, tzinfo=UTC)
    (occasion,) = weekly_due(at)
    assert (occasion.scope, occasion.for_date) == ("all", date(2026, 1, 12))

    def run(progress=""):
        steps = []
        with recording(by=None, at=at):
            for step in weekly("all", occasion.for_date, at, progress):
                steps.append(step)
        return steps

    steps = run()
    assert steps[0] == "group 1"
    assert GroupFit.objects.filter(current=True).count() == 1
    before = [list(model.objects.order_by("pk").values()) for model in (GroupFit, DriftState, Check, Leg)]
    for progress in ("", *steps):
        run(progress)
        assert [list(model.objects.order_by("pk").values()) for model in (GroupFit, DriftState, Check, Leg)] == before


def test_the_loop_runs_it_once_a_week(plant, site):
    at = datetime(2026, 1, 14, 6, 0, tzinfo=UTC)
    tick(at)
    while work(at, budget_seconds=60):
        pass
    run = JobRun.objects.get(kind="group-fits")
    assert (run.state, run.error) == ("done", "")
    assert DriftState.objects.filter(why_not="").count() == 6


def test_an_older_fit_is_kept_when_a_newer_one_takes_its_place(plant, site, mechanic):
    fitted(site, TODAY)
    surveyed(plant[1], TODAY, mechanic, found=(0.05, 0.02, 0.1, 0.0), same=True)
    fitted(site, TODAY + 7 * DAY)
    assert list(GroupFit.objects.order_by("fitted_on").values_list("fitted_on", "current")) == [
        (TODAY, False), (TODAY + 7 * DAY, True),
    ]  # fmt: skip


def test_a_torque_check_that_found_loss_asks_for_another_until_one_finds_it_stable(site, mechanic, plant):
    fit = plant[5]
    sign(fit, on=date(2025, 12, 1), by=mechanic, kind=Visit.Kind.TORQUE, torqued=True, loose=("flange",))
    check = Check.objects.get(coupling=fit.coupling, kind="torque", settled_on=None)
    assert (check.winner, check.due_on) == ("lost", date(2025, 12, 31))
    assert "had lost on 1 December 2025" in check_sentence(check)
    sign(fit, on=date(2025, 12, 31), by=mechanic, kind=Visit.Kind.TORQUE, torqued=True)
    assert not Check.objects.filter(coupling=fit.coupling, kind="torque", settled_on=None).exists()
    assert Policy.objects.filter(check_kind="torque").exists()


def test_the_night_takes_up_what_crosses_a_day_by_itself_and_only_that(plant, site):
    fit_and_follow(site)
    crossing = DriftState.objects.exclude(crosses_on=None).order_by("crosses_on").first()
    on = crossing.crosses_on
    others = dict(DriftState.objects.filter(crosses_on__gt=on).values_list("pk", "version"))
    at = datetime(on.year, on.month, on.day, 4, tzinfo=UTC)
    with recording(by=None, at=at):
        list(nightly(f"site:{site.pk}", on, at, ""))
    crossing.refresh_from_db()
    assert crossing.crosses_on is None or crossing.crosses_on > on
    assert dict(DriftState.objects.filter(pk__in=others).values_list("pk", "version")) == others


def test_legs_and_forecasts_are_computed_again_by_hand(plant, site, capsys):
    fit_and_follow(site)
    before = [list(model.objects.order_by("pk").values()) for model in (Leg, Check)]
    DriftState.objects.all().delete()
    with time_machine.travel(noon(TODAY), tick=False):
        call_command("rebuild_legs", site=site.name)
    assert "12 of 12 legs in use, 6 of 6 couplings forecast" in capsys.readouterr().out
    assert [list(model.objects.order_by("pk").values()) for model in (Leg, Check)] == before
    with pytest.raises(CommandError):
        call_command("rebuild_legs", site="nowhere")
