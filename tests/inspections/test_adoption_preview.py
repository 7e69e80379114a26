"""What adopting a version would make of the last as-left: a preview beside the record, which stays as it was judged."""

import pytest

from couplings.selectors.adoption import touched_by
from couplings.services.adoption import adopt_version
from inspections.models import SurveyResult
from inspections.services.signing import sign_visit
from plant.recording import recording
from tests.factories import NOW, FitFactory, InstrumentFactory, SheetVersionFactory, WorkOrderFactory
from tests.inspections.visits import begin, fill_installation


@pytest.fixture
def left(site, mechanic):
    """A fit that was left in tolerance by a signed as-left survey."""
    fit = FitFactory(coupling__train__site=site)
    visit = begin(fit, WorkOrderFactory(train=fit.coupling.train, isolated=True), mechanic)
    fill_installation(visit, mechanic, InstrumentFactory(site=site, kind="torque-set", name="Click wrench"))
    with recording(by=mechanic, at=NOW):
        sign_visit(visit=visit)
    return fit


def by_limits(fit, number, scale):
    version = SheetVersionFactory(sheet=fit.sheet_version.sheet, number=number)
    for limit in version.limits.all():
        limit.value = limit.stated_value = limit.value * scale
        limit.save()
    return version


def test_the_same_limits_give_the_verdict_that_was_signed(left):
    (one,) = touched_by(by_limits(left, 2, 1.0), "metric")
    stored = SurveyResult.objects.get(survey__as_left=True)
    assert one.preview.verdict_by_new == one.preview.verdict_then == stored.verdict == "in tolerance"
    # The independent route is the signed result itself, computed on another way through readings and solver.
    assert one.preview.tolerance_used_by_new == pytest.approx(stored.tolerance_used, rel=1e-6)
    assert one.preview.left_on == NOW.date()


def test_limits_a_hundred_times_tighter_are_previewed_as_out_and_nothing_signed_changes(left, manager):
    version = by_limits(left, 2, 0.01)
    before = list(SurveyResult.objects.values())
    (one,) = touched_by(version, "metric")
    assert (one.preview.verdict_then, one.preview.verdict_by_new) == ("in tolerance", "out of tolerance")
    assert one.preview.tolerance_used_by_new == pytest.approx(100 * one.preview.tolerance_used_then, rel=1e-6)
    with recording(by=manager, at=NOW):
        adopt_version(version=version, fits=[left])
    assert list(SurveyResult.objects.values()) == before


def test_a_fit_that_nobody_left_has_no_preview(site):
    fit = FitFactory(coupling__train__site=site)
    (one,) = touched_by(SheetVersionFactory(sheet=fit.sheet_version.sheet, number=2), "metric")
    assert one.preview is None
