"""Grade 3 opens one flag, grade 4 another; a better grade, a new element or another fit clears them with its cause."""

from datetime import date, timedelta

import pytest

from couplings.services.fits import fit_element, install_fit, remove_fit
from inspections.models import Flag
from inspections.reasons import flag_sentence
from inspections.selectors.flags import open_flags
from inspections.services.amendments import amend_visit
from inspections.services.signing import sign_visit
from plant.models import Event
from plant.recording import recording
from tests.factories import NOW, TODAY, WorkOrderFactory
from tests.inspections.visits import ELEMENT, begin, fasteners, save
from tests.inspections.worn import SHORE, look, of_family, starters

DAYS = [TODAY - timedelta(days=back) for back in (3, 2, 1, 0)]


@pytest.fixture(autouse=True)
def _starters(site):
    starters()


def kinds(fit):
    return sorted(open_flags(coupling=fit.coupling).values_list("kind", flat=True))


def test_grade_3_opens_a_flag_with_its_evidence(fit, mechanic, wrench):
    visit = look(fit, mechanic, wrench, {"dust.grade": "3", "crack.grade": "1"})
    flag = open_flags(coupling=fit.coupling).get()
    assert flag.kind == "worn"
    assert [(one["code"], one["grade"], one["visit"]) for one in flag.evidence["found"]] == [
        ("dust", 3, str(visit.uuid))
    ]
    assert Event.objects.get(kind="flag.opened").payload["kind"] == "worn"
    assert flag_sentence(flag) == (
        "Worn out: Rubber dust under the coupling, grade 3 (heaps, or crumbs among the dust), found on "
        "12 October 2026. Plan the replacement now."
    )


@pytest.mark.parametrize("code", ["dust", "bolt-fracture"])
def test_grade_4_and_any_fracture_open_the_flag_not_to_run(fit, mechanic, wrench, code):
    look(fit, mechanic, wrench, {f"{code}.grade": "4"})
    flag = open_flags(coupling=fit.coupling).get()
    assert flag.kind == "do-not-run"
    said = flag_sentence(flag)
    assert said.startswith("Do not run: ")
    assert "site's procedure" in said


def test_grades_below_3_open_none(fit, mechanic, wrench):
    look(fit, mechanic, wrench, {"dust.grade": "2", "crack.grade": "0"})
    assert not Flag.objects.exists()


def test_a_later_look_below_3_clears_it_with_the_cause_and_the_next_names_its_predecessor(fit, mechanic, wrench):
    look(fit, mechanic, wrench, {"dust.grade": "3"}, on=DAYS[0])
    look(fit, mechanic, wrench, {"dust.grade": "1"}, on=DAYS[1])
    first = Flag.objects.get()
    assert (first.cause, first.cleared_by) == ("Rubber dust under the coupling: grade 1 on 2026-10-10", mechanic)
    assert Event.objects.filter(kind="flag.cleared").count() == 1
    look(fit, mechanic, wrench, {"dust.grade": "3"}, on=DAYS[2])
    assert open_flags(coupling=fit.coupling).get().previous == first


def test_a_look_at_something_else_leaves_it_standing(fit, mechanic, wrench):
    look(fit, mechanic, wrench, {"dust.grade": "3"}, on=DAYS[0])
    look(fit, mechanic, wrench, {"crack.grade": "0"}, on=DAYS[1])
    look(fit, mechanic, wrench, {}, on=DAYS[2])
    assert kinds(fit) == ["worn"]


def test_what_gets_worse_is_not_to_be_run_and_stays_worn(fit, mechanic, wrench):
    look(fit, mechanic, wrench, {"dust.grade": "3"}, on=DAYS[0])
    look(fit, mechanic, wrench, {"dust.grade": "4"}, on=DAYS[1])
    assert kinds(fit) == ["do-not-run", "worn"]
    look(fit, mechanic, wrench, {"dust.grade": "3"}, on=DAYS[2])
    assert kinds(fit) == ["worn"]
    assert Flag.objects.get(kind="do-not-run").cause == "Rubber dust under the coupling: grade 3 on 2026-10-11"


def test_an_older_visit_entered_late_does_not_speak_for_today(fit, mechanic, wrench):
    look(fit, mechanic, wrench, {"dust.grade": "1"}, on=DAYS[2])
    look(fit, mechanic, wrench, {"dust.grade": "4"}, on=DAYS[0])
    assert kinds(fit) == []


