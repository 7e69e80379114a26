"""The tables a site edits, on pages: every one read, filled from the starters, changed, removed, with its source."""

import pytest
from django.urls import reverse

from couplings.models import FitClass, Grade, GradeRow, GrowthCoefficient, NutFactor, StorageRule
from couplings.services.grades import change_grade, remove_grade
from couplings.services.starters import load_grades, load_starters
from inspections.models import Check, Policy
from inspections.services.policies import load_policies, write_policy
from plant.pages.register import noun_of
from plant.recording import recording
from plant.refusals import Refused
from tests.factories import NOW, TODAY, CouplingFactory, FitFactory
from tests.inspections.signed import sign
from tests.world import World

pytestmark = pytest.mark.django_db
TABLES = {
    "grades": "grade", "policies": "policy", "growth": "growth_coefficient", "storage-rules": "storage_rule",
    "nut-factors": "nut_factor", "scatter": "tightening_scatter", "second-screws": "second_screw_factor",
    "fit-classes": "fit_class", "failure-codes": "failure_code", "wear-wordings": "wear_wording",
}  # fmt: skip
STARTED = [key for key in TABLES if key not in {"fit-classes", "wear-wordings"}]
every_table = pytest.mark.parametrize("key", TABLES)


def text(answer):
    return " ".join(answer.content.decode().split())


def open_kinds():
    return set(Check.objects.filter(settled_on=None).values_list("kind", flat=True))


def load(site):
    with recording(by=None, at=NOW):
        load_starters(site=site)
        load_policies(site=site)


@every_table
def test_a_row_is_entered_changed_and_removed_and_each_is_in_its_history(browse, engineer, site, form_of, key):
    client, noun, new = browse(engineer), noun_of(key), reverse(f"register-{key}-new")
    typed = getattr(World(site, engineer), f"{TABLES[key]}_form")()
    answer = client.post(new, form_of(client.get(new)) | typed)
    assert answer.status_code == 302, text(answer)
    row = noun.model.objects.get()
    form = form_of(client.get(noun.address(row, "edit")))
    assert not {one.name for one in noun.fields if one.once} & set(form), "what names a row stays"
    source = "rows.0.source" if key == "grades" else "source"
    assert client.post(noun.address(row, "edit"), form | {source: "our procedure 12"}).status_code == 302
    page = text(client.get(noun.address(row)))
    assert "our procedure 12" in page
    assert page.index("Who changed what") < page.rindex("our procedure 12"), "history names the new source"
    row.refresh_from_db()
    assert row.version == 2
    removal = noun.address(row, "remove")
    assert client.post(removal, form_of(client.get(removal))).status_code == 302
    assert not noun.model.objects.exists()
    assert noun.model.history.latest().history_type == "-"


@pytest.mark.parametrize("key", [*STARTED, "removal-reasons"])
def test_the_starters_are_loaded_from_the_list_and_a_second_time_adds_none(browse, engineer, mechanic, site, key):
    client, noun, act = browse(engineer), noun_of(key), reverse(f"register-{key}-starters")
    assert act in text(client.get(reverse(f"register-{key}")))
    assert "What stands is left as it is worded." in text(client.get(act))
    assert noun.model.objects.count() == 0, "asking changes nothing"
    assert client.post(act, {"site": str(site.uuid)}).status_code == 302
    count = noun.model.objects.count()
    listed = text(client.get(reverse(f"register-{key}")))
    assert count > 1
    assert f"{count} rows are added" in listed
    assert "Source" in listed
    client.post(act, {"site": str(site.uuid)})
    assert "Nothing was added" in text(client.get(reverse(f"register-{key}")))
    assert noun.model.objects.count() == count
    seen = browse(mechanic).get(reverse(f"register-{key}"))
    assert seen.status_code == 200
    assert act not in text(seen)
    assert browse(mechanic).get(act).status_code == 403


@every_table
def test_a_list_asks_the_database_as_often_for_many_rows_as_for_one(
    browse, mechanic, engineer, site, django_assert_max_num_queries, key
):
    _ = getattr(World(site, engineer), TABLES[key])
    client, address = browse(mechanic), reverse(f"register-{key}")
    with django_assert_max_num_queries(100) as few:
        client.get(address)
    load(site)
    with django_assert_max_num_queries(len(few)):
        assert client.get(address).status_code == 200


