"""A walk at 360 px: one tap per coupling; photos, hold points and the run-up on the phone, without axe violations."""

from io import BytesIO

import pytest
from PIL import Image
from playwright.sync_api import expect

from couplings.models import SheetHoldPoint
from inspections.models import Photo, RunningLook
from tests.browser.looks import sound
from tests.factories import AreaFactory, CouplingFactory, FitFactory, TrainFactory

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.mark.parametrize("width", [360, 1280])
def test_five_couplings_are_five_taps(at, site, mechanic, width):
    area = AreaFactory(site=site, name="Pump hall")
    for number in range(5):
        train = TrainFactory(site=site, area=area, tag=f"P-{number}")
        FitFactory(coupling=CouplingFactory(train=train, tag=f"P-{number}C"))
    page = at(mechanic, width)
    page.goto("/walk/")
    sound(page, "walks")
    page.get_by_role("link", name="Pump hall").click()
    sound(page, "walk")
    taps = 0
    while (button := page.get_by_role("button", name="sign, and on to the next")).count():
        tag = page.get_by_role("heading", level=1).inner_text()
        button.click()
        taps += 1
        expect(page.get_by_role("heading", level=1)).not_to_have_text(tag)
    expect(page.get_by_role("heading", name="Nothing was out of the ordinary")).to_be_visible()
    sound(page, "walk-done")
    assert taps == RunningLook.objects.count() == 5


@pytest.mark.parametrize("width", [360, 1280])
def test_a_photo_and_a_hold_point_on_the_visit(at, fitted_visit, mechanic, width):
    SheetHoldPoint.objects.create(
        version=fitted_visit.sheet_version, step="placement", what="gap with the rotor in place", role="engineer"
    )
    out = BytesIO()
    Image.new("RGB", (600, 400), "grey").save(out, "PNG")
    page = at(mechanic, width)
    page.goto(f"/visits/{fitted_visit.uuid}/")
    page.get_by_text("Add a photo").click()
    page.locator("#f-file").set_input_files({"name": "a.png", "mimeType": "image/png", "buffer": out.getvalue()})
    page.locator("#f-caption").fill("gap at 12")
    page.get_by_role("button", name="Keep this photo").click()
    expect(page.locator(".photos img")).to_be_visible()
    page.locator(".photos img").scroll_into_view_if_needed()
    expect(page.locator(".photos img")).to_have_js_property("naturalWidth", 600)
    expect(page.get_by_role("heading", name="One hold point waits for a witness")).to_be_visible()
    sound(page, "visit-beside")
    assert Photo.objects.get().caption == "gap at 12"
    page.goto(f"/visits/{fitted_visit.uuid}/steps/hold-down/")
    sound(page, "hold-down")
