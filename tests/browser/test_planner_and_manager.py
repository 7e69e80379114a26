"""Journeys of the planner and the manager through the invented plant, on a phone and at a desk."""

import csv
import io
import re
from datetime import timedelta
from urllib.parse import urlencode

import pytest
from django.template.loader import render_to_string
from django.utils import timezone
from openpyxl import load_workbook
from playwright.sync_api import expect

from inspections.models import DigestWish
from inspections.selectors.checks import checks_due
from inspections.selectors.digests import digest_of
from inspections.services.checks import recompute_site
from inspections.services.policies import load_policies
from inspections.services.standing import count_month, months_to_count
from plant.models import Stop
from plant.recording import recording
from plant.sitetime import today_at
from tests.browser.looks import inside, sound
from tests.factories import AreaFactory, CouplingFactory, FitFactory, InstrumentFactory, TrainFactory
from tests.inspections.signed import sign

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
WIDTHS = pytest.mark.parametrize("width", [360, 1280])


@pytest.fixture
def today(site):
    return today_at(site, timezone.now())


@pytest.fixture
def plant(site, mechanic, today):
    """Four couplings: one overdue, one due soon, one out of tolerance and due within the year, one just installed."""
    feed, water = (AreaFactory(site=site, name=name) for name in ("Boiler feed", "Cooling water"))
    # The crew's settings say so too; the rows are written with the days of today.
    site.crew_hours_week = 48
    site.save()
    with recording(by=None, at=timezone.now()):
        load_policies(site=site, kinds=("alignment", "torque"))
    for tag, area, days, kind, verdict in (
        ("CW-11", water, 400, "periodic", "in tolerance"),
        ("CW-12", water, 350, "periodic", "too close to call"),
        ("BF-21", feed, 100, "periodic", "out of tolerance"),
        ("BF-22", feed, 10, "installation", "in tolerance"),
    ):
        on = today - timedelta(days=days)
        train = TrainFactory(site=site, area=area, tag=tag)
        fit = FitFactory(coupling=CouplingFactory(train=train, tag=tag), fitted_on=on - timedelta(days=200))
        sign(fit, on=on, by=mechanic, kind=kind, aligned=True, torqued=True, verdict=verdict)
    with recording(by=None, at=timezone.now()):
        recompute_site(site=site, today=today)
        for month_on in sorted(months_to_count(site=site, today=today)):
            count_month(site=site, month_on=month_on, today=today)
    return site


def tick(page, check):
    """The whole cell is the target, not the small box in it."""
    page.locator(f"input[name=row][value='{check.uuid}']").locator("xpath=..").click()


def saved(page, name):
    with page.expect_download() as waiting:
        page.get_by_role("link", name=name).click()
    return waiting.value.path().read_bytes()


