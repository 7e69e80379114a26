"""What the records of elements, removals and looks say of lives: which kind each is, on which clock, since when."""

import math
from datetime import UTC, datetime, timedelta

import pytest

from couplings.models import Element, RemovalReason
from inspections.models import Breakdown, LifeFit, SignedRecord, Visit, Wear
from inspections.selectors.lives import FAILED, FOUND, REMOVED, RUNNING, as_lives, counts_by_hours, element_lives
from inspections.services.lives import fit_lives
from inspections.tasks import lives_due
from plant.models import Meter, MeterReading
from plant.recording import recording
from tests.factories import NOW, TODAY, CouplingFactory, FitFactory, SiteFactory
from tests.inspections.signed import sign

pytestmark = pytest.mark.django_db


@pytest.fixture
def reasons(site):
    return {
        code: RemovalReason.objects.create(site=site, code=code, title=code, failure=failure)
        for code, failure in (("worn", True), ("broken", True), ("planned", False))
    }


def ago(days):
    return TODAY - timedelta(days=days)


def entered(coupling, days):
    """Let the record of a coupling begin so many days ago."""
    row = coupling.history.get(history_type="+")
    row.history_date = datetime.combine(ago(days), datetime.min.time(), tzinfo=UTC) + timedelta(hours=12)
    row.save()


def element(fit, fitted, removed=None, code=None, part="E-1", since=3000, **more):
    entered(fit.coupling, since)
    return Element.objects.create(
        site=fit.coupling.site, fit=fit, part_number=part, fitted_on=ago(fitted),
        removed_on=None if removed is None else ago(removed), removal_code=code, **more,
    )  # fmt: skip


def looked(fit, by, days, grade):
    """A signed look at the element so many days ago."""
    visit = sign(fit, on=ago(days), by=by)
    Wear.objects.create(
        visit=visit, record=visit.record, code="crack", title="Cracks", of_element=True, stated=grade, grade=grade,
        words="x", verdict="in tolerance" if grade < 3 else "out of tolerance",
    )  # fmt: skip
    return visit


def one(site):
    (found,) = element_lives(site, TODAY)
    return found


def test_an_element_that_runs_has_lived_at_least_so_long(site, fit):
    element(fit, 400)
    found = one(site)
    assert (found.how, found.days) == (RUNNING, (400, math.inf, 0))


def test_one_taken_out_unfailed_might_have_run_on(site, fit, reasons):
    element(fit, 400, 100, reasons["planned"])
    found = one(site)
    assert (found.how, found.days, found.reason) == (REMOVED, (300, math.inf, 0), "planned")


def test_one_taken_out_without_a_reason_is_no_failure(site, fit):
    element(fit, 400, 100, removal_reason="in the way")
    assert one(site).how == REMOVED


def test_worn_out_without_a_look_before_failed_at_any_age_up_to_then(site, fit, reasons):
    element(fit, 400, 100, reasons["worn"])
    found = one(site)
    assert (found.how, found.days) == (FOUND, (0, 300, 0))


def test_a_sound_look_before_narrows_the_failure(site, fit, mechanic, reasons):
    element(fit, 400, 100, reasons["worn"])
    looked(fit, mechanic, 250, 1)
    assert one(site).days == (150, 300, 0)


def test_broken_down_in_service_failed_on_its_day(site, fit, reasons):
    element(fit, 400, 100, reasons["broken"])
    found = one(site)
    assert (found.how, found.days) == (FAILED, (300, 300, 0))


def test_a_breakdown_on_record_says_the_day(site, fit, mechanic, reasons):
    element(fit, 400, 100, reasons["worn"])
    visit = sign(fit, on=ago(100), by=mechanic, kind=Visit.Kind.BREAKDOWN)
    failed_at = datetime.combine(ago(102), datetime.min.time(), tzinfo=UTC) + timedelta(hours=12)
    Breakdown.objects.create(visit=visit, record=visit.record, noticed="noise", failed_at=failed_at)
    found = one(site)
    assert (found.how, found.days[:2]) == (FAILED, (298, 298))


def test_found_worn_out_at_a_look_failed_by_then_though_it_stayed(site, fit, mechanic):
    element(fit, 400)
    looked(fit, mechanic, 300, 1)
    looked(fit, mechanic, 200, 3)
    found = one(site)
    assert (found.how, found.days, found.running) == (FOUND, (100, 200, 0), True)


def test_one_that_was_there_before_the_records_counts_from_then(site, fit, mechanic):
    element(fit, 1000, since=200)
    assert one(site).days == (1000, math.inf, 800)
    sign(fit, on=ago(300), by=mechanic)  # an old card says more than the day it was entered
    assert one(site).days == (1000, math.inf, 700)


def test_one_entered_today_says_nothing_yet(site, fit):
    element(fit, 1000, since=0)
    found = as_lives(element_lives(site, TODAY), False)
    assert found.observed == 0


