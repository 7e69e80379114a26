"""Rules as pure functions: the sentence where something stands against it, "" where nothing does."""

from datetime import UTC, date, datetime, timedelta

import pytest

from inspections import rules
from inspections.models import Visit
from inspections.steps import STEPS

AT = datetime(2026, 10, 12, 9, tzinfo=UTC)


def test_the_whole_bore_may_sit_on_the_shaft_and_not_more():
    assert rules.engagement_refusal(80.0, 80.0) == ""
    assert rules.engagement_refusal(80.00001, 80.0) == "", "an inch figure converted"
    assert "101% of the bore" in rules.engagement_refusal(80.8, 80.0)
    assert rules.engagement_refusal(500.0, None) == "", "nothing to compare with"
    assert rules.engagement_share(60.0, 80.0) == pytest.approx(0.75)


def test_an_element_is_cured_before_it_is_fitted():
    assert rules.cure_refusal(date(2026, 10, 12), date(2026, 10, 12)) == ""
    assert rules.cure_refusal(date(2026, 10, 13), date(2026, 10, 12))


def test_shelf_life_ends_on_its_last_day():
    cured = date(2021, 10, 12)
    assert not rules.over_shelf_life(cured, cured + timedelta(days=1826), 5)  # 5 x 365.25 = 1826.25 days
    assert rules.over_shelf_life(cured, cured + timedelta(days=1827), 5)
    assert not rules.over_shelf_life(cured, date(2080, 1, 1), None)


def test_as_found_ends_when_something_is_loosened():
    assert rules.loosened_refusal(AT, None) == ""
    assert rules.loosened_refusal(AT, AT) == ""
    assert rules.loosened_refusal(AT + timedelta(minutes=1), AT)


def test_calibration_holds_through_its_last_day():
    assert not rules.calibration_ended(date(2026, 1, 1), 365, date(2027, 1, 1))
    assert rules.calibration_ended(date(2026, 1, 1), 365, date(2027, 1, 2))
    assert rules.calibration_ended(None, 365, date(2026, 1, 1)), "never calibrated"
    assert not rules.calibration_ended(None, None, date(2026, 1, 1)), "needs none"


@pytest.mark.parametrize(
    "kind, refused", [("installation", False), ("element", False), ("torque", True), ("periodic", True)]
)
def test_a_joint_that_must_not_be_re_checked_is_tightened_only_anew(kind, refused):
    assert bool(rules.recheck_refusal(kind, "not-allowed", "stretch-set")) is refused
    assert rules.recheck_refusal(kind, "allowed", "") == ""


def test_every_kind_of_visit_says_what_it_needs():
    assert set(rules.WANTED) == set(Visit.Kind.values)
    assert {row.step for rows in rules.WANTED.values() for row in rows} <= set(STEPS)
    # A breakdown asks for what was noticed; whoever then works on it is held to the isolation by each step.
    stopped = rules.STOPPED - {"breakdown"}
    assert all(rules.WANTED[kind][0].step == "isolation" for kind in stopped)
    assert set(rules.WANTED) - stopped == {"running", "breakdown", "legacy"}


def test_what_is_wanting_takes_reasons_only_where_they_count():
    assert rules.wanting("installation", {"isolation"}, {"as-left"}, {"element"}) == [
        "placement",
        "as-left",
        "fasteners",
    ]
    assert rules.wanting("periodic", {"isolation", "as-left"}, {"as-found"}, ()) == []
    assert rules.wanting("alignment", {"isolation"}, {"as-found", "as-left"}, ()) == ["as-left"]


def test_steps_stand_in_the_order_of_the_work():
    assert list(STEPS) == [
        "isolation", "running-look", "stated", "breakdown", "conditions", "as-found", "cleaning", "run-out",
        "pipe-strain", "soft-foot", "mounting", "placement", "set-screws", "alignment", "hold-down", "as-left",
        "rotation", "element", "fasteners", "wear", "lubricant", "guard", "signature",
    ]  # fmt: skip
    assert [key for key, step in STEPS.items() if step.numbered] == ["alignment"]
    assert [key for key, step in STEPS.items() if not step.needs_isolation] == [
        "isolation", "running-look", "stated", "breakdown", "conditions", "signature",
    ]  # fmt: skip
    assert all(step.caution for key, step in STEPS.items() if key in ("running-look", "breakdown", "rotation", "guard"))