@WIDTHS
def test_a_planner_narrows_keeps_plans_defers_and_takes_the_due_list_away(at, plant, planner, today, settings, width):
    # Each job card is a document of its own and asks for its coupling whole; how many come at once is bounded.
    settings.ZEAL_ALLOWLIST = [*settings.ZEAL_ALLOWLIST, {"model": "*", "field": "*"}]
    page = at(planner, width)
    page.goto("/due/?days=366")
    sound(page, "due")
    page.locator("select[name=kind]").select_option("alignment")
    expect(page).to_have_url(re.compile("kind=alignment"))
    due = list(checks_due(planner, today + timedelta(days=366), site=plant).filter(kind="alignment"))
    expect(page.locator("input[name=row]")).to_have_count(len(due))

    page.get_by_text("Keep this list").click()
    page.get_by_label("Name of the list").fill("Alignment, a year ahead")
    page.get_by_role("button", name="Keep it").click()
    expect(page.get_by_text("The list is kept.")).to_be_visible()
    page.goto("/due/")
    page.get_by_role("link", name="Alignment, a year ahead").click()
    expect(page).to_have_url(re.compile("kind=alignment"))

    planned = next(check for check in due if check.week_on is None and check.due_on > today + timedelta(days=28))
    put_off = next(check for check in due if check != planned and check.due_on > today and not check.deferred_until)
    tick(page, planned)
    page.get_by_label("Week", exact=True).select_option(index=3)
    page.get_by_role("button", name="Put in this week").click()
    expect(page.get_by_text("One check is planned: Week")).to_be_visible()
    planned.refresh_from_db()
    assert planned.week_on is not None
    # The question is still in the address after it.
    expect(page).to_have_url(re.compile("kind=alignment"))

    tick(page, put_off)
    page.get_by_label("Until", exact=True).fill("tomorrow")
    page.get_by_label("because", exact=True).fill("no stop before")
    page.get_by_role("button", name="Defer", exact=True).click()
    expect(page.get_by_role("alert")).to_contain_text("Write the day as 2026-10-12.")
    # Nothing ticked or typed is lost by a refusal.
    expect(page.locator(f"input[value='{put_off.uuid}']")).to_be_checked()
    expect(page.get_by_label("because", exact=True)).to_have_value("no stop before")
    sound(page, "due-refused")
    until = put_off.due_on + timedelta(days=20)
    page.get_by_label("Until", exact=True).fill(until.isoformat())
    page.get_by_role("button", name="Defer", exact=True).click()
    expect(page.get_by_text("One check is deferred until")).to_be_visible()
    put_off.refresh_from_db()
    assert (put_off.due_on, put_off.deferred_reason) == (until, "no stop before")

    rows = list(csv.DictReader(io.StringIO(saved(page, "Save as CSV").decode("utf-8-sig"))))
    assert {row["id"] for row in rows} == {str(check.uuid) for check in due}
    sheet = load_workbook(io.BytesIO(saved(page, "Save as XLSX"))).active
    assert sheet.max_row == len(due) + 1

    for check in (planned, put_off):
        tick(page, check)
    # A browser shows a PDF in a reader of its own, so the form is sent as it stands and its answer read here.
    form = page.locator("form[data-pick]")
    sent = {"csrfmiddlewaretoken": form.locator("[name=csrfmiddlewaretoken]").input_value(), "act": "cards"}
    ticked = form.locator("[name=row]:checked").evaluate_all("boxes => boxes.map(one => one.value)")
    assert set(ticked) == {str(planned.uuid), str(put_off.uuid)}
    body = urlencode([*sent.items(), *(("row", one) for one in ticked)])
    headers = {"content-type": "application/x-www-form-urlencoded", "referer": page.url}
    answer = page.request.post(form.get_attribute("action"), data=body, headers=headers)
    assert (answer.status, answer.headers["content-type"]) == (200, "application/pdf")
    assert len(re.findall(rb"/Type\s*/Page\b(?!s)", answer.body())) >= 2

    page.get_by_role("link", name="See the weeks").click()
    sound(page, "weeks")
    row = page.get_by_role("row").filter(has=page.get_by_role("rowheader", name=f"Week {planned.week_on:%V},"))
    row.get_by_role("link").first.click()
    expect(page.locator(f"input[value='{planned.uuid}']")).to_have_count(1)


