"""A data sheet in a browser, on a phone and at a desk: written, published, changed, compared, approved and adopted."""

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.utils import timezone
from playwright.sync_api import expect

from couplings.models import DataSheet, Fit, LimitChange
from plant.sitetime import today_at
from tests.couplings.sheets_written import family
from tests.factories import CouplingFactory, FitFactory, TrainFactory

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def readable(page):
    assert page.locator("html").evaluate("page => page.scrollWidth") <= page.viewport_size["width"]
    assert Axe().run(page).response["violations"] == []


def typed(page, **cells):
    """Fill the fields as a person does: words and figures typed, one of a list chosen."""
    for name, value in cells.items():
        one = page.locator(f"[name='{name.replace('__', '.')}']")
        if one.first.get_attribute("type") == "radio":
            page.locator(f"[name='{name.replace('__', '.')}'][value='{value}']").check()
        elif one.evaluate("it => it.tagName") == "SELECT":
            one.select_option(value)
        else:
            one.fill(value)


def more(page, rows, one, **cells):
    """One more row of a list, filled."""
    number = page.locator(f"input[type=hidden][name^='{rows}.']").evaluate_all(
        "all => new Set(all.map(it => it.name.split('.')[1])).size"
    )
    page.get_by_role("button", name=f"One more: {one}").click()
    first = next(iter(cells))
    expect(page.locator(f"[name='{rows}.{number}.{first}']").first).to_be_visible()
    typed(page, **{f"{rows}__{number}__{name}": value for name, value in cells.items()})


def act(page, label, **cells):
    """Press an act of the sheet's page, fill its form and send it."""
    page.get_by_role("link", name=label).click()
    typed(page, **cells)
    page.locator("main button.main").click()


@pytest.mark.parametrize("width", [360, 1280])
def test_a_data_sheet_is_written_published_changed_and_adopted(at, engineer, manager, site, width):
    of = family()
    page = at(engineer, width)
    page.goto("/register/")
    page.get_by_role("link", name="data sheets").first.click()
    page.get_by_role("link", name="Add: data sheet").click()
    typed(page, designation="Jaw 95", family=of.code)
    page.get_by_role("button", name="Add the data sheet").click()
    expect(page.get_by_text("No version is published yet.").first).to_be_visible()

    page.get_by_role("link", name="Write the draft").click()
    typed(page, dbse_mm="32 mm", dbse_tolerance_mm="0.5 mm", bore_mm="50 mm", torque_rating_nm="900 Nm",
          max_rpm="3600", set_screw_count="2", set_screw_size="M8", set_screw_torque_nm="10 Nm")  # fmt: skip
    more(page, "limits", "limit", quantity="offset", stated_as="length", stated_value="0.2")
    more(page, "limits", "limit", quantity="angularity", stated_as="gap-difference", stated_value="0.1 mm",
         over_diameter_mm="100 mm")  # fmt: skip
    more(page, "hubs", "hub", side="both", bore_length_mm="60 mm")
    more(page, "screws", "row of screws", kind="set", up_to_bore_mm="55 mm", size="M8", torque_nm="10 Nm",
         source="page 4")  # fmt: skip
    more(page, "hold_points", "hold point", step="placement", what="Engagement of both hubs", role="engineer")
    page.locator("main button.main").last.click()
    expect(page.get_by_text("Write it with its unit, as the sheet prints it.").first).to_be_visible()
    expect(page.locator("[name='hold_points.0.what']")).to_have_value("Engagement of both hubs")
    readable(page)
    typed(page, limits__0__stated_value="0.2 mm")
    page.locator("main button.main").last.click()
    expect(page.get_by_text("The draft of Jaw 95 is saved.")).to_be_visible()
    expect(page.get_by_text("Engagement of both hubs").first).to_be_visible()
    readable(page)
    act(page, "Publish the draft")
    expect(page.get_by_text("The draft of Jaw 95 is published.")).to_be_visible()

    sheet = DataSheet.objects.get(designation="Jaw 95")
    first = sheet.versions.get()
    for tag in ("BF-71", "BF-72"):
        FitFactory(coupling=CouplingFactory(train=TrainFactory(site=site, tag=tag)), sheet_version=first)
    act(page, "Begin a new version")
    page.get_by_role("link", name="Write the draft").click()
    figures = page.locator("[name^='limits.'][name$='.stated_value']")
    offset = figures.nth(figures.evaluate_all("all => all.findIndex(it => it.value === '0.2 mm')"))
    offset.fill("0.1 mm")
    page.locator("main button.main").last.click()
    draft = page.get_by_role("region", name="The draft")
    expect(draft.get_by_text("Version 2 beside version 1")).to_be_visible()
    expect(draft.get_by_role("row").filter(has_text="0.20\u00a0mm").filter(has_text="0.10\u00a0mm")).to_have_count(1)
    readable(page)
    act(page, "Publish the draft")
    expect(page.get_by_text("Limits differ from those of version 1: say why they change.").first).to_be_visible()
    typed(
        page, reason="new sheet of the maker", change_number="LC-9", from_on=today_at(site, timezone.now()).isoformat()
    )
    page.locator("main button.main").click()
    expect(page.get_by_text("waits for approval").first).to_be_visible()

    boss = at(manager, width)
    boss.goto("/register/")
    boss.get_by_role("link", name="One limit change waits for approval").click()
    boss.get_by_role("link", name="Jaw 95").click()
    act(boss, "Approve the limit change", reason="seen on site")
    expect(boss.get_by_text("The limit change of Jaw 95 is approved.")).to_be_visible()
    assert LimitChange.objects.get().decided_by == manager
    for tag in ("BF-71", "BF-72"):
        expect(boss.get_by_role("heading", name=f"{tag}, held to version 1")).to_be_visible()
    readable(boss)
    one = Fit.objects.get(coupling__train__tag="BF-71")
    boss.get_by_role("link", name="Have fits adopt the version in force").click()
    readable(boss)
    typed(boss, fits=str(one.uuid))
    boss.locator("main button.main").click()
    expect(boss.get_by_text("The version of Jaw 95 is adopted.")).to_be_visible()
    expect(boss.get_by_role("heading", name="BF-71, held to version 1")).to_have_count(0)
    expect(boss.get_by_role("heading", name="BF-72, held to version 1")).to_be_visible()
    assert [fit.sheet_version.number for fit in Fit.objects.order_by("coupling__train__tag")] == [2, 1]
    act(boss, "Have fits adopt the version in force", fits="all")
    expect(boss.get_by_text("Every fit in place is held to the version in force")).to_be_visible()
    assert [fit.sheet_version.number for fit in Fit.objects.order_by("coupling__train__tag")] == [2, 2]
