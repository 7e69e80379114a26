"""Every page of the invented plant: readable by everybody, on a phone and on a desk, by day and by night."""

import re

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.utils import timezone
from playwright.sync_api import expect

from inspections.models import Visit
from inspections.steps import STEPS
from plant.calculations import all_calculations
from plant.models import Person, Webhook
from plant.recording import recording, told
from plant.services.webhooks import change_webhook, send_test
from tests.browser.looks import inside
from tests.inspections.demo_built import fill_some

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def _addresses(person: Person) -> list[str]:
    """One of each kind of page, by what it shows."""
    draft = Visit.objects.filter(state="draft", coupling__site__in=person.site_ids()).first()
    out = Visit.objects.exclude(left_so_reason="").exclude(record=None).first()
    assert draft is not None
    assert out is not None
    record = f"/visits/{out.uuid}/record/"
    asked = {key: step for key, step in STEPS.items() if step.filled and step.asked(draft) and key != "signature"}
    steps = [f"{key}/1" if step.numbered else key for key, step in asked.items()]
    return [
        "/",
        "/?q=bf",
        "/couplings/",
        "/due/",
        "/due/?days=366",
        "/weeks/",
        "/flags/",
        "/today/",
        "/jobs/",
        "/digest/",
        "/calendars/",
        "/fleet/",
        "/fleet/couplings/",
        "/register/stops/",
        "/trains/",
        f"/trains/{out.coupling.train.uuid}/",
        "/calculations/",
        "/calculations/alignment/?method=rim-and-face",
        "/calculations/alignment/?method=reverse-rim&viewed_from=movable&set0.12=0&set0.3=0.12&set0.6=0.30&set0.9=0.18"
        "&set0.x=75&set1.12=0&set1.3=-0.10&set1.6=-0.26&set1.9=-0.16&set1.x=-75&feet0.name=inboard&feet0.x=250"
        "&feet1.name=outboard&feet1.x=700&limit_offset=0.05",
        "/calculations/alignment/?method=reverse-rim&set0.12=NaN",
        *(f"/calculations/{one.name}/" for one in all_calculations()),
        "/tokens/",
        "/elements/",
        "/parts/",
        "/roles/",
        "/api/v1/docs/",
        f"/couplings/{out.coupling.uuid}/",
        record,
        record.replace("/record/", "/amend/placement/"),
        f"/visits/{draft.uuid}/",
        f"/visits/{draft.uuid}/sign/",
        *(f"/visits/{draft.uuid}/steps/{step}/" for step in steps),
        "/nothing-here/",
    ]


def test_every_page_is_free_of_axe_violations_and_no_wider_than_the_screen(at):
    fill_some()
    person = Person.objects.get(username="ana")
    found = []
    axe = Axe()
    for width in (360, 1280):
        page = at(person, width, complaints_allowed=[re.compile("status of 404")])
        for address in _addresses(person):
            page.goto(address)
            wide = page.evaluate("document.documentElement.scrollWidth")
            if wide > width:
                found.append((width, address, f"{wide} px wide"))
            for scheme in ("light", "dark"):
                page.emulate_media(color_scheme=scheme)
                for one in axe.run(page).response["violations"]:
                    found.append((width, scheme, address, one["id"], one["nodes"][0]["html"][:200]))
    assert found == []


def test_the_keepers_pages_of_webhooks_are_so_too(at):
    fill_some()
    person = Person.objects.get(username="kim")
    hook = Webhook.objects.filter(site__name="Greyfen Works").get()
    with recording(by=person, at=timezone.now()):
        change_webhook(webhook=hook, active=True)
        send_test(webhook=hook)
        told("check.due", None, {"check": "invented"}, site_id=hook.site_id)
    # One was refused for a day, one still waits.
    aside = hook.deliveries.get(event__isnull=True)
    aside.state, aside.settled_at = "aside", timezone.now()
    aside.save()
    aside.tries.create(at=timezone.now(), status=422, said="No such order.")
    axe, found = Axe(), []
    for width in (360, 1280):
        page = at(person, width)
        for address in ("/webhooks/", f"/webhooks/{hook.uuid}/", "/jobs/"):
            page.goto(address)
            inside(page, f"webhooks{len(address)}")
            for scheme in ("light", "dark"):
                page.emulate_media(color_scheme=scheme)
                for one in axe.run(page).response["violations"]:
                    found.append((width, scheme, address, one["id"], one["nodes"][0]["html"][:200]))
    assert found == []


def test_two_hands_on_one_step_lose_nothing_and_only_the_same_field_asks(at, fitted_visit, mechanic, engineer):
    address = f"/visits/{fitted_visit.uuid}/steps/placement/"
    first, second = at(mechanic, 360), at(engineer, 360)
    for page in (first, second):
        page.goto(address)
    first.locator("[name=dbse]").fill("140.2")
    first.locator("[name=dbse]").blur()
    expect(first.locator("#saved")).to_contain_text("Saved, last by Mia")
    second.locator("[name=driver_engagement]").fill("75")
    second.locator("[name=driver_engagement]").blur()
    expect(second.locator("#saved")).to_contain_text("Saved, last by Ana")
    # What the other entered meanwhile has come into its field.
    expect(second.locator("[name=dbse]")).to_have_value("140.2")
    first.locator("[name=driver_engagement]").fill("70")
    first.locator("[name=driver_engagement]").blur()
    expect(first.locator("#live")).to_contain_text("choose which holds")
    assert first.locator("#live input[type=radio]:checked").count() == 0
    first.get_by_label("Ana: 75").check()
    first.get_by_role("button", name="Keep what I chose").click()
    expect(first.locator("[name=driver_engagement]")).to_have_value("75")
    typed = fitted_visit.entries.get(step="placement").typed
    assert typed == {"dbse": "140.2", "driver_engagement": "75"}


def test_a_step_is_saved_and_mended_without_any_script(at, fitted_visit, mechanic):
    page = at(mechanic, 360, java_script_enabled=False)
    page.goto(f"/visits/{fitted_visit.uuid}/steps/placement/")
    page.locator("[name=dbse]").fill("140 bananas")
    page.get_by_role("button", name="Save", exact=True).click()
    assert "bananas" in (page.locator("#f-dbse_error").text_content() or "")
    assert page.locator("[name=dbse]").input_value() == "140 bananas"
    page.locator("[name=dbse]").fill("140 mm")
    page.get_by_role("button", name="Save", exact=True).click()
    assert page.locator("h1").text_content() == "Installation, motor to pump"
    assert fitted_visit.entries.get(step="placement").typed == {"dbse": "140 mm"}