@WIDTHS
def test_a_planner_enters_a_stop_and_plans_one_check_where_it_stands(at, plant, planner, mechanic, today, width):
    begins_on = today + timedelta(days=9)
    page = at(planner, width)
    page.goto(f"/weeks/?site={plant.uuid}")
    page.get_by_role("link", name="Enter a stop").click()
    page.get_by_label("Name").fill("Stop of the feed line")
    page.get_by_label("First day").fill(begins_on.isoformat())
    page.get_by_label("Last day").fill((begins_on - timedelta(days=3)).isoformat())
    page.get_by_role("button", name="Add the stop").click()
    expect(page.get_by_text("It ends before it begins").first).to_be_visible()
    sound(page, "stop-refused")
    page.get_by_label("Last day").fill(begins_on.isoformat())
    page.get_by_label("Train").select_option(label="BF-21")
    page.get_by_role("button", name="Add the stop").click()
    expect(page.get_by_role("heading", name="Stop of the feed line")).to_be_visible()
    assert Stop.objects.get(name="Stop of the feed line").train.tag == "BF-21"
    page.goto(f"/weeks/?site={plant.uuid}")
    row = page.get_by_role("row").filter(has=page.get_by_role("rowheader", name=f"Week {begins_on:%V},"))
    expect(row).to_contain_text("Stop of the feed line, BF-21")
    sound(page, "weeks-with-a-stop")

    check = checks_due(planner, today + timedelta(days=366), site=plant).filter(due_on__gt=today).first()
    page.goto(f"/couplings/{check.coupling.uuid}/")
    name = f"Plan or change this check ({check.get_kind_display().lower()})"
    page.get_by_text(name).click()
    acts = page.locator("details", has=page.get_by_text(name)).first
    acts.get_by_text("Say who sees to it").click()
    acts.get_by_label("Seen to by").select_option(label=str(mechanic))
    acts.get_by_role("button", name="Write it down").click()
    expect(page.get_by_text(f"seen to by {mechanic}")).to_be_visible()
    page.get_by_text(name).click()
    acts.get_by_text("Plan it for one day").click()
    acts.get_by_label("On which day").fill((today - timedelta(days=1)).isoformat())
    acts.get_by_role("button", name="Plan it for this day").click()
    # Refused: the form stands open where it was, with what was typed.
    expect(acts.get_by_label("On which day")).to_have_value((today - timedelta(days=1)).isoformat())
    expect(acts.get_by_text("Choose today or a day that is still to come.")).to_be_visible()
    sound(page, "check-refused")
    acts.get_by_label("On which day").fill(check.due_on.isoformat())
    acts.get_by_role("button", name="Plan it for this day").click()
    expect(page.get_by_text("planned for").first).to_be_visible()
    check.refresh_from_db()
    assert (check.pinned_on, check.owner.first_name) == (check.due_on, mechanic.first_name)


@WIDTHS
def test_the_daily_mail_is_readable_as_a_mail_program_shows_it(at, plant, planner, site, width):
    """By itself: no style sheet of ours, no picture, nothing fetched."""
    InstrumentFactory(site=site, name="Click wrench", calibration_days=1)
    wish = DigestWish.objects.create(person=planner, site=site, origin="https://asleft.plant.example")
    digest = digest_of(wish, timezone.now())
    address = f"https://asleft.plant.example/digest/{'s' * 60}/"
    html = render_to_string(
        "inspections/mail/digest.html", {"digest": digest, "person": planner, "address": address}
    )  # fmt: skip
    asked = []
    page = at(planner, width)
    page.goto("about:blank")
    page.on("request", lambda request: asked.append(request.url))
    page.set_content(html)
    expect(page.get_by_role("heading", name="Instruments to be calibrated")).to_be_visible()
    expect(page.get_by_role("link", name=re.compile("CW-11, Alignment"))).to_be_visible()
    inside(page, "mail")
    assert asked == []


@WIDTHS
def test_a_manager_reads_the_fleet_opens_each_number_and_prints_one_page(at, plant, manager, width):
    page = at(manager, width)
    page.goto("/fleet/")
    sound(page, "fleet")
    numbers = page.locator("main a").evaluate_all(
        "links => links.map(one => [one.textContent.trim(), one.getAttribute('href')])"
        ".filter(([words]) => /^[0-9]+$/.test(words))"
    )
    assert len(numbers) > 40
    behind = {}
    for words, address in numbers:
        assert behind.setdefault(address, int(words)) == int(words), f"two numbers lead to {address}"
    opened = 0
    for address, number in behind.items():
        answer = page.request.get(address)
        assert answer.status == 200, address
        if address.startswith("/fleet/couplings/") and 0 < number < 50:
            rows = answer.text().split("<tbody", 1)[1].split("</tbody>")[0].count("<tr")
            assert rows == number, address
            opened += 1
    assert opened >= 10
    page.get_by_role("link", name=re.compile(r"^(One|[0-9]+) checks?$")).click()
    inside(page, "fleet-list")
    page.goto("/fleet/")
    for paper in ("A4", "Letter"):
        printed = page.pdf(format=paper)
        assert len(re.findall(rb"/Type\s*/Page\b(?!s)", printed)) == 1, f"more than one {paper}"
