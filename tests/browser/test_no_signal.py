"""A visit's pages without a signal: reloaded, opened from what the phone kept, gone with whoever signs out."""

import re

import pytest
from playwright.sync_api import Page, expect

from inspections.models import Entry
from tests.browser.looks import sound
from tests.inspections.visits import PLACEMENT, save

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
NO_SERVER = [re.compile("Failed to load resource|ERR_|htmx:(sendError|afterRequest)|^DISCONNECTED|503")]
FOUR = ("0", "-0.02", "-0.04", "-0.02")
KEPT_PAGES = """async () => {
    const found = [];
    for (const name of await caches.keys())
        if (name.startsWith("asleft-pages:"))
            for (const one of await (await caches.open(name)).keys()) found.push(new URL(one.url).pathname);
    return found;
}"""


def ready(page: Page, address: str, also: int = 0) -> None:
    """Open a page and wait until the phone has kept it, and so many others."""
    page.goto(address)
    for _ in range(100):
        if (kept := page.evaluate(KEPT_PAGES)) and address in kept and len(kept) > also:
            return
        page.wait_for_timeout(100)
    raise AssertionError(f"{address} was not kept: {page.evaluate(KEPT_PAGES)}")


def test_a_survey_survives_a_reload_without_a_signal(at, fitted_visit, mechanic):
    page = at(mechanic, complaints_allowed=NO_SERVER)
    address = f"/visits/{fitted_visit.uuid}/steps/alignment/1/"
    page.goto(address)
    page.locator("[name=method]").select_option("reverse-rim")
    expect(page.locator("[name='set0.12']")).to_be_visible()
    ready(page, address)
    page.locator("[name=stationary][value=driven]").check()
    page.locator("[name=viewed_from][value=movable]").check()
    page.locator("[name='set0.x']").fill("75")
    page.locator("[name='set1.x']").fill("-75")
    for hour, text in zip((12, 3, 6, 9), FOUR, strict=True):
        page.locator(f"[name='set0.{hour}']").fill(text)
    with page.expect_event("requestfinished", lambda one: "set0.9=-0.02" in (one.post_data or "")):
        page.locator("[name='set0.9']").blur()
    page.wait_for_load_state("networkidle")
    assert Entry.objects.get(step="alignment").typed["set0.9"] == "-0.02"
    page.context.set_offline(True)
    for hour, text in zip((12, 3, 6, 9), FOUR, strict=True):
        page.locator(f"[name='set1.{hour}']").fill(text)
    page.locator("[name='set1.9']").blur()
    expect(page.locator("[data-kept]")).to_contain_text("waits for a signal")

    page.reload()
    # What the server had last is there, though the page itself is older; what it never had is there and marked.
    for number in (0, 1):
        for hour, text in zip((12, 3, 6, 9), FOUR, strict=True):
            expect(page.locator(f"[name='set{number}.{hour}']")).to_have_value(text)
    expect(page.locator("[data-kept]")).to_contain_text("waits for a signal")
    expect(page.locator("[data-signal]")).to_contain_text("No signal")
    expect(page.locator("[data-provisional]")).to_contain_text("Provisional until the server confirms")
    page.locator("[name='set1.6']").fill("-0.05")
    expect(page.locator("[data-closure=set1]")).to_contain_text("Closure")
    page.locator("[name='set1.6']").fill("-0.04")
    page.locator("[name='set1.6']").blur()
    sound(page, "no-signal-survey")

    page.goto(f"/visits/{fitted_visit.uuid}/")
    expect(page.locator("ol.rounds li", has_text="Alignment")).to_contain_text("kept on this phone, not sent yet")
    page.go_back()
    page.context.set_offline(False)
    page.locator("[data-send]").click()
    expect(page.locator("#live .verdict")).to_be_visible()
    expect(page.locator("[data-kept]")).to_be_hidden()
    typed = Entry.objects.get(step="alignment").typed
    assert [typed[f"set1.{hour}"] for hour in (12, 3, 6, 9)] == list(FOUR)
    page.goto(f"/visits/{fitted_visit.uuid}/")
    expect(page.locator(".unsent")).to_have_count(0)


def test_steps_not_opened_before_open_without_a_signal_and_are_filled_there(at, fitted_visit, mechanic):
    page = at(mechanic, complaints_allowed=NO_SERVER)
    ready(page, f"/visits/{fitted_visit.uuid}/", also=14)
    page.context.set_offline(True)
    page.get_by_role("link", name="Placement of the hubs").click()
    expect(page.get_by_role("heading", name="Placement of the hubs")).to_be_visible()
    for name, text in PLACEMENT.items():
        page.locator(f"[name={name}]").fill(text)
    page.get_by_role("button", name="Save", exact=True).click()
    expect(page.locator("[data-kept]")).to_contain_text("waits for a signal")
    page.goto(f"/visits/{fitted_visit.uuid}/steps/alignment/7/")
    expect(page.get_by_role("heading", name="No signal, and this page is not on this phone")).to_be_visible()
    page.context.set_offline(False)
    page.goto(f"/visits/{fitted_visit.uuid}/sign/")
    expect(page.locator("[data-waiting]")).to_contain_text("Placement of the hubs")
    sound(page, "no-signal-sign")
    page.goto("/")
    expect(page.locator("[data-waiting]")).to_contain_text("Placement of the hubs")
    page.locator("[data-waiting] a").click()
    page.locator("[data-send]").click()
    expect(page.locator("[data-kept]")).to_be_hidden()
    assert Entry.objects.get(step="placement").typed == PLACEMENT


def test_nothing_of_a_person_stays_on_the_phone_after_signing_out(at, fitted_visit, mechanic, engineer):
    save(fitted_visit, "placement", PLACEMENT, mechanic)
    page = at(mechanic, complaints_allowed=NO_SERVER)
    address = f"/visits/{fitted_visit.uuid}/steps/placement/"
    ready(page, address)
    page.get_by_role("button", name="Sign out").click()
    expect(page.get_by_role("heading", name="Sign in to see what is due")).to_be_visible()
    expect(page.locator("[data-door]")).to_be_visible()
    assert page.evaluate(KEPT_PAGES) == []
    assert page.evaluate("Object.keys(localStorage).filter((one) => one.startsWith('asleft-saved'))") == []
    page.context.set_offline(True)
    page.goto(address)
    expect(page.get_by_role("heading", name="No signal, and this page is not on this phone")).to_be_visible()
    assert "140.2" not in page.content()
