"""The fasteners page without a browser: the order is in sight, one press enters a joint."""

import pytest
import time_machine

from couplings.models import SheetJoint
from inspections.selectors.visits import read_entry, visit_for
from tests.factories import NOW, InstrumentFactory
from tests.inspections.pages.test_visit_pages import post
from tests.inspections.visits import begin

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _on_the_day():
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def phone(client, mechanic):
    client.force_login(mechanic)
    return client


def text_of(page):
    return page.content.decode().replace("\u00a0", " ")


def test_the_page_lists_every_pass_with_its_torque_in_the_order_of_the_sheet(phone, visit, fit):
    page = text_of(phone.get(f"/visits/{visit.uuid}/steps/fasteners/"))
    assert "Order of tightening, hub bolts: opposite pairs" in page
    assert "Pass 1, <b>13.5 N·m</b>: 1 5 3 7 2 6 4 8" in page
    assert "<b>45.0 N·m</b> (full torque): 1 2 3 4 5 6 7 8" in page
    SheetJoint.objects.filter(version=fit.sheet_version).update(order="round", pass_shares=[1.0])
    page = text_of(phone.get(f"/visits/{visit.uuid}/steps/fasteners/"))
    assert "Pass 1, <b>45.0 N·m</b> (full torque): 1 2 3 4 5 6 7 8" in page
    assert "Pass 2" not in page


def test_one_press_enters_how_torque_and_wrench_and_keeps_what_was_odd(phone, visit, wrench, mechanic):
    page = phone.get(f"/visits/{visit.uuid}/steps/fasteners/")
    assert "All 8 set to 45.0 N·m with Click wrench T-1" in text_of(page)
    answer = post(phone, visit, "fasteners", as_sheet="joint0", **{"joint0.position3": "40"})
    assert (answer.status_code, answer["Location"]) == (302, f"/visits/{visit.uuid}/")
    entry = visit.entries.get(step="fasteners")
    assert entry.typed == {
        "joint0.how": "set", "joint0.torque": "45", "joint0.instrument": str(wrench.uuid), "joint0.position3": "40",
    }  # fmt: skip
    assert read_entry(visit_for(mechanic, visit.uuid), "fasteners").complete


def test_with_a_second_joint_waiting_the_press_stays_on_the_page(phone, visit, wrench, fit):
    SheetJoint.objects.create(version=fit.sheet_version, name="spacer bolts", thread="M8", positions=4, torque_nm=20.0)
    page = text_of(phone.get(f"/visits/{visit.uuid}/steps/fasteners/"))
    assert "All 4 set to 20.0 N·m with Click wrench T-1 (spacer bolts)" in page
    answer = post(phone, visit, "fasteners", as_sheet="joint1")
    assert answer["Location"] == f"/visits/{visit.uuid}/steps/fasteners/#result"
    assert visit.entries.get().typed["joint1.torque"] == "20"


def test_a_press_that_nobody_offers_enters_nothing(phone, visit, wrench):
    post(phone, visit, "fasteners", as_sheet="joint7")
    assert visit.entries.get().typed == {}


def test_without_a_wrench_in_calibration_nothing_is_offered(phone, visit, wrench):
    wrench.calibration_days = 10
    wrench.save()
    assert "as_sheet" not in text_of(phone.get(f"/visits/{visit.uuid}/steps/fasteners/"))


def test_in_foot_pounds_the_press_enters_foot_pounds(phone, visit, wrench, site):
    site.units = "us"
    site.save()
    post(phone, visit, "fasteners", as_sheet="joint0")
    # 45 N·m over 0.3048 m × 4.4482216152605 N: NIST SP 811.
    assert float(visit.entries.get().typed["joint0.torque"]) == pytest.approx(45 / (0.3048 * 4.4482216152605), rel=1e-5)


def test_the_page_says_of_each_position_what_its_reading_means(phone, fit, order, mechanic, site):
    dial = InstrumentFactory(site=site, kind="torque-read", name="Dial wrench", serial="R-1", standard_u_share=0.01)
    visit = begin(fit, order, mechanic, kind="torque")
    typed = {"joint0.how": "read", "joint0.instrument": str(dial.uuid)}
    typed |= {f"joint0.position{n}": "45" for n in range(1, 9)} | {"joint0.position4": "35"}
    post(phone, visit, "fasteners", **typed)
    page = text_of(phone.get(f"/visits/{visit.uuid}/steps/fasteners/"))
    assert "Hub bolts: out of tolerance" in page
    assert "22 % below specified torque" in page
    assert "Lowest 35.0 N·m at position 4" in page
