"""What is physically there: one open fit per place, one open element per fit, days in order."""

from datetime import UTC, date, datetime

import pytest

from couplings.models import Element, Fit
from couplings.selectors import element_in, fit_at
from couplings.services.fits import change_fit, fit_element, install_fit, remove_fit
from plant.models import Event
from plant.recording import recording
from plant.refusals import Missing, NotAllowed
from tests.couplings.services.test_sheets import refusal
from tests.factories import (
    NOW,
    TODAY,
    CouplingFactory,
    DataSheetFactory,
    FamilyFactory,
    FitFactory,
    SheetVersionFactory,
    TrainFactory,
)

FIRST = date(2026, 10, 1)


@pytest.fixture
def coupling(site):
    return CouplingFactory(train=TrainFactory(site=site, tag="BF-21"))


@pytest.fixture
def version(site):
    return SheetVersionFactory(sheet=DataSheetFactory(site=site))


@pytest.fixture
def fit(coupling, version):
    return FitFactory(coupling=coupling, sheet_version=version)


def fitted(by, fit, **fields):
    with recording(by=by, at=NOW):
        return fit_element(fit=fit, **({"part_number": "E-80", "fitted_on": FIRST} | fields))


def test_a_fit_is_recorded_and_told(mechanic, coupling, version):
    with recording(by=mechanic, at=NOW):
        fit = install_fit(coupling=coupling, sheet_version=version, fitted_on=TODAY, serial=" S-1 ", dbse_mm=140.2)
    assert fit_at(coupling) == fit
    assert (fit.serial, fit.dbse_mm) == ("S-1", 140.2)
    event = Event.objects.get()
    assert (event.kind, event.lane, event.payload["fit"]) == ("fit.moved", coupling.uuid, str(fit.uuid))


def test_a_place_holds_one_fit_and_a_serial_number_one_place(mechanic, coupling, version, fit):
    Fit.objects.filter(pk=fit.pk).update(serial="S-1")
    assert refusal(install_fit, by=mechanic, coupling=coupling, sheet_version=version, fitted_on=TODAY) == {
        "coupling": "What was fitted on 2026-10-01 is still recorded as being here: remove it first."
    }
    elsewhere = CouplingFactory(train=TrainFactory(site=coupling.site))
    assert refusal(
        install_fit, by=mechanic, coupling=elsewhere, sheet_version=version, fitted_on=TODAY, serial="S-1"
    ) == {"serial": "This serial number is recorded as fitted at BF-21: remove it there first."}


def test_a_fit_needs_a_published_sheet_of_its_own_site_and_a_day_that_was(mechanic, coupling, site, other_site):
    draft = SheetVersionFactory(sheet=DataSheetFactory(site=site), published_at=None, digest="")
    tomorrow = date(2026, 10, 13)
    assert refusal(install_fit, by=mechanic, coupling=coupling, sheet_version=draft, fitted_on=tomorrow) == {
        "sheet_version": "This version of the data sheet is not published yet: publish it first.",
        "fitted_on": "2026-10-13 is still to come: a fit is recorded once it has happened.",
    }
    foreign = SheetVersionFactory(sheet=DataSheetFactory(site=other_site))
    assert refusal(install_fit, by=mechanic, coupling=coupling, sheet_version=foreign, fitted_on=TODAY) == {
        "sheet_version": "This data sheet belongs to another site."
    }


def test_the_day_is_the_sites_own(mechanic, coupling, version):
    # 22:30 UTC on the 12th is 00:30 on the 13th in Oslo (UTC+2 in October, IANA zone data).
    late = datetime(2026, 10, 12, 22, 30, tzinfo=UTC)
    with recording(by=mechanic, at=late):
        fit = install_fit(coupling=coupling, sheet_version=version, fitted_on=date(2026, 10, 13))
    assert fit.fitted_on == date(2026, 10, 13)


def test_fits_follow_each_other_without_overlap(mechanic, coupling, version, fit):
    with recording(by=mechanic, at=NOW):
        remove_fit(fit=fit, removed_on=date(2026, 10, 10))
    again = {"by": mechanic, "coupling": coupling, "sheet_version": version}
    assert refusal(install_fit, **again, fitted_on=date(2026, 10, 9)) == {
        "fitted_on": "Another fit was here until 2026-10-10."
    }
    with recording(by=mechanic, at=NOW):
        install_fit(coupling=coupling, sheet_version=version, fitted_on=date(2026, 10, 10))
    assert coupling.fits.count() == 2


def test_a_removal_lies_between_what_was_fitted_and_today(mechanic, fit):
    fitted(mechanic, fit, fitted_on=date(2026, 10, 5))
    for day, sentence in [
        (date(2026, 10, 13), "2026-10-13 is still to come: a removal is recorded once it has happened."),
        (date(2026, 9, 30), "It was fitted on 2026-10-01: it cannot have been removed before."),
        (date(2026, 10, 4), "An element was fitted in it on 2026-10-05: it cannot have been removed before."),
    ]:
        assert refusal(remove_fit, by=mechanic, fit=fit, removed_on=day) == {"removed_on": sentence}
    assert fit_at(fit.coupling) == fit


