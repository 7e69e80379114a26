"""The engineer's walk: the list of trains, one train, another day's chance, a move on paper, a stretch left out."""

import pytest
from django.utils import timezone
from playwright.sync_api import expect

from couplings.models import Coupling
from inspections.models import Leg
from inspections.services.checks import recompute_site
from inspections.services.drift import recompute_drift
from inspections.services.group_fits import fit_groups
from plant.models import Person, Site, Train
from plant.recording import recording
from plant.sitetime import today_at
from tests.browser.looks import large_text, sound
from tests.inspections.demo_built import fill_some

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def plant():
    """Some of the demo plant with its groups fitted, as after a weekend."""
    fill_some()
    now = timezone.now()
    with recording(by=None, at=now):
        fit_groups(on=now.date())
        recompute_drift(couplings=Coupling.objects.all())
        for site in Site.objects.all():
            recompute_site(site=site, today=today_at(site, now))


def test_the_engineer_reads_a_train_asks_and_leaves_a_stretch_out(at, plant):
    ana = Person.objects.get(username="ana")
    train = Train.objects.get(tag="BF-21")
    coupling = Coupling.objects.get(train=train)
    for width in (360, 1280):
        page = at(ana, width)
        page.goto("/trains/?sort=pace")
        expect(page.locator("svg.ml-list").first).to_be_visible()
        sound(page, "trains")
        page.get_by_role("link", name="BF-21", exact=True).click()
        expect(page.get_by_role("heading", level=1)).to_contain_text("BF-21")
        page.wait_for_load_state()
        # One of the two drawings is shown, whichever fits the screen; the numbers stand in a table of every visit.
        assert page.locator(".ml-wide").is_visible() == (width > 1000)
        assert page.locator(".ml-narrow").is_visible() == (width < 1000)
        visits = coupling.visits.filter(state="signed").count()
        assert page.get_by_role("table", name="Every signed visit").locator("tbody tr").count() == visits
        assert page.locator("svg.cp").count() == 4
        sound(page, "train")
        page.emulate_media(color_scheme="dark")
        sound(page, "train dark")
        page.emulate_media(color_scheme="light")

        page.get_by_label("If I look on another day instead").fill("2040-01-01")
        page.get_by_role("button", name="Say the chance").click()
        expect(page.locator(".error")).to_contain_text("The forecast reaches to")
        on = today_at(train.site, timezone.now()).replace(day=1)
        later = on.replace(year=on.year + 1).isoformat()
        page.get_by_label("If I look on another day instead").fill(later)
        page.get_by_role("button", name="Say the chance").click()
        expect(page.get_by_role("status").filter(has_text="is accepted")).to_be_visible()
        page.get_by_label("By how much").fill("0.10")
        page.get_by_role("button", name="Work it out").click()
        expect(page.get_by_role("status").filter(has_text="it would be left at")).to_be_visible()
        page.wait_for_load_state()
        sound(page, "train asked")

        last = page.locator(f"#legs-{coupling.uuid} tbody").first
        last.locator("summary").click()
        last.get_by_label("Why it does not count").fill("the bracket was loose")
        last.get_by_role("button", name="Leave it out of the forecast").click()
        expect(page.locator(".struck")).to_contain_text("Left out by Ana")
        assert Leg.objects.filter(coupling=coupling, left_out_reason="the bracket was loose").count() == 1
        page.wait_for_load_state()
        sound(page, "train struck")
        page.get_by_role("button", name="Count it again").click()
        expect(page.locator(".struck")).to_have_count(0)


def test_a_phone_with_large_text_reads_a_train_without_sideways_scroll(at, plant):
    page = at(Person.objects.get(username="mia"), 360)
    page.goto(f"/trains/{Train.objects.get(tag='BF-21').uuid}/")
    large_text(page)
    assert page.evaluate("document.documentElement.scrollWidth") <= 360
    assert page.get_by_text("Leave this out").count() == 0
