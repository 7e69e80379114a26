"""How areas stand, counted by hand beside what the program counts: the day, the month, the year, and again."""

from datetime import UTC, date, datetime

import pytest

from inspections import tasks
from inspections.models import Check, StandingMonth
from inspections.selectors.fleet import month_end, months_back, standing_on
from inspections.services.standing import count_month, months_to_count
from plant.drawings.months import MonthBar, months_pictures
from plant.recording import recording
from tests.factories import NOW, TODAY, AreaFactory, FitFactory
from tests.inspections.signed import amend, sign

pytestmark = pytest.mark.django_db


def fitted(site, tag, on=date(2026, 1, 10), area="Boiler feed"):
    return FitFactory(
        coupling__train__site=site, coupling__train__area=AreaFactory(site=site, name=area), coupling__tag=tag,
        fitted_on=on,
    )  # fmt: skip


def stands(site, day):
    return {one.tag: (one.state, one.why) for one in standing_on([site], day)}


def counted(site, month_on, today=TODAY):
    with recording(by=None, at=NOW):
        count_month(site=site, month_on=month_on, today=today)
    return {
        row.area.name: (row.fitted, row.in_tolerance, row.too_close, row.out, row.not_known, row.overdue)
        for row in StandingMonth.objects.filter(site=site, month_on=month_on).select_related("area")
    }


def test_a_coupling_stands_as_the_last_signed_survey_of_what_is_fitted_says(site, mechanic):
    fit = fitted(site, "A-1")
    assert stands(site, date(2026, 1, 9)) == {}
    assert stands(site, date(2026, 1, 10)) == {"A-1": ("not known", "never-measured")}
    sign(fit, on=date(2026, 2, 1), by=mechanic, aligned=True, verdict="in tolerance")
    sign(fit, on=date(2026, 5, 1), by=mechanic, aligned=True, verdict="too close to call")
    visit = sign(fit, on=date(2026, 8, 1), by=mechanic, aligned=True, verdict="out of tolerance")
    said = [stands(site, day)["A-1"][0] for day in (date(2026, 1, 31), date(2026, 4, 30), date(2026, 7, 31), TODAY)]
    assert said == ["not known", "in tolerance", "too close to call", "out of tolerance"]
    amend(visit, by=mechanic, aligned=True, verdict="not known")
    assert stands(site, TODAY) == {"A-1": ("not known", "not-judged")}


def test_a_new_fit_is_not_known_until_it_is_measured_and_an_empty_place_neither(site, mechanic):
    fit = fitted(site, "A-1")
    sign(fit, on=date(2026, 2, 1), by=mechanic, aligned=True)
    fit.removed_on = date(2026, 3, 1)
    fit.save()
    assert stands(site, date(2026, 2, 28))["A-1"][0] == "in tolerance"
    assert stands(site, date(2026, 3, 1))["A-1"] == ("not known", "nothing-fitted")
    FitFactory(coupling=fit.coupling, sheet_version=fit.sheet_version, fitted_on=date(2026, 3, 5))
    assert stands(site, date(2026, 3, 5))["A-1"] == ("not known", "refitted")


def test_a_retired_coupling_counts_until_the_day_it_was_retired(site):
    fit = fitted(site, "A-1")
    fit.coupling.retired_on = date(2026, 6, 30)
    fit.coupling.save()
    assert stands(site, date(2026, 6, 29)) != {}
    assert stands(site, date(2026, 6, 30)) == {}


def test_a_month_is_counted_by_area_at_its_last_day_and_the_current_one_to_date(site, mechanic):
    first, second = fitted(site, "A-1"), fitted(site, "A-2")
    third = fitted(site, "F-1", on=date(2026, 9, 30), area="Draught fans")
    sign(first, on=date(2026, 8, 31), by=mechanic, aligned=True)
    sign(second, on=date(2026, 9, 1), by=mechanic, aligned=True, verdict="out of tolerance")
    day = date(2026, 9, 29)
    Check.objects.create(
        site=site, coupling=third.coupling, kind="alignment", opens_on=day, due_on=day, closes_on=day,
        winner="first-days", numbers={"first_days": 30, "installed_on": "2026-08-30"},
    )  # fmt: skip
    # By hand: fitted, in, too close, out, not known, overdue.
    assert counted(site, date(2026, 8, 1)) == {"Boiler feed": (2, 1, 0, 0, 1, 0)}
    assert counted(site, date(2026, 9, 1)) == {"Boiler feed": (2, 1, 0, 1, 0, 0), "Draught fans": (1, 0, 0, 0, 1, 1)}
    assert counted(site, date(2026, 10, 1)) == counted(site, date(2026, 9, 1))
    row = StandingMonth.objects.get(month_on=date(2026, 9, 1), area__name="Boiler feed")
    assert row.until_on == date(2026, 9, 30)
    assert row.changes == [
        {"coupling": str(second.coupling.uuid), "tag": "A-2", "was": "not known", "now": "out of tolerance"}
    ]
    assert StandingMonth.objects.get(month_on=date(2026, 10, 1), area__name="Boiler feed").until_on == TODAY


