"""The register in a browser: every page readable by everybody, rows added in place, two who save at once."""

import os

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.db.models import F
from playwright.sync_api import expect

from plant import access
from plant.models import Area, Person, Site, Train
from plant.pages.register import all_nouns
from tests.factories import AreaFactory, MembershipFactory, TrainFactory
from tests.inspections.demo_built import fill_some

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
# Where somebody wants to look at what was drawn.
SHOTS = os.environ.get("SHOTS_IN", "")


# Buttons and fields that are lower than a thumb needs.
LOW = """[...document.querySelectorAll('main :is(button, select, input:not([type=hidden]), .btn)')]
  .filter(it => !['checkbox', 'radio'].includes(it.type) && !it.classList.contains('vh') && it.checkVisibility())
  .filter(it => it.getBoundingClientRect().height < 46).map(it => it.outerHTML.slice(0, 120))"""
# What else may differ between two widths and two schemes of one page.
OF_WIDTH = ["color-contrast", "scrollable-region-focusable", "target-size", "region", "heading-order"]
OF_SCHEME = ["color-contrast"]


def _addresses(person, site):
    """Every page of every noun that this person may open.

    Its list, a new one, many at once, acts on the whole list; of the first row its page with the history, its form and
    its acts.
    """
    found = ["/register/", "/register/trains/?sort=-tag", "/register/trains/?q=nothing-like-it"]
    for noun in all_nouns():
        here = f"/register/{noun.key}/"
        found.append(here)
        found += [f"{here}{one.key}/" for one in noun.whole if one.sites(person)]
        row = noun.visible(person).order_by(*noun.order, "pk").first()
        if noun.create is not None and not noun.below and noun.may_add(person):
            found.append(f"{here}new/" + (f"?site={site.uuid}" if noun.at_a_site else ""))
        if row is None:
            continue
        found.append(noun.address(row))
        writes = access.may(person, noun.action, noun.site_of(row))
        if noun.change is not None and writes:
            found.append(noun.address(row, "edit"))
        found += [noun.address(row, act.key) for act in noun.acts if access.may(person, act.action, noun.site_of(row))]
        if noun.batch and writes:
            found.append(f"{here}batch/?row={row.uuid}")
    return found


def _seen(page, name):
    """What somebody would complain of on this page: at both widths, in light and dark."""
    if SHOTS:
        for scheme, width in (("light", 360), ("dark", 1280)):
            page.emulate_media(color_scheme=scheme)
            page.set_viewport_size({"width": width, "height": 800})
            page.screenshot(path=f"{SHOTS}/{name.strip('/').replace('/', '_')[:80]}-{width}.png", full_page=True)
    found = []
    for width, only in ((360, None), (1280, OF_WIDTH)):
        page.set_viewport_size({"width": width, "height": 800})
        wide = page.evaluate("document.documentElement.scrollWidth")
        found += [(width, name, f"{wide} px wide")] if wide > width else []
        found += [(width, name, "low", one) for one in page.evaluate(LOW)]
        for scheme, rules in (("light", only), ("dark", OF_SCHEME)):
            page.emulate_media(color_scheme=scheme)
            if rules is None:
                violations = Axe().run(page).response["violations"]
            else:
                violations = page.evaluate("rules => axe.run({runOnly: rules}).then(it => it.violations)", rules)
            found += [(width, scheme, name, one["id"], one["nodes"][0]["html"][:200]) for one in violations]
    return found


@pytest.fixture
def plant():
    """Some of the demo plant, in which the engineer keeps the register too and an area lies in another."""
    fill_some()
    person, site = Person.objects.get(username="ana"), Site.objects.get(name="Greyfen Works")
    for other in Site.objects.all():
        MembershipFactory(person=person, site=other, role="keeper")
    Area.objects.create(site=site, name="Feed water", parent=Area.objects.get(site=site, name="Boiler house"))
    return site


def test_every_page_of_the_register_reads_well_to_engineer_and_planner(at, plant):
    found, walked = [], set()
    for username in ("ana", "samir"):
        person = Person.objects.get(username=username)
        page = at(person)
        for address in _addresses(person, plant):
            answer = page.goto(address)
            assert answer.status == 200, (username, address, answer.status)
            # What both may open is looked at once; that it opens is tried as each.
            if address not in walked:
                walked.add(address)
                found += _seen(page, address)
    assert len(walked) > 5 * len(all_nouns())
    assert found == []


def test_what_two_wrote_at_once_is_readable_beside_each_other_for_every_noun(at, plant):
    """The page that compares, at every noun whose form has words in it; refused forms are as readable."""
    person, found, compared = Person.objects.get(username="ana"), [], []
    page = at(person)
    for noun in all_nouns():
        row = noun.visible(person).order_by(*noun.order, "pk").first()
        words = [one.name for one in noun.fields if one.kind in ("text", "long") and not one.once and one.value is None]
        if noun.change is None or row is None or not words or not access.may(person, noun.action, noun.site_of(row)):
            continue
        page.goto(noun.address(row, "edit"))
        typed = page.locator(f"[name='{words[0]}']")
        stood = typed.input_value()
        type(row)._base_manager.filter(pk=row.pk).update(**{words[0]: f"{stood} 1", "version": F("version") + 1})
        typed.fill(f"{stood} 2")
        page.locator("main button.main").last.click()
        expect(page.get_by_text(f"You: {stood} 2")).to_be_visible()
        compared.append(noun.key)
        found += _seen(page, f"{noun.key} compared")
        type(row)._base_manager.filter(pk=row.pk).update(**{words[0]: stood})
    assert len(compared) >= 10, compared
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