def test_a_new_element_in_the_same_visit_takes_what_was_found_with_it(fit, mechanic, wrench):
    fit.elements.create(site=fit.site, part_number="E-79", fitted_on=date(2026, 10, 2))
    look(fit, mechanic, wrench, {"crack.grade": "4"}, on=DAYS[0])
    order = WorkOrderFactory(train=fit.coupling.train, isolated=True)
    visit = begin(fit, order, mechanic, kind="element", on=DAYS[1])
    save(visit, "wear", {"crack.grade": "4"}, mechanic)
    save(visit, "element", ELEMENT | {"removal_reason": "torn"}, mechanic)
    save(visit, "fasteners", fasteners(wrench), mechanic)
    save(visit, "as-left", {"not_measured": "no time before the start"}, mechanic)
    with recording(by=mechanic, at=NOW):
        sign_visit(visit=visit)
    assert Flag.objects.get().cause == "a new insert was fitted on 2026-10-10"


def test_a_new_element_does_not_mend_a_broken_bolt(fit, mechanic, wrench):
    look(fit, mechanic, wrench, {"bolt-fracture.grade": "4", "crack.grade": "3"}, on=DAYS[0])
    with recording(by=mechanic, at=NOW):
        fit_element(fit=fit, part_number="E-80", fitted_on=DAYS[1])
    assert kinds(fit) == ["do-not-run"]
    assert [one["code"] for one in Flag.objects.get(kind="do-not-run").evidence["found"]] == ["bolt-fracture"]


def test_an_element_fitted_by_the_register_clears_the_flag_in_the_same_unit(fit, mechanic, wrench):
    look(fit, mechanic, wrench, {"crack.grade": "3"}, on=DAYS[0])
    with recording(by=mechanic, at=NOW):
        fit_element(fit=fit, part_number="E-80", fitted_on=DAYS[1])
    assert Flag.objects.get().cause == "a new insert was fitted on 2026-10-10"


def test_another_coupling_in_the_place_clears_them_all(fit, keeper, mechanic, wrench):
    look(fit, mechanic, wrench, {"crack.grade": "3", "bolt-fracture.grade": "4"}, on=DAYS[0])
    with recording(by=keeper, at=NOW):
        remove_fit(fit=fit, removed_on=DAYS[1])
        install_fit(coupling=fit.coupling, sheet_version=fit.sheet_version, fitted_on=DAYS[1])
    assert {flag.cause for flag in Flag.objects.all()} == {"another coupling was fitted on 2026-10-10"}


def test_a_coupling_that_was_taken_out_has_none(fit, keeper, mechanic, wrench):
    look(fit, mechanic, wrench, {"crack.grade": "4"}, on=DAYS[0])
    with recording(by=keeper, at=NOW):
        remove_fit(fit=fit, removed_on=DAYS[1])
    assert Flag.objects.get().cause == "the coupling was taken out"


def test_an_amendment_moves_the_flag_with_the_grade(fit, mechanic, engineer, wrench):
    visit = look(fit, mechanic, wrench, {"crack.grade": "3"})
    with recording(by=engineer, at=NOW):
        amend_visit(visit=visit, steps={"wear": {"crack.grade": "4"}}, reason="read again from the photo")
    assert kinds(fit) == ["do-not-run", "worn"]
    with recording(by=engineer, at=NOW):
        amend_visit(visit=visit, steps={"wear": {}}, reason="another coupling was graded")
    assert kinds(fit) == []
    assert {flag.cause for flag in Flag.objects.all()} == {"an amendment took the grade back"}


def test_hardness_beyond_the_limit_opens_the_flag_and_a_new_element_clears_it(fit, mechanic, wrench):
    version = fit.sheet_version
    version.hardness_change = 5.0
    version.save()
    fit.elements.create(site=fit.site, part_number="E-79", fitted_on=date(2026, 10, 2))
    look(fit, mechanic, wrench, SHORE, on=DAYS[0])
    look(fit, mechanic, wrench, SHORE | {name: "75" for name in SHORE if "position" in name}, on=DAYS[1])
    flag = open_flags(coupling=fit.coupling).get()
    assert "Hardness of the element, grade 3 (Shore A 75, at first 65)" in flag_sentence(flag)
    with recording(by=mechanic, at=NOW):
        fit_element(fit=fit, part_number="E-80", fitted_on=DAYS[2], removal_reason="hardened")
    assert kinds(fit) == []


def test_a_gear_coupling_is_graded_without_an_element(fit, mechanic, wrench):
    of_family(fit, "gear")
    look(fit, mechanic, wrench, {"tooth-wear.grade": "3", "seal-leak.grade": "4"}, on=DAYS[0])
    assert kinds(fit) == ["do-not-run", "worn"]
