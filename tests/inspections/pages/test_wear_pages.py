"""The steps Wear and Lubricant and what follows from them, as pages show them."""

from datetime import date

import pytest
import time_machine

from couplings.services.starters import load_storage_rules
from inspections.models import Entry
from plant.recording import recording
from tests.factories import NOW
from tests.inspections.pages.test_visit_pages import post
from tests.inspections.visits import save
from tests.inspections.worn import SHORE, look, of_family, starters

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _on_the_day(site):
    with time_machine.travel(NOW, tick=False):
        starters()
        yield


@pytest.fixture
def phone(client, mechanic):
    client.force_login(mechanic)
    return client


def test_the_step_asks_by_words_and_chooses_nothing_beforehand(phone, visit):
    page = phone.get(f"/visits/{visit.uuid}/steps/wear/").content.decode()
    assert "heaps, or crumbs among the dust" in page
    assert page.count('<option value="" selected>') == page.count(" selected")
    assert " checked" not in page
    assert 'id="f-hardness-position5"' in page
    assert "On to: " in page


def test_grade_4_is_answered_with_do_not_run(phone, visit):
    answer = phone.post(
        f"/visits/{visit.uuid}/steps/wear/",
        {"seen": "0", "was": "{}", "dust.grade": "4"},
        headers={"HX-Request": "true"},
    )
    said = answer.content.decode()
    assert answer.status_code == 200
    assert '<div class="caution" role="note"><p><b>Do not run. Who may decide otherwise' in said
    assert "site&#x27;s procedure" in said
    page = phone.get(f"/visits/{visit.uuid}/steps/wear/").content.decode()
    assert "Do not run." in page


def test_what_is_refused_stays_typed_with_its_error_beside_it(phone, visit):
    answer = post(phone, visit, "wear", **{"crack.number": "3 deg", "dust.grade": "2"})
    page = answer.content.decode()
    assert answer.status_code == 422
    assert 'id="f-crack-number_error"' in page
    assert "deg is a unit of angle" in page
    assert Entry.objects.get().typed == {"crack.number": "3 deg", "dust.grade": "2"}


def test_lubricant_is_asked_of_a_gear_coupling_and_not_of_one_with_rubber(phone, fit, visit):
    assert "Lubricant" not in phone.get(f"/visits/{visit.uuid}/").content.decode()
    of_family(fit, "gear")
    assert "Lubricant" in phone.get(f"/visits/{visit.uuid}/").content.decode()
    assert "What was done" in phone.get(f"/visits/{visit.uuid}/steps/lubricant/").content.decode()
    assert post(phone, visit, "lubricant", act="looked", state="burnt").status_code == 302
    assert "Burnt, with parts blued: grade 4." in phone.get(f"/visits/{visit.uuid}/steps/lubricant/").content.decode()


def test_the_record_and_the_coupling_show_what_was_found(phone, fit, mechanic, wrench):
    visit = look(fit, mechanic, wrench, SHORE | {"dust.grade": "4", "crack.number": "3 mm", "note": "lobe 2"})
    record = phone.get(f"/visits/{visit.uuid}/record/").content.decode()
    assert "<b>grade 4</b>, pieces of the element lie there" in record
    assert "Shore A 65" in record
    assert "lobe 2" in record
    page = phone.get(f"/couplings/{fit.coupling.uuid}/").content.decode()
    assert "<b>Do not run.</b> Do not run: Rubber dust under the coupling, grade 4" in page


def test_an_element_over_its_storage_age_is_warned_of_with_the_sources_that_disagree(phone, fit, visit, mechanic):
    with recording(by=None, at=NOW):
        load_storage_rules(site=fit.site)
    version = fit.sheet_version
    version.element_polymer, version.element_shelf_years = "NBR", None
    version.save()
    fitted = {"act": "fitted", "part_number": "E-80", "cured_on": "2015-03-01"}
    save(visit, "element", fitted, mechanic)
    page = phone.get(f"/visits/{visit.uuid}/steps/element/").content.decode()
    assert "Past 7 years and 3 more after an inspection: not to be fitted." in page
    assert "MIL-HDBK-695E (2011), as restated in public text gives NBR 15 years." in page
    assert phone.get(f"/couplings/{fit.coupling.uuid}/").content.decode().count("storage policy") == 0
    fit.elements.create(site=fit.site, part_number="E-79", fitted_on=date(2026, 10, 2), cured_on=date(2019, 1, 1))
    here = phone.get(f"/couplings/{fit.coupling.uuid}/").content.decode()
    assert "Its age against the storage policy" in here
    assert "too close to call" in here
    assert "NBR, 7.8 years since its cure date. By iso-2230: Past the initial period" in here
