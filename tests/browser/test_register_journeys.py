"""Journeys through the register in a browser, on a phone and at a desk: a train from nothing, an exchange."""

import re
from datetime import date

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import expect

from couplings.models import Coupling
from plant.models import Train, UnitStay
from tests.factories import CouplingFactory, FitFactory, TrainFactory

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
WIDTHS = pytest.mark.parametrize("width", [360, 1280])


def readable(page, width):
    assert page.locator("html").evaluate("page => page.scrollWidth") <= width
    assert Axe().run(page).response["violations"] == []


@WIDTHS
def test_a_gear_train_of_three_machines_is_built_from_nothing(at, keeper, site, width):
    page = at(keeper, width)
    page.goto("/register/areas/")
    page.get_by_role("link", name="Add: area").click()
    page.locator("[name=name]").fill("Mill hall")
    page.get_by_role("button", name="Add the area").click()
    page.goto("/register/trains/new/")
    page.locator("[name=tag]").fill("ML-04")
    page.locator("[name=area]").select_option(label="Mill hall")
    for number, (name, role, rpm) in enumerate((("motor", "driver", "1490"), ("mill", "driven", "298"))):
        page.locator(f"[name='machines.{number}.name']").fill(name)
        page.locator(f"[name='machines.{number}.role']").select_option(role)
        page.locator(f"[name='machines.{number}.rpm']").fill(rpm)
    page.get_by_role("button", name="Put a machine before machine 2").click()
    expect(page.locator("[name='machines.2.name']")).to_have_value("mill")
    page.locator("[name='machines.1.name']").fill("gear unit")
    page.locator("[name='machines.1.role']").select_option("gear")
    page.locator("[name='machines.1.rpm']").fill("1490")
    page.get_by_role("button", name="Add the train").click()
    expect(page.locator("#f-machines-1-driven_rpm_error")).to_contain_text("A gear unit has a speed on each side")
    page.locator("[name='machines.1.driven_rpm']").fill("298")
    page.get_by_role("button", name="Add the train").click()
    expect(page.get_by_role("heading", name="ML-04")).to_be_visible()
    expect(page.get_by_text("driven side: 298")).to_be_visible()
    readable(page, width)
    train = Train.objects.get(tag="ML-04")
    for position, tag in ((1, "ML-04-C1"), (2, "ML-04-C2")):
        page.goto(f"/register/couplings/new/?site={site.uuid}")
        page.locator("[name=train]").select_option(value=str(train.uuid))
        page.locator("[name=driver_position]").fill(str(position))
        page.locator("[name=tag]").fill(tag)
        page.locator("[name=rpm]").fill("1490" if position == 1 else "298")
        page.get_by_role("button", name="Add the coupling").click()
        expect(page.get_by_role("heading", name=tag)).to_be_visible()
    page.goto(f"/register/trains/{train.uuid}/")
    page.get_by_role("link", name="ML-04-C2 gear unit to mill").click()
    page.get_by_role("link", name="ML-04", exact=True).click()
    expect(page).to_have_url(re.compile(f"/register/trains/{train.uuid}/"))


@WIDTHS
def test_a_motor_goes_to_the_workshop_with_its_hub_half_and_another_stands_there(at, mechanic, site, width):
    train = TrainFactory(site=site, tag="BF-21")
    fit = FitFactory(coupling=CouplingFactory(train=train, tag="BF-21-C1"), fitted_on=date(2026, 10, 1))
    fit.hubs.create(side="driver", serial="H-31", fitted_on=fit.fitted_on)
    page = at(mechanic, width)
    here = f"/register/trains/{train.uuid}/"
    for act, serial in (("put-unit", "M-1001"), ("exchange-unit", "M-1002")):
        page.goto(f"{here}{act}/")
        if act == "put-unit":
            page.get_by_role("radio", name="BF-21 1 motor").check()
        else:
            page.locator("[name=machine]").select_option(label="BF-21 1 motor")
        page.locator("[name=kind]").fill("motor")
        page.locator("[name=serial]").fill(serial)
        if act == "exchange-unit":
            readable(page, width)
            page.locator("[name=at]").fill("2026-10-12 08:20")
            page.locator("[name=reason]").fill("winding burnt")
            page.locator("[name=went_to]").fill("rewinding shop")
            page.locator("[name=left_with_hub]").select_option("yes")
            page.locator("[name=came_with_hub]").select_option("no")
        page.locator("main button.main").click()
        expect(page.get_by_role("link", name=f"motor {serial}")).to_be_visible()
    old = UnitStay.objects.get(unit__serial="M-1001")
    assert (old.left_with_hub, old.went_to) == (True, "rewinding shop")
    page.goto(f"/register/machine-units/{old.unit.uuid}/")
    expect(page.get_by_text("its hub half stayed on it")).to_be_visible()
    halves = page.get_by_role("region", name="Hub halves on its shaft")
    expect(halves.get_by_text("still on its shaft")).to_be_visible()
    readable(page, width)
    halves.get_by_role("link", name="BF-21-C1").click()
    expect(page.get_by_text("went with motor M-1001; rewinding shop")).to_be_visible()
    readable(page, width)


@WIDTHS
def test_a_coupling_is_retired_and_its_place_goes_on_under_another_tag(at, keeper, site, width):
    coupling = CouplingFactory(train__site=site, tag="BF-21")
    FitFactory(coupling=coupling)
    page = at(keeper, width)
    page.goto(f"/register/couplings/{coupling.uuid}/")
    page.get_by_role("link", name="Retire it, with a successor here").click()
    page.locator("[name=on]").fill("2026-10-12")
    page.locator("[name=tag]").fill("BF-21-B")
    readable(page, width)
    page.locator("main button.main").click()
    expect(page.locator("[name=tag]")).to_have_count(0)
    coupling.refresh_from_db()
    assert coupling.successor == Coupling.objects.get(tag="BF-21-B")
    page.goto(f"/couplings/{coupling.uuid}/")
    page.get_by_role("link", name="BF-21-B").click()
    expect(page.get_by_role("heading", name="BF-21-B")).to_be_visible()
