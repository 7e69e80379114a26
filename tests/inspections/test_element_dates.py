"""An element is dated by the life of its kind: at the chance its policy accepts, counted from the last look at it."""

import math
from datetime import timedelta

import pytest

from couplings.models import Element
from inspections.forecasting.duedates import ELEMENT_LIFE
from inspections.models import Check, LifeFit, Policy
from inspections.reasons import check_sentence
from inspections.selectors.life_due import asked_by_life
from inspections.services.checks import recompute_site
from plant.recording import recording
from tests.factories import NOW, TODAY
from tests.inspections.signed import sign

pytestmark = pytest.mark.django_db
ETA, BETA = 2000.0, 3.0


@pytest.fixture
def law(site):
    return LifeFit.objects.create(
        site=site, family="x", part_number="E-1", level="site", basis="own", elements=30, failures=12,
        family_failures=12, observed=1e4, eta=ETA, beta=BETA, b10=900.0, fitted_on=TODAY,
    )  # fmt: skip


@pytest.fixture
def policy(site):
    return Policy.objects.create(site=site, check_kind="element", risk=0.05)


@pytest.fixture
def running_element(fit):
    return Element.objects.create(
        site=fit.coupling.site, fit=fit, part_number="E-1", fitted_on=TODAY - timedelta(days=400)
    )


def dated(site):
    with recording(by=None, at=NOW):
        recompute_site(site=site, today=TODAY)
    return Check.objects.filter(site=site, kind="element", settled_on__isnull=True).first()


def test_the_date_is_where_the_accepted_chance_is_reached(site, fit, law, policy, running_element):
    """Constructed: by hand, from fitting: eta (-ln 0.95)^(1/beta) days."""
    check = dated(site)
    days = math.floor(ETA * (-math.log(0.95)) ** (1 / BETA))
    assert check.winner == ELEMENT_LIFE
    assert check.due_on == running_element.fitted_on + timedelta(days=days)
    assert "12 like it failed" in check_sentence(check)
    assert "5\u00a0%" in check_sentence(check)


def test_a_sound_look_since_puts_it_off(site, fit, law, policy, running_element, mechanic):
    before = dated(site).due_on
    sign(fit, on=TODAY - timedelta(days=10), by=mechanic, worn=True)
    assert dated(site).due_on > before


def test_without_a_chance_in_the_policy_or_a_law_nothing_is_dated(site, fit, law, policy, running_element):
    policy.risk = None
    policy.save()
    assert dated(site) is None
    policy.risk = 0.05
    policy.save()
    law.basis = "bound"
    law.save()
    assert dated(site) is None


def test_the_interval_of_the_policy_wins_where_it_is_earlier(site, fit, law, policy, running_element):
    policy.every_months = 14
    policy.save()
    check = dated(site)
    assert (check.winner, check.runner_up) == ("element-age", ELEMENT_LIFE)
    assert "the life of its kind would say" in check_sentence(check)


def test_run_hours_without_a_meter_date_nothing(law, running_element):
    from inspections.forecasting.running import Running

    law.by_hours = True
    assert asked_by_life(law, 0.05, running_element.fitted_on, [], Running()) is None
