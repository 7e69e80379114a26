"""Wear that accelerates: beyond the uncertainty of its readings, and gone with the part."""

import math
from datetime import timedelta

import pytest

from couplings.models import Element
from inspections.forecasting.growth import growth
from inspections.forecasting.legs import ForecastError
from inspections.models import Flag, Wear
from inspections.reasons import flag_sentence
from inspections.services.wear_flags import flag_wear
from plant.recording import recording
from tests.factories import NOW, TODAY
from tests.inspections.signed import sign


def test_twice_the_pace_is_an_acceleration_where_readings_are_fine_enough():
    """Constructed by hand: spells of a year, growth 1 and 2; its error is u sqrt(1 + 4 + 1)."""
    fine = growth([0, 365.25, 730.5], [0, 1, 3], [0.1] * 3)
    assert (fine.earlier, fine.later) == pytest.approx((1, 2))
    assert fine.excess == pytest.approx(1 / (0.1 * math.sqrt(6)))
    assert fine.accelerates
    assert not growth([0, 365.25, 730.5], [0, 1, 3], [0.5] * 3).accelerates


def test_a_steady_or_slowing_growth_and_too_few_readings_are_none():
    assert not growth([0, 100, 200], [0, 1, 2], [0.01] * 3).accelerates
    assert not growth([0, 100, 200], [0, -3, -4], [0.01] * 3).accelerates
    assert growth([0, 100], [0, 1], [0.1] * 2) is None


def test_columns_that_cannot_be_are_refused():
    for days, values, u in (([0, 1], [0], [1, 1]), ([0, 1], [0, 1], [0, 1]), ([1, 1], [0, 1], [1, 1])):
        with pytest.raises(ForecastError):
            growth(days, values, u)


def read(fit, by, ago, value, u=0.05):
    on = TODAY - timedelta(days=ago)
    visit = sign(fit, on=on, by=by)
    Wear.objects.create(
        visit=visit, record=visit.record, code="backlash", title="Play", of_element=True, stated=1, grade=1,
        words="x", kind="gap", value=value, limit=5.0, u=u, verdict="in tolerance",
    )  # fmt: skip


def flagged(fit, by):
    with recording(by=by, at=NOW):
        flag_wear(coupling=fit.coupling)
    return Flag.objects.filter(coupling=fit.coupling, kind="wear-accelerating", cleared_at__isnull=True).first()


@pytest.mark.django_db
def test_the_flag_opens_says_why_and_goes_with_the_element(fit, mechanic):
    Element.objects.create(site=fit.coupling.site, fit=fit, part_number="E-1", fitted_on=TODAY - timedelta(days=900))
    for ago, value in ((730, 0.2), (365, 0.4)):
        read(fit, mechanic, ago, value)
    assert flagged(fit, mechanic) is None
    read(fit, mechanic, 10, 1.4)
    flag = flagged(fit, mechanic)
    assert flag is not None
    said = flag_sentence(flag)
    assert "Play grew by 0.2\u00a0mm in a year" in said
    Element.objects.filter(fit=fit).first()
    element = Element.objects.get(fit=fit)
    element.removed_on = TODAY
    element.save()
    Element.objects.create(site=fit.coupling.site, fit=fit, part_number="E-1", fitted_on=TODAY)
    assert flagged(fit, mechanic) is None
    assert "the part is gone" in Flag.objects.get(pk=flag.pk).cause


@pytest.mark.django_db
def test_a_growth_within_its_uncertainty_raises_nothing(fit, mechanic):
    for ago, value in ((730, 0.2), (365, 0.4), (10, 0.9)):
        read(fit, mechanic, ago, value, u=0.4)
    assert flagged(fit, mechanic) is None
