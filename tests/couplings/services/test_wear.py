"""Wear codes and storage rules from the starters, limits on a data sheet, and the age of an element."""

import json
from datetime import date

import pytest

from couplings.engineering.tables.elastomers import STORAGE_POLICIES
from couplings.models import DataSheet, Family, StorageRule, WearCode
from couplings.selectors.sheets import digest_of
from couplings.selectors.wear import age_of, wear_codes_for, wear_limits_for
from couplings.services.sheets import begin_version, change_version, publish_version, write_sheet
from couplings.services.starters import FOLDER, load_starters
from couplings.services.storage import change_storage_rule, write_storage_rule
from plant.recording import recording
from plant.refusals import NotAllowed, Refused
from tests.factories import NOW


@pytest.fixture
def starters(site):
    with recording(by=None, at=NOW):
        load_starters(site=site)


def code(name):
    return WearCode.objects.get(code=name)


def written(site, by, *limits, family="elastomer-compression", **fields):
    with recording(by=by, at=NOW):
        return write_sheet(
            site=site, family=Family.objects.get(code=family), designation="Jaw 80", wear_limits=limits, **fields
        ).versions.get()


def test_the_starters_give_every_family_its_codes_and_loading_twice_adds_none(site, starters):
    with recording(by=None, at=NOW):
        load_starters(site=site)
    assert WearCode.objects.count() == len(json.loads((FOLDER / "wear_codes.json").read_text())) > 20
    for family in Family.objects.all():
        assert any(one.fracture for one in wear_codes_for(family)), family
    assert StorageRule.objects.count() == sum(len(rows) for rows in STORAGE_POLICIES.values())


def test_a_code_that_a_site_changed_is_left_as_it_is(site, starters):
    WearCode.objects.filter(code="dust").update(title="Crumbs under the guard")
    with recording(by=None, at=NOW):
        load_starters(site=site)
    assert code("dust").title == "Crumbs under the guard"


def test_of_two_policies_the_first_is_in_use_and_the_other_stands_beside_it(site, starters):
    rules = StorageRule.objects.filter(polymer="NBR")
    assert {(one.policy, one.initial_years, one.extension_years, one.in_use) for one in rules} == {
        ("iso-2230", 7, 3, True), ("mil-hdbk-695e", 15, 0, False),
    }  # fmt: skip
    assert {one.mark for one in rules} == {"published"}


def test_a_limit_on_wear_goes_into_the_digest_and_over_into_the_next_version(site, starters, engineer):
    version = written(site, engineer, {"code": code("play"), "limit": 4.0})
    with recording(by=engineer, at=NOW):
        publish_version(version=version)
        following = begin_version(sheet=version.sheet)
    assert wear_limits_for(following) == {"play": 4.0}
    version.wear_limits.update(limit=5.0)
    assert digest_of(version) != version.digest


def test_limits_given_replace_those_that_stand(site, starters, engineer):
    version = written(site, engineer, {"code": code("play"), "limit": 4.0})
    with recording(by=engineer, at=NOW):
        change_version(version=version, wear_limits=[{"code": code("set"), "limit": 1.5}], lubricant="", note="x")
    assert wear_limits_for(version) == {"set": 1.5}


def test_a_limit_that_cannot_be_meant_is_refused_with_its_row_and_nothing_is_saved(site, starters, engineer):
    limits = [
        {"code": code("dust"), "limit": 1.0},
        {"code": code("roller-lift"), "limit": 1.0},
        {"code": code("play"), "limit": float("nan")},
        {"code": code("play"), "limit": 3.0},
    ]
    with pytest.raises(Refused) as refused:
        written(site, engineer, *limits, lubricant_months=601, hardness_scale="C", hardness_change=0.0)
    assert refused.value.as_dict() == {
        "wear_limits.0.code": "“Rubber dust under the coupling” has grades only: no number can be limited.",
        "wear_limits.1.code": (
            "“Roller lifting off the sprocket” is not looked for on the family Elastomer in compression."
        ),
        "wear_limits.2.limit": "It must lie between 1e-06 and 10000.",
        "wear_limits.3.code": "“Play between the hubs when turned by hand” is limited twice.",
        "lubricant_months": "It must lie between 1 and 600.",
        "hardness_scale": "Value 'C' is not a valid choice.",
        "hardness_change": "It must lie between 0.5 and 100.",
    }
    assert not DataSheet.objects.exists()


def test_the_age_of_an_element_tells_what_other_policies_say(site, starters):
    # ISO 2230 as restated in public text: NBR is of group B, 7 years and 3 more after an inspection.
    found = age_of(site, "nbr", date(2019, 1, 1), date(2026, 10, 12))
    assert (found.verdict, found.policy) == ("too close to call", "iso-2230")
    assert (found.initial_until, found.extended_until) == (date(2026, 1, 1), date(2029, 1, 1))
    assert found.conflicts == (
        "MIL-HDBK-695E (2011), as restated in public text gives NBR 15 years. The site chooses one and records it.",
    )
    assert age_of(site, "NBR", date(2015, 1, 1), date(2026, 10, 12)).verdict == "out of tolerance"


def test_the_site_may_go_by_the_other_policy(site, starters, engineer):
    iso, handbook = StorageRule.objects.filter(polymer="NBR").order_by("policy")
    with recording(by=engineer, at=NOW):
        change_storage_rule(rule=iso, in_use=False)
        change_storage_rule(rule=handbook, in_use=True)
    assert age_of(site, "NBR", date(2015, 1, 1), date(2026, 10, 12)).verdict == "in tolerance"
    handbook.refresh_from_db()
    assert handbook.mark == "published", "choosing a rule does not change its figures"


def test_without_a_rule_in_use_the_age_is_not_known(site, starters):
    StorageRule.objects.filter(polymer="NBR").update(in_use=False)
    found = age_of(site, "NBR", date(2020, 1, 1), date(2026, 10, 12))
    assert found.verdict == "not known"
    assert found.reason == "No storage rule is in use for NBR at this site: an engineer chooses one."
    assert len(found.conflicts) == 2
    assert age_of(site, "", date(2020, 1, 1), date(2026, 10, 12)) is None


def test_figures_that_were_changed_are_the_sites_own(site, starters, engineer):
    rule = StorageRule.objects.get(polymer="NBR", policy="iso-2230")
    with recording(by=engineer, at=NOW):
        change_storage_rule(rule=rule, initial_years=6.0, source="store rule 12")
    rule.refresh_from_db()
    assert (rule.mark, rule.initial_years, rule.version) == ("site", 6.0, 2)


def test_a_storage_rule_that_cannot_be_meant_is_refused(site, starters, engineer, mechanic):
    with pytest.raises(Refused) as refused, recording(by=engineer, at=NOW):
        write_storage_rule(
            site=site,
            polymer="nbr",
            policy="iso-2230",
            initial_years=None,
            extension_years=3.0,
            in_use=True,
            source=" ",
        )
    assert refused.value.as_dict() == {
        "policy": "This site has a rule of iso-2230 for NBR already: change that one.",
        "in_use": "iso-2230 is in use for NBR: take it out of use first.",
        "source": "Name the source of this rule: published ones do not agree.",
        "extension_years": "A period without limit is not extended: leave it 0.",
    }
    with pytest.raises(NotAllowed), recording(by=mechanic, at=NOW):
        write_storage_rule(site=site, polymer="CR", policy="house", initial_years=5.0, source="invented")