def test_the_months_kept_can_be_counted_again_with_the_same_answer(site, mechanic):
    for number in range(4):
        fit = fitted(site, f"A-{number}", on=date(2026, 1 + number, 5))
        verdict = ("in tolerance", "out of tolerance")[number % 2]
        sign(fit, on=date(2026, 5 + number, 7), by=mechanic, aligned=True, verdict=verdict)
    list(night(site))
    kept = list(StandingMonth.objects.order_by("month_on").values_list("month_on", "fitted", "in_tolerance", "out"))
    StandingMonth.objects.all().delete()
    list(night(site))
    again = StandingMonth.objects.order_by("month_on").values_list("month_on", "fitted", "in_tolerance", "out")
    assert list(again) == kept
    # January to October 2026; the fits come one a month, measured from May on, every other one out.
    assert [row[1:] for row in kept] == [
        (1, 0, 0), (2, 0, 0), (3, 0, 0), (4, 0, 0), (4, 1, 0), (4, 1, 1), (4, 2, 1), (4, 2, 2), (4, 2, 2), (4, 2, 2),
    ]  # fmt: skip


def night(site, at=NOW, progress=""):
    with recording(by=None, at=at):
        yield from tasks.standing(f"site:{site.pk}", at.date(), at, progress)


def test_a_night_counts_what_is_missing_and_goes_on_where_it_was_stopped(site):
    fitted(site, "A-1", on=date(2026, 7, 15))
    assert months_to_count(site=site, today=TODAY) == [date(2026, month, 1) for month in (10, 9, 8, 7)]
    assert list(counted(site, date(2026, 7, 1))) == ["Boiler feed"]
    assert list(night(site, progress="2026-07-01")) == ["2026-08-01", "2026-09-01", "2026-10-01"]
    assert months_to_count(site=site, today=TODAY) == [date(2026, 10, 1)]
    # In the first days of a month visits of the last one are still being signed.
    assert months_to_count(site=site, today=date(2026, 11, 2)) == [date(2026, 11, 1), date(2026, 10, 1)]


def test_it_is_due_once_a_night_by_the_sites_own_clock(site):
    before, after = datetime(2026, 10, 12, 0, 9, tzinfo=UTC), datetime(2026, 10, 12, 0, 10, tzinfo=UTC)
    assert [one.for_date for one in tasks.standing_due(before)] == []
    assert [one.for_date for one in tasks.standing_due(after)] == [date(2026, 10, 12)]


@pytest.mark.parametrize(
    "day, number, first", [(date(2026, 1, 31), 1, date(2025, 12, 1)), (date(2028, 2, 29), 12, date(2027, 2, 1))]
)
def test_months_are_counted_over_the_turn_of_a_year(day, number, first):
    assert months_back(day, number) == first
    assert month_end(date(2028, 2, 1)) == date(2028, 2, 29)
    assert month_end(date(2026, 12, 1)) == date(2026, 12, 31)


def test_the_drawing_stacks_what_is_not_in_tolerance_on_one_scale():
    narrow, wide = months_pictures([MonthBar("Sep", None), MonthBar("Oct", 20, 10, 5)], "Share")
    for drawn in (narrow, wide):
        assert drawn.count('class="seg') == 3  # out, too close, not known; the month not counted stays empty
        assert "40 %" in drawn
        assert "style=" not in drawn
    # From the design's wide drawing: the axis at y 158, 150 high; 20 of 40 percent are half of that.
    assert 'height="75"' in wide
