"""The thin line through the whole job: a mechanic logs an installation on a phone, a planner sees what comes next."""

import pytest
from playwright.sync_api import Page, expect

from couplings.models import Element
from inspections.models import Check, SignedRecord, Visit
from inspections.services.policies import load_policies
from plant.models import Site
from plant.recording import recording
from tests.factories import NOW, FamilyFactory, FitFactory, InstrumentFactory

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

# Constructed from a shaft 1 thou high and 0.5 thou to the right, level; the reading equations by hand are the
# independent route. Dial on the movable rim: c + 1 cos + 0.5 sin; on the stationary rim: the negative.
FIRST = {"12": "0", "3": "-.5", "6": "-2", "9": "-1.5"}
SECOND = {"12": "0", "3": ".5", "6": "2", "9": "1.5"}


@pytest.fixture
def fitted(mechanic, planner, engineer, site):
    Site.objects.filter(pk=site.pk).update(units="us")
    spacer = FamilyFactory(code="disc-pack-spacer", name="Disc packs with a spacer", kind="spacer", ages=False)
    fit = FitFactory(coupling__train__site=site, coupling__train__tag="BF-21", sheet_version__sheet__family=spacer)
    InstrumentFactory(site=site, serial="D-100")
    InstrumentFactory(site=site, kind="torque-set", name="Click wrench", serial="W-7")
    with recording(by=None, at=NOW):
        load_policies(site=site, kinds=("alignment", "torque"))
    return fit


def _fill(page: Page, **fields: str) -> None:
    for name, text in fields.items():
        page.locator(f"[name='{name}']").fill(text)


def _save(page: Page, name: str = "Save") -> None:
    page.get_by_role("button", name=name, exact=True).click()


def test_a_mechanic_logs_a_whole_installation_on_a_phone_and_the_planner_sees_the_first_checks(
    at, fitted, mechanic, planner
):
    page = at(mechanic, 360, by_form=True)
    page.get_by_label("Tag of the coupling").fill("bf-")
    page.get_by_role("button", name="Find", exact=True).click()
    page.get_by_role("link", name="BF-21").click()
    page.get_by_label("Or a new work order").fill("WO-4711")
    page.get_by_role("button", name="Begin a visit").click()
    expect(page.get_by_role("heading", name="Isolation")).to_be_visible()

    # Before isolation the stopped-work steps can be read, not filled.
    page.get_by_role("link", name="Placement of the hubs").click()
    expect(page.get_by_text("Not isolated yet.")).to_be_visible()
    expect(page.locator("[name=dbse]")).to_be_disabled()
    page.get_by_role("link", name="To the isolation").click()
    page.get_by_label("Permit number").fill("P-118")
    page.get_by_role("button", name="It is isolated").click()
    page.get_by_role("button", name="I tried it").click()
    expect(page.get_by_text("Tried and verified dead.")).to_be_visible()

    page.get_by_role("link", name="Placement of the hubs").click()
    _fill(page, dbse="5.51", driver_engagement="3.6", driven_engagement="3")
    _save(page)
    expect(page.locator("#f-driver_engagement_error")).to_contain_text("an engagement over 100 % cannot be")
    expect(page.locator("[name=driver_engagement]")).to_have_value("3.6")
    _fill(page, driver_engagement="2,97")
    _save(page)
    page.get_by_role("link", name="Set screws").click()
    _fill(page, driver_count="2", driver_torque="106", driven_count="2", driven_torque="106")
    for side in ["driver", "driven"]:
        page.locator(f"[name={side}_instrument]").select_option(label="click torque wrench: Click wrench W-7")
    _save(page)

    page.get_by_role("link", name="As-left").click()
    page.get_by_label("Method").select_option("reverse-rim")
    page.get_by_role("button", name="Save and work it out").click()
    page.get_by_label("the pump (driven side)").check()
    page.get_by_label("from the movable machine").check()
    for number, (readings, x) in enumerate([(FIRST, "3"), (SECOND, "-3")]):
        for hour, text in readings.items():
            page.locator(f"[name='set{number}.{hour}']").fill(text)
        page.locator(f"[name='set{number}.x']").fill(x)
    page.get_by_role("button", name="Save and work it out").click()
    expect(page.locator("#live .verdict")).to_contain_text("In tolerance")
    expect(page.locator("#live")).to_contain_text("down 1.0")
    page.get_by_role("link", name="All steps").click()

    page.get_by_role("link", name="Element", exact=False).first.click()
    page.get_by_label("new element fitted").check()
    _fill(page, part_number="E-80", batch="B7", cured_on="2026-03-01")
    _save(page)
    page.get_by_role("link", name="Fasteners").click()
    page.get_by_label("set on a click wrench").check()
    page.locator("[name='joint0.torque']").fill("33")
    page.locator("[name='joint0.instrument']").select_option(label="click torque wrench: Click wrench W-7")
    _save(page)

    page.get_by_role("link", name="Look it over and sign").click()
    expect(page.get_by_role("heading", name="Ready to be signed")).to_be_visible()
    page.get_by_role("button", name="Sign as").click()
    expect(page.get_by_role("heading", name="signed by Mia")).to_be_visible()

    visit = Visit.objects.get()
    assert visit.state == "signed"
    assert SignedRecord.objects.get().number == 1
    left = visit.record.surveys.get(as_left=True).result
    # As constructed above: the motor, movable and at the driver end, is the record's own frame.
    assert left.offset_v_mm == pytest.approx(1 * 0.0254, abs=1e-9)
    assert left.offset_h_mm == pytest.approx(0.5 * 0.0254, abs=1e-9)
    expect(page.locator("main")).to_contain_text("+1.0 thou")
    assert Element.objects.get().part_number == "E-80"

    desk = at(planner, 1280)
    desk.goto("/due/?days=84")
    expect(desk.get_by_role("table")).to_contain_text("BF-21")
    expect(desk.get_by_role("table")).to_contain_text("after the installation")
    assert {check.kind for check in Check.objects.filter(settled_on__isnull=True)} == {"alignment", "torque"}