def test_the_element_leaves_with_its_fit(mechanic, fit):
    element = fitted(mechanic, fit)
    with recording(by=mechanic, at=NOW):
        remove_fit(fit=fit, removed_on=TODAY)
    element.refresh_from_db()
    assert (element.removed_on, element.removal_reason) == (TODAY, "removed with the coupling it was in")
    assert refusal(remove_fit, by=mechanic, fit=fit, removed_on=TODAY) == {
        "removed_on": "This fit was removed on 2026-10-12 already."
    }
    assert refusal(fit_element, by=mechanic, fit=fit, part_number="E-80", fitted_on=TODAY) == {
        "fit": "This fit was removed on 2026-10-12."
    }


def test_a_new_element_closes_the_one_in_place(mechanic, fit):
    old = fitted(mechanic, fit, batch="B1", cured_on=date(2026, 3, 1))
    new = fitted(mechanic, fit, fitted_on=TODAY, removal_reason=" cracked ", went_to="stores, quarantine shelf")
    old.refresh_from_db()
    assert (old.removed_on, old.removal_reason, old.went_to) == (TODAY, "cracked", "stores, quarantine shelf")
    assert element_in(fit) == new
    assert old.changed_no > 0
    assert list(Event.objects.order_by("no").values_list("kind", flat=True)) == ["element.fitted"] * 2
    assert Event.objects.order_by("no").last().payload["replaced"] == str(old.uuid)


def test_the_days_of_an_element_come_in_order(mechanic, fit):
    given = {"by": mechanic, "fit": fit, "part_number": "E-80"}
    assert refusal(fit_element, **given, fitted_on=FIRST, cured_on=date(2026, 10, 2)) == {
        "cured_on": "The cure date 2026-10-02 lies after the day it was fitted, 2026-10-01."
    }
    assert refusal(fit_element, **given, fitted_on=date(2026, 9, 30)) == {
        "fitted_on": "The coupling it goes into was fitted on 2026-10-01, later than this."
    }
    assert refusal(fit_element, **given, fitted_on=date(2026, 10, 13)) == {
        "fitted_on": "2026-10-13 is still to come: an element is recorded once it is fitted."
    }
    fitted(mechanic, fit, fitted_on=date(2026, 10, 5))
    assert refusal(fit_element, **given, fitted_on=date(2026, 10, 4), removal_reason="worn") == {
        "fitted_on": "The element in place was fitted on 2026-10-05, later than this."
    }
    assert Element.objects.count() == 1


def test_why_an_element_went_is_asked_when_one_goes_and_only_then(mechanic, fit):
    given = {"by": mechanic, "fit": fit, "part_number": "E-80", "fitted_on": FIRST}
    assert refusal(fit_element, **given, removal_reason="worn") == {
        "removal_reason": "No element is in place that could have been taken out."
    }
    assert refusal(fit_element, **given, went_to="scrap") == {
        "went_to": "No element is in place that could have been taken out."
    }
    fitted(mechanic, fit)
    assert refusal(fit_element, **given) == {
        "removal_reason": "Say why the element in place was taken out: its life is learned from it."
    }
    assert set(refusal(fit_element, **given, removal_reason="x" * 201, went_to="y" * 121)) == {
        "removal_reason",
        "went_to",
    }


def test_a_family_without_an_element_takes_none(mechanic, coupling, site):
    rigid = FamilyFactory(code="rigid", name="Rigid", kind="rigid", element_name="", ages=False)
    version = SheetVersionFactory(sheet=DataSheetFactory(site=site, family=rigid))
    fit = FitFactory(coupling=coupling, sheet_version=version)
    assert refusal(fit_element, by=mechanic, fit=fit, part_number="E-80", fitted_on=FIRST) == {
        "fit": "A coupling of this family has no wearing element."
    }


def test_a_fit_adopts_another_version_of_its_own_sheet_only(mechanic, fit, version, site):
    second = SheetVersionFactory(sheet=version.sheet, number=2)
    draft = SheetVersionFactory(sheet=version.sheet, number=3, published_at=None, digest="")
    other = SheetVersionFactory(sheet=DataSheetFactory(site=site))
    with recording(by=mechanic, at=NOW):
        change_fit(fit=fit, sheet_version=second, dbse_mm=139.8, match_marks="1 to 1")
    fit.refresh_from_db()
    assert (fit.sheet_version, fit.dbse_mm, fit.match_marks) == (second, 139.8, "1 to 1")
    assert refusal(change_fit, by=mechanic, fit=fit, sheet_version=draft) == {
        "sheet_version": "This version of the data sheet is not published yet: publish it first."
    }
    assert refusal(change_fit, by=mechanic, fit=fit, sheet_version=other) == {
        "sheet_version": "This is another data sheet: remove this fit and record the new one."
    }


def test_mechanics_and_keepers_record_fits_planners_and_strangers_do_not(keeper, planner, stranger, coupling, version):
    given = {"coupling": coupling, "sheet_version": version, "fitted_on": TODAY}
    with pytest.raises(NotAllowed), recording(by=planner, at=NOW):
        install_fit(**given)
    with pytest.raises(Missing), recording(by=stranger, at=NOW):
        install_fit(**given)
    with recording(by=keeper, at=NOW):
        install_fit(**given)
