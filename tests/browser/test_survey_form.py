"""What a survey's form folds away, and an upright machine's points, on a phone: reachable, high enough, free of axe."""

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect

from inspections.models import Visit
from plant.models import Machine

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
RIM_AND_FACE = {"set0.x": "50", "set1.swing_radius": "90"}
SMALLEST_PX = 46


def _sound(page: Page) -> None:
    """No wider than the screen, no axe violation, every control in sight high enough for gloves."""
    found = Axe().run(page).response["violations"]
    assert [(one["id"], one["nodes"][0]["html"][:120]) for one in found] == []
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
    low = page.evaluate(
        f"""[...document.querySelectorAll("main input:not([type=hidden]):not([type=radio]), main select, main summary")]
        .filter(one => one.offsetParent && one.getBoundingClientRect().height < {SMALLEST_PX} - 0.5)
        .map(one => one.id || one.textContent)"""
    )
    assert low == []


def _open_survey(page: Page, visit: Visit) -> None:
    page.goto(f"/visits/{visit.uuid}/steps/as-left/")
    page.locator("[name=method]").select_option("rim-and-face")
    expect(page.locator("[name='set0.12']")).to_be_visible()


def test_other_angles_and_a_second_dial_are_folded_away_until_they_are_used(at, fitted_visit, mechanic):
    page = at(mechanic, 360)
    _open_survey(page, fitted_visit)
    expect(page.locator("[name='set0.more']")).to_be_hidden()
    folds = page.get_by_text("Sag, instrument, other angles, a second dial")
    folds.nth(1).click()
    expect(page.locator("[name='set1.opposed12']")).to_be_visible()
    _sound(page)
    page.locator("[name=stationary][value=driven]").check()
    page.locator("[name=viewed_from][value=movable]").check()
    for name, text in RIM_AND_FACE.items():
        page.locator(f"[name='{name}']").fill(text)
    for number in (0, 1):
        for hour in (12, 3, 6, 9):
            page.locator(f"[name='set{number}.{hour}']").fill("0")
    for hour in (12, 3, 6, 9):
        page.locator(f"[name='set1.turned{hour}']").fill("0.01")
    page.locator("[name='set1.more']").fill("45 0.1")
    page.get_by_role("button", name="Save and work it out").click()
    expect(page.locator("#f-set1-more_error")).to_contain_text("is not an angle with its reading")
    expect(page.locator("[name='set1.more']")).to_have_value("45 0.1")
    expect(page.locator("[name='set1.turned3']")).to_be_visible()
    page.locator("[name='set1.more']").fill("45: 0; 225: 0")
    page.get_by_role("button", name="Save and work it out").click()
    expect(page.get_by_text("Data sheet:")).to_be_visible()
    _sound(page)


def test_an_upright_machine_is_asked_by_compass_points(at, fitted_visit, mechanic):
    Machine.objects.filter(train=fitted_visit.coupling.train).update(mounting="vertical")
    page = at(mechanic, 360)
    _open_survey(page, fitted_visit)
    expect(page.get_by_label("N", exact=True).first).to_be_visible()
    expect(page.get_by_text("Seen from which machine")).to_have_count(0)
    _sound(page)


def test_the_gap_round_the_coupling_is_asked_with_the_placement(at, fitted_visit, mechanic):
    page = at(mechanic, 360)
    page.goto(f"/visits/{fitted_visit.uuid}/steps/placement/")
    expect(page.get_by_label("Gap at 12 o'clock")).to_be_visible()
    expect(page.get_by_label("Total float of the rotor")).to_be_visible()
    _sound(page)


def test_the_moves_of_three_machines_are_filled_one_after_another(at, mechanic):
    page = at(mechanic, 360)
    page.goto("/calculations/moves/?method=three")
    expect(page.locator("[name='m0.name']")).to_be_visible()
    expect(page.locator("[name='m1.name']")).to_be_hidden()
    page.get_by_text("Machine 2, next: empty").click()
    expect(page.locator("[name='m1.name']")).to_be_visible()
    expect(page.locator("[name='m1.foot0.down']")).to_be_hidden()
    _sound(page)
