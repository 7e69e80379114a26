"""A whole visit by keyboard alone, and one with text at 200 %: nothing out of reach, hidden or cut off."""

from datetime import timedelta

import pytest
from django.utils import timezone
from playwright.sync_api import Page, expect

from inspections.models import SignedRecord, SurveyResult, Visit
from plant.sitetime import today_at
from tests.browser.looks import Keyboard, inside, large_text, sound
from tests.factories import CouplingFactory, FitFactory

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
LEVEL = ("0", "-0,02", "-0.04", "-0.02")  # in line but for a bracket that sags 0.04 mm
STEPS = [
    "conditions", "as-found", "cleaning", "run-out", "pipe-strain", "soft-foot", "mounting", "placement", "set-screws",
    "alignment/1", "hold-down", "as-left", "rotation", "element", "fasteners", "wear", "guard",
]  # fmt: skip


@pytest.fixture
def fit(site):
    """Something fitted half a year ago, whatever day it is."""
    on = today_at(site, timezone.now()) - timedelta(days=180)
    return FitFactory(coupling=CouplingFactory(train__site=site, train__tag="BF-21"), fitted_on=on)


def heading(page: Page, name: str) -> None:
    expect(page.get_by_role("heading", name=name, level=1)).to_be_visible()


def test_a_whole_visit_by_keyboard_alone(at, fit, mechanic):
    page = at(mechanic)
    keys = Keyboard(page)
    keys.type("Tag of the coupling", "bf")
    keys.enter()
    keys.to("BF-21")
    keys.enter()
    heading(page, "BF-21, motor to pump")
    keys.to("What is done")
    page.keyboard.type("alignment")
    keys.type("Or a new work order, by its number", "WO-77")
    keys.to("Begin a visit", exact=True)
    keys.enter()
    heading(page, "Alignment only, motor to pump")
    keys.type("Permit number", "P-5")
    keys.to("It is isolated")
    keys.enter()
    keys.to("I tried it: verified dead, stored energy released")
    keys.enter()
    expect(page.get_by_text("Tried and verified dead.")).to_be_visible()
    keys.to("As-found")
    keys.enter()
    heading(page, "As-found")
    keys.type("Not measured because", "Loosened by the day shift")
    keys.to("Save and work it out")
    keys.enter()
    expect(page.get_by_text("Complete.")).to_be_visible()
    keys.to("All steps")
    keys.enter()
    keys.to("As-left")
    keys.enter()
    heading(page, "As-left")
    keys.to("Method")
    page.keyboard.type("Reverse")
    page.keyboard.press("Tab")
    expect(page.locator("[name='set0.12']")).to_be_visible()
    keys.to("the motor (driver side)")
    keys.key("ArrowDown")
    expect(page.get_by_label("the pump (driven side)")).to_be_checked()
    keys.to("from the movable machine")
    keys.key("Space")
    for place, x in enumerate(("75", "-75")):
        keys.to("12, top")
        for text in LEVEL:  # Enter goes on to the next reading
            page.keyboard.type(text)
            keys.key("Enter")
        page.locator(f"[name='set{place}.9']").focus()
        keys.type("Reads at, from the coupling", x)
    keys.to("Save and work it out")
    keys.enter()
    expect(page.locator("#live .verdict")).to_contain_text("In tolerance")
    keys.to("All steps")
    keys.enter()
    keys.to("Look it over and sign")
    keys.enter()
    heading(page, "Ready to be signed")
    keys.to("Sign as Mia")
    keys.enter()
    heading(page, "Alignment only, signed by Mia")
    assert SignedRecord.objects.count() == 1
    assert SurveyResult.objects.get().verdict == SurveyResult.Verdict.IN


def test_a_visit_with_text_at_twice_its_size(at, fit, mechanic):
    page = at(mechanic)
    large_text(page)
    page.goto(f"/couplings/{fit.coupling.uuid}/")
    inside(page, "large-coupling")
    page.get_by_label("What is done").select_option("periodic")
    page.locator("[name=new_number]").fill("WO-9")
    page.get_by_role("button", name="Begin a visit", exact=True).click()
    heading(page, "Periodic, stopped, motor to pump")
    sound(page, "large-visit")
    page.get_by_label("Permit number").fill("P-5")
    page.get_by_role("button", name="It is isolated").click()
    page.get_by_role("button", name="I tried it").click()
    visit = Visit.objects.get()
    for step in STEPS:
        page.goto(f"/visits/{visit.uuid}/steps/{step}/")
        inside(page, f"large-{step.replace('/', '-')}")
