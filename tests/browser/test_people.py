"""A keeper invites somebody, who makes an account by the link and is seen off; every page readable by everybody."""

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import expect

from plant.models import AuditEntry, Person
from tests.factories import MembershipFactory, PersonFactory

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
GOOD = "the brass hammer hangs left"


@pytest.mark.parametrize("width", [360, 1280])
def test_somebody_is_invited_comes_in_and_leaves(at, browser, keeper, site, live_server, width):
    page = at(keeper, width)
    page.goto("/people/")
    page.get_by_role("link", name="Invite somebody").click()
    page.get_by_role("combobox", name="Role").select_option("contractor")
    page.get_by_role("button", name="Make the invitation").click()
    expect(page.get_by_text("Say who employs this contractor").first).to_be_visible()
    page.get_by_label("Employer").fill("Crew Ltd")
    page.get_by_label("Last day of the role").fill("2030-01-31")
    page.get_by_role("button", name="Make the invitation").click()
    link = page.locator("code").inner_text()

    context = browser.new_context(viewport={"width": width, "height": 800}, base_url=live_server.url)
    door = context.new_page()
    door.goto(link)
    door.get_by_label("First name").fill("Bo")
    door.get_by_label("Name to sign in with").fill("bo")
    door.get_by_label("New password").fill(GOOD)
    door.get_by_label("The same once more").fill(GOOD)
    door.get_by_role("button", name="Make my account").click()
    door.get_by_label("Username").fill("bo")
    door.get_by_label("Password").fill(GOOD)
    door.get_by_role("button", name="Sign in").click()
    expect(door.get_by_role("heading", name="Which coupling?")).to_be_visible()

    page.goto("/people/?employer=Crew+Ltd")
    page.get_by_role("link", name="Bo", exact=True).click()
    page.get_by_text("Close every door now").first.click()
    page.get_by_role("button", name="Close every door now").click()
    expect(page.get_by_text("stopped: nobody comes in under this name")).to_be_visible()
    door.goto("/account/")
    expect(door.get_by_role("heading", name="Sign in to see what is due")).to_be_visible()
    context.close()


def test_every_page_of_people_is_free_of_axe_violations_and_no_wider_than_the_screen(at, keeper, mechanic, site):
    for number in range(3):
        fitter = PersonFactory(username=f"fitter{number}", first_name=f"Fitter {number}", employer="Crew Ltd")
        MembershipFactory(person=fitter, site=site, role="contractor", until_on="2030-01-31")
        AuditEntry.objects.create(kind="signed-in", at=fitter.date_joined, person=fitter, address="10.1.2.3")
    someone = Person.objects.get(username="fitter0")
    addresses = [
        "/people/", "/people/?q=nobody", "/people/invite/", "/people/audit/", "/people/audit/?kind=export",
        f"/people/{someone.uuid}/", f"/people/{someone.uuid}/leave/{site.uuid}/", "/account/", "/forgotten-password/",
        f"/sites/{site.uuid}/settings/",
    ]  # fmt: skip
    found = []
    axe = Axe()
    for width in (360, 1280):
        page = at(keeper, width)
        for address in addresses:
            page.goto(address)
            for scheme in ("light", "dark"):
                page.emulate_media(color_scheme=scheme)
                answer = axe.run(page)
                if answer.violations_count:
                    found.append((width, scheme, address, answer.generate_report()))
            if (wide := page.evaluate("() => document.documentElement.scrollWidth")) > width:
                found.append((width, address, wide))
    assert found == []
