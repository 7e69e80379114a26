"""The register in a browser: every page readable by everybody, rows added in place, two who save at once."""

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import expect

from plant import access
from plant.models import Area, Person, Site, Train
from plant.pages.register import all_nouns
from tests.factories import AreaFactory, MembershipFactory, TrainFactory
from tests.inspections.demo_built import fill_some

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def _addresses(person, site):
    """Every page of every noun: its list, a new one, the first row, its form, its acts, many at once."""
    found = ["/register/", "/register/trains/?q=nothing-like-it", "/register/trains/?sort=-tag"]
    for noun in all_nouns():
        here = f"/register/{noun.key}/"
        found.append(here)
        row = noun.visible(person).order_by(*noun.order, "pk").first()
        if noun.create is not None and not noun.below and noun.may_add(person):
            found.append(f"{here}new/" + (f"?site={site.uuid}" if noun.at_a_site else ""))
        if row is None:
            continue
        found.append(noun.address(row))
        if noun.change is not None:
            found.append(noun.address(row, "edit"))
        found += [noun.address(row, act.key) for act in noun.acts if access.may(person, act.action, noun.site_of(row))]
        if noun.batch:
            found.append(f"{here}batch/?row={row.uuid}")
    return found


def test_every_page_of_the_register_is_free_of_axe_violations_and_no_wider_than_the_screen(at):
    fill_some()
    person = Person.objects.get(username="ana")
    site = Site.objects.get(name="Greyfen Works")
    for other in Site.objects.all():
        MembershipFactory(person=person, site=other, role="keeper")
    Area.objects.create(site=site, name="Feed water", parent=Area.objects.get(site=site, name="Boiler house"))
    found, axe = [], Axe()
    for width in (360, 1280):
        page = at(person, width)
        for address in _addresses(person, site):
            assert page.goto(address).status == 200, address
            wide = page.evaluate("document.documentElement.scrollWidth")
            if wide > width:
                found.append((width, address, f"{wide} px wide"))
            for one in page.locator("main :is(button, select, input:not([type=hidden]), .btn):visible").all():
                box = one.bounding_box() or {"height": 0}
                small = box["height"] < 46 and one.get_attribute("type") not in {"checkbox", "radio"}
                if small and "vh" not in (one.get_attribute("class") or ""):
                    found.append((width, address, "low", box["height"], one.evaluate("it => it.outerHTML")[:120]))
            for scheme in ("light", "dark"):
                page.emulate_media(color_scheme=scheme)
                for one in axe.run(page).response["violations"]:
                    found.append((width, scheme, address, one["id"], one["nodes"][0]["html"][:200]))
    assert found == []


@pytest.mark.parametrize("script", [True, False], ids=["with script", "without script"])
def test_a_train_is_entered_on_a_phone_with_a_third_machine(at, keeper, site, script):
    AreaFactory(site=site, name="Boiler house")
    page = at(keeper, 360, java_script_enabled=script)
    page.goto("/register/trains/")
    page.get_by_role("link", name="Add: train").tap()
    page.locator("[name=tag]").fill("AG-31")
    page.locator("[name=area]").select_option(label="Boiler house")
    for number, name in enumerate(("motor", "gear unit", "agitator shaft")):
        if number == 2:
            page.get_by_role("button", name="One more: machine").tap()
            expect(page.locator("[name='machines.2.name']")).to_be_visible()
            expect(page.locator("[name=tag]")).to_have_value("AG-31")
        page.locator(f"[name='machines.{number}.name']").fill(name)
    page.locator("[name='machines.1.shaft_length_mm']").fill("long")
    page.get_by_role("button", name="Add the train").tap()
    expect(page.locator("#f-machines-1-shaft_length_mm_error")).to_contain_text("“long” is not a number.")
    page.locator("[name='machines.1.shaft_length_mm']").fill("540")
    page.get_by_role("button", name="Add the train").tap()
    expect(page.get_by_role("heading", name="AG-31")).to_be_visible()
    train = Train.objects.get(tag="AG-31")
    assert list(train.machines.values_list("name", flat=True)) == ["motor", "gear unit", "agitator shaft"]


def test_two_who_save_at_once_see_both_and_lose_nothing(at, keeper, engineer, site):
    MembershipFactory(person=engineer, site=site, role="keeper")
    train = TrainFactory(site=site)
    first, second = at(keeper, 360), at(engineer, 1280)
    for page in (first, second):
        page.goto(f"/register/trains/{train.uuid}/edit/")
    first.locator("[name=name]").fill("Feed pump")
    first.get_by_role("button", name="Save").tap()
    expect(first.get_by_role("heading", name=train.tag)).to_be_visible()
    second.locator("[name=name]").fill("Boiler feed pump 1")
    second.get_by_role("button", name="Save").click()
    expect(second.get_by_role("heading", name="Kim saved this before you")).to_be_visible()
    assert Axe().run(second).response["violations"] == []
    assert second.locator("input[type=radio]:checked").count() == 0
    second.get_by_label("You: Boiler feed pump 1").check()
    second.get_by_role("button", name="Save what I chose").click()
    expect(second.get_by_text("Boiler feed pump 1, Boiler feed")).to_be_visible()