def test_the_table_of_the_standard_says_that_it_is_the_sites_to_fill(browse, engineer, site):
    load(site)
    listed = text(browse(engineer).get("/register/grades/"))
    assert "that table is yours to fill from your own copy" in listed
    standard = Grade.objects.get(name="ANSI/ASA S2.75")
    assert "Nothing is judged by it until its bands are filled." in text(
        browse(engineer).get(noun_of("grades").address(standard))
    )


def test_deviations_are_printed_to_the_digits_in_which_fits_are_measured(browse, engineer, site):
    row = World(site, engineer).fit_class
    FitClass.objects.filter(pk=row.pk).update(bore_upper_mm=0.0127)
    page = text(browse(engineer).get(noun_of("fit-classes").address(row)))
    assert "0.013 mm" in page


def test_a_band_that_changed_has_a_history_of_its_own_on_the_page_of_its_grade(browse, engineer, site, form_of):
    load(site)
    grade = Grade.objects.get(name="Starter")
    standing = {row.pk for row in grade.rows.all()}
    client, edit = browse(engineer), noun_of("grades").address(grade, "edit")
    assert client.post(edit, form_of(client.get(edit)) | {"rows.0.offset_mm": "0.11 mm"}).status_code == 302
    assert {row.pk for row in grade.rows.all()} == standing, "bands that stay are the same rows"
    page = text(client.get(noun_of("grades").address(grade)))
    assert "band up to 1200 rpm, short flexible: Offset at most" in page
    assert "0.13 mm" in page[page.index("Who changed what") :]
    assert GradeRow.history.filter(grade_id=grade.pk, history_type="~").count() == 1


def test_a_grade_that_couplings_name_stays_until_they_name_another(engineer, site, browse, form_of):
    grade = World(site, engineer).grade
    coupling = CouplingFactory(train__site=site, grade=grade)
    removal = noun_of("grades").address(grade, "remove")
    client = browse(engineer)
    answer = client.post(removal, form_of(client.get(removal)))
    assert answer.status_code == 422
    said = f"Couplings are held to this grade by name: {coupling.tag}. Choose another grade for them first."
    assert said in text(answer)
    with pytest.raises(Refused), recording(by=engineer, at=NOW):
        remove_grade(grade=grade)
    assert Grade.objects.get() == grade
    assert grade.rows.count() == 1


def test_starter_grades_leave_criticalities_to_the_sites_own_grade_that_holds_them(engineer, site):
    with recording(by=engineer, at=NOW):
        own, _standard = load_grades(site=site)
        change_grade(grade=own, name="Our own", criticalities="AC")
    with recording(by=engineer, at=NOW):
        loaded = load_grades(site=site)
    assert [(one.name, one.criticalities) for one in loaded] == [("Starter", "B")]


def test_a_policy_names_its_source_until_its_figures_are_the_sites_own(engineer, site):
    load(site)
    sources = Policy.objects.values_list("source", flat=True)
    assert {source.split(";")[0] for source in sources} == {"common practice"}, "some say more behind it"
    with recording(by=engineer, at=NOW):
        write_policy(site=site, check_kind="alignment", every_months=6)
        write_policy(site=site, check_kind="torque", first_days=20, source="our procedure 3")
    found = dict(Policy.objects.values_list("check_kind", "source"))
    assert (found["alignment"], found["torque"], found["wear"]) == ("", "our procedure 3", "common practice")


def test_removing_a_policy_cancels_the_checks_that_nothing_else_asks_for(engineer, site, browse, form_of):
    load(site)
    sign(FitFactory(coupling__train__site=site), on=TODAY, by=engineer, kind="installation", aligned=True, torqued=True)
    before = open_kinds()
    assert "torque" in before
    removal = noun_of("policies").address(Policy.objects.get(check_kind="torque"), "remove")
    client = browse(engineer)
    assert client.post(removal, form_of(client.get(removal))).status_code == 302
    assert open_kinds() == before - {"torque"}


def test_where_a_rule_or_coefficient_is_removed_over_the_api_the_version_is_asked_for(client, engineer, site):
    world = World(site, engineer)
    client.force_login(engineer)
    for noun, row in (
        ("grades", world.grade), ("growth-coefficients", world.growth_coefficient),
        ("storage-rules", world.storage_rule), ("policies", world.policy),
    ):  # fmt: skip
        address = f"/api/v1/{noun}/{row.uuid}/"
        assert client.delete(address).status_code == 428
        assert client.delete(address, headers={"If-Match": client.get(address)["ETag"]}).status_code == 204
    assert not [one for one in (Grade, GrowthCoefficient, StorageRule, Policy) if one.objects.exists()]
    assert NutFactor.objects.count() == 0
