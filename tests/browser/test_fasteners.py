"""Sixteen bolts on a phone: the order in sight, two taps when nothing is odd, what was odd by its position."""

import pytest
from playwright.sync_api import expect

from couplings.models import SheetJoint
from inspections.models import Torque
from inspections.services.drafts import begin_visit
from inspections.services.signing import sign_visit
from plant.recording import recording
from tests.factories import NOW, TODAY, FitFactory, InstrumentFactory, WorkOrderFactory

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def sixteen(mechanic, site):
    """A torque check of sixteen bolts, isolation standing, one click wrench in the register."""
    InstrumentFactory(site=site, kind="torque-set", name="Click wrench", serial="W-7")
    fit = FitFactory(coupling__train__site=site)
    SheetJoint.objects.filter(version=fit.sheet_version).update(positions=16, thread="M12x1.75", torque_nm=78.0)
    order = WorkOrderFactory(train=fit.coupling.train, isolated=True)
    with recording(by=mechanic, at=NOW):
        return begin_visit(coupling=fit.coupling, kind="torque", on=TODAY, work_order=order)


def _order(page):
    """The positions of the first pass as the page lists them."""
    return [int(word) for word in page.locator("[data-order] li").first.inner_text().split(":")[1].split()]


@pytest.mark.parametrize("script", [True, False], ids=["with script", "without script"])
def test_sixteen_bolts_in_two_taps_and_the_signed_record_holds_them(at, sixteen, mechanic, script):
    page = at(mechanic, 360, java_script_enabled=script)
    page.goto(f"/visits/{sixteen.uuid}/")
    page.get_by_role("link", name="Fasteners").tap()
    order = _order(page)
    assert sorted(order) == list(range(1, 17))
    assert all(abs(one - other) == 8 for one, other in zip(order[::2], order[1::2], strict=True)), "opposite pairs"
    assert page.locator("[data-order] li").count() == 4
    expect(page.locator("[data-order] li").last).to_contain_text("full torque")
    assert page.evaluate("document.documentElement.scrollWidth") <= 360
    button = page.get_by_role("button", name="All 16 set to")
    assert (button.bounding_box() or {})["height"] >= 44
    button.tap()
    expect(page.get_by_role("heading", name="Fasteners")).to_have_count(0)
    typed = sixteen.entries.get(step="fasteners").typed
    assert {name: typed[name] for name in ("joint0.how", "joint0.torque")} == {
        "joint0.how": "set",
        "joint0.torque": "78",
    }
    with recording(by=mechanic, at=NOW):
        record = sign_visit(visit=sixteen)
    torque = Torque.objects.get(record=record)
    assert (torque.how, torque.position, torque.torque_nm, torque.verdict) == ("set", None, 78.0, "in tolerance")


def test_what_moved_is_entered_by_its_position_and_said_in_words(at, sixteen, mechanic):
    page = at(mechanic, 360)
    page.goto(f"/visits/{sixteen.uuid}/steps/fasteners/")
    page.locator("[name='joint0.moved']").fill("3, 17")
    page.get_by_role("button", name="All 16 set to").tap()
    expect(page.locator("#f-joint0-moved_error")).to_contain_text("numbers from 1 to 16")
    page.locator("[name='joint0.moved']").fill("3, 11")
    page.get_by_role("button", name="Save", exact=True).tap()
    page.get_by_role("link", name="Fasteners").tap()
    expect(page.locator("#live")).to_contain_text("moved before the click: a loss of unknown size")
    assert page.evaluate("document.documentElement.scrollWidth") <= 360