def test_one_that_was_gone_before_the_records_says_nothing(site, fit, reasons):
    element(fit, 1000, 500, reasons["worn"], since=300)
    assert element_lives(site, TODAY) == []


def test_an_amended_look_counts_as_amended(site, fit, mechanic):
    element(fit, 400)
    visit = looked(fit, mechanic, 200, 3)
    with recording(by=mechanic, at=NOW):
        last = SignedRecord.objects.filter(coupling=fit.coupling).order_by("-number").first()
        visit.record = SignedRecord.objects.create(
            site=site, coupling=fit.coupling, number=last.number + 1, kind="amendment", visit=visit, amends=last,
            text="{}", previous_digest=last.digest, signed_by=mechanic, signed_at=NOW, digest="0" * 64,
        )  # fmt: skip
        visit.save(update_fields=["record"])
    assert one(site).how == RUNNING


def test_an_element_that_moved_with_its_fit_goes_on_living(site, fit, reasons):
    first = element(fit, 400, 300)
    other = FitFactory(coupling=CouplingFactory(train__site=site))
    element(other, 290, 100, reasons["worn"], continues=first)
    found = one(site)
    # The ten days on the shelf between the two are no life.
    assert found.days == (0, 290, 0)
    assert found.coupling == other.coupling


def metered(fit, per_day=12, days=1200):
    meter = Meter.objects.create(site=fit.coupling.site, train=fit.coupling.train)
    for back in range(days, -1, -50):
        MeterReading.objects.create(
            meter=meter, at=datetime.combine(ago(back), datetime.min.time(), tzinfo=UTC),
            hours=(days - back) * per_day,
        )  # fmt: skip


def test_run_hours_count_where_the_meter_says(site, fit, reasons):
    metered(fit)
    element(fit, 400, 100, reasons["broken"])
    found = element_lives(site, TODAY)
    assert counts_by_hours(found)
    assert as_lives(found, True).high[0] == pytest.approx(300 * 12, rel=0.01)


def test_one_without_a_meter_puts_all_on_the_calendar(site, fit, reasons):
    metered(fit)
    element(fit, 400, 100, reasons["broken"])
    element(FitFactory(coupling=CouplingFactory(train__site=site)), 200)
    assert not counts_by_hours(element_lives(site, TODAY))


def test_the_number_of_queries_does_not_grow(site, fit, reasons, connection_queries):
    element(fit, 400, 100, reasons["worn"])
    with connection_queries() as few:
        element_lives(site, TODAY)
    for _ in range(5):
        element(FitFactory(coupling=CouplingFactory(train__site=site)), 300)
    with connection_queries() as many:
        assert len(element_lives(site, TODAY)) == 6
    assert len(many) == len(few)


def lived(site, ages, reasons, part="E-1", code="broken"):
    """Elements of one part that broke at these ages, and one that runs."""
    for age in ages:
        element(FitFactory(coupling=CouplingFactory(train__site=site)), age + 10, 10, reasons[code], part)
    element(FitFactory(coupling=CouplingFactory(train__site=site)), max(ages), None, None, part)


def fitted(site, by):
    with recording(by=by, at=NOW):
        return {fit.part_number: fit for fit in fit_lives(site=site, today=TODAY)}


def test_the_week_fits_each_part_and_keeps_what_is_the_same(site, mechanic, reasons):
    lived(site, [300, 420, 500, 640], reasons)
    lived(site, [200], reasons, part="E-2", code="planned")
    found = fitted(site, mechanic)
    assert found["E-1"].basis == "family"
    assert found["E-1"].failures == 4
    assert found["E-1"].b10_limits[0] < found["E-1"].b10
    assert found["E-2"].basis == "bound"
    assert {fit.pk for fit in fitted(site, mechanic).values()} == {fit.pk for fit in found.values()}
    element(FitFactory(coupling=CouplingFactory(train__site=site)), 700, 5, reasons["broken"])
    after = fitted(site, mechanic)["E-1"]
    assert after.failures == 5
    assert LifeFit.objects.filter(part_number="E-1").count() == 2
    assert LifeFit.objects.get(part_number="E-1", current=True) == after


def test_few_failures_at_a_site_go_by_all_sites(site, mechanic, reasons):
    lived(site, [300], reasons)
    other = SiteFactory(name="Far away")
    far = {"broken": RemovalReason.objects.create(site=other, code="broken", title="x", failure=True)}
    lived(other, [310, 450, 520], far)
    found = fitted(site, mechanic)["E-1"]
    assert (found.level, found.failures, found.elements) == ("all", 4, 6)
    LifeFit.objects.all().delete()
    Element.objects.filter(site=other).delete()
    assert fitted(site, mechanic)["E-1"].basis == "counts"


def test_the_week_is_due_once_for_each_site_from_its_monday(site):
    (due,) = [one for one in lives_due(NOW) if one.scope == f"site:{site.pk}"]
    assert due.for_date.weekday() == 0
    assert due.not_before <= NOW
