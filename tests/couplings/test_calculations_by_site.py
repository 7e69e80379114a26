"""Calculations by the tables of a site: which rows they take, whose figures the answer says they are, and the pages."""

import pytest
from django.urls import reverse
from rest_framework.test import APIClient

from couplings.calculations.wear_request import starter_codes
from couplings.models import FitClass, NutFactor, SecondScrewFactor, TighteningScatter, WearWording
from couplings.selectors.joints import holding_advice, joint_advice
from couplings.selectors.tables import joint_scatter_at
from plant.models import Person
from tests.factories import CouplingFactory, SheetVersionFactory

OUR = "test on our own rig"
BOLT = {
    "thread": "M16x2",
    "strength": "8.8",
    "torque": {"value": 150, "unit": "N*m"},
    "nut_factor": {"set": "ours", "condition": "waxed"},
    "scatter": {"set": "ours", "method": "by hand"},
}
SCREWS = {
    "count": 2,
    "size": "M8",
    "holding": {"value": 4000, "unit": "N"},
    "angle": {"value": 65, "unit": "deg"},
    "shaft_diameter": {"value": 50, "unit": "mm"},
    "design_factor": 4,
}
FIT = {"method": "site-class", "nominal": {"value": 1.5, "unit": "inch"}, "class": "press"}


@pytest.fixture
def tables(site):
    NutFactor.objects.create(site=site, of_set="ours", condition="waxed", nut_factor=0.125, source=OUR)
    TighteningScatter.objects.create(site=site, of_set="ours", method="by hand", scatter=0.4, source=OUR)
    SecondScrewFactor.objects.create(site=site, from_deg=0, to_deg=0, factor=2, source=OUR)
    SecondScrewFactor.objects.create(site=site, from_deg=60, to_deg=90, factor=1.5, source=OUR)
    FitClass.objects.create(
        site=site, name="press", over_mm=25.4, up_to_mm=50.8, bore_lower_mm=0, bore_upper_mm=0.0254,
        shaft_lower_mm=0.0508, shaft_upper_mm=0.0762, source=OUR,
    )  # fmt: skip


@pytest.fixture
def computed():
    def computed(person, name, body):
        client = APIClient()
        client.force_authenticate(Person.objects.get(pk=person.pk))
        return client.post(f"/api/v1/calculations/{name}/", body, format="json")

    return computed


def test_a_bolt_goes_by_the_sites_nut_factor_and_scatter(tables, computed, engineer):
    answer = computed(engineer, "bolt-torque", BOLT).json()
    # F = T / (K d), written out: 150 / (0.125 * 0.016)
    assert answer["preload"] == {"value": pytest.approx(75_000), "unit": "N"}
    assert answer["nut_factor"] == {"value": 0.125, "source": OUR, "detail": "waxed", "mark": "site"}
    assert answer["scatter"] == {"value": 0.4, "source": OUR, "detail": "by hand", "mark": "site"}


def test_another_sites_rows_are_not_taken(tables, computed, stranger, site):
    answer = computed(stranger, "bolt-torque", BOLT)
    assert answer.status_code == 422
    assert {error["pointer"] for error in answer.json()["errors"]} == {"/nut_factor/set", "/scatter/set"}
    named = computed(stranger, "bolt-torque", BOLT | {"site": str(site.uuid)}).json()
    assert [(one["pointer"], one["detail"]) for one in named["errors"]] == [
        ("/site", "There is nothing here by that name.")
    ]


def test_the_site_may_be_named(tables, computed, engineer, site):
    assert computed(engineer, "bolt-torque", BOLT | {"site": str(site.uuid)}).status_code == 200
    # Where no table of a site is asked, there is no site to name.
    shaft = computed(engineer, "shaft-torque", {"site": str(site.uuid)}).json()
    assert "/site" in {error["pointer"] for error in shaft["errors"]}


def test_a_site_without_rows_goes_by_the_starters(computed, engineer):
    body = BOLT | {"nut_factor": {"set": "shigley", "condition": "lubricated"}, "scatter": None}
    answer = computed(engineer, "bolt-torque", body).json()
    # Shigley, 9th ed., table 8-15: lubricated 0.18
    assert (answer["nut_factor"]["value"], answer["nut_factor"]["mark"]) == (0.18, "published")


def test_two_screws_go_by_the_sites_factor_for_their_angle(tables, computed, engineer, stranger):
    ours = computed(engineer, "set-screws", SCREWS).json()
    assert (ours["count_factor"], ours["count_factor_mark"], ours["count_factor_source"]) == (1.5, "site", OUR)
    theirs = computed(stranger, "set-screws", SCREWS).json()
    # Common practice: about 60 to 65 degrees 1.75
    assert (theirs["count_factor"], theirs["count_factor_mark"]) == (1.75, "common practice")


def test_between_two_rows_both_sources_are_told(tables, computed, engineer):
    SecondScrewFactor.objects.filter(from_deg=0).update(source="another test")
    body = SCREWS | {"angle": {"value": 30, "unit": "deg"}}
    answer = computed(engineer, "set-screws", body).json()
    assert (answer["count_factor"], answer["count_factor_mark"]) == (1.75, "constructed")
    assert answer["count_factor_source"] == f"another test; {OUR}"


def test_a_fit_is_judged_by_the_sites_own_class(tables, computed, engineer, stranger):
    answer = computed(engineer, "fit", FIT | {"measured": {
        "bore": {"value": 38.11, "unit": "mm"}, "shaft": {"value": 38.16, "unit": "mm"},
    }}).json()  # fmt: skip
    assert answer["specified"]["kind"] == "interference"
    # Both deviations as entered: 0 to 1 thou for the bore, 2 to 3 for the shaft.
    assert answer["specified"]["least_clearance"]["value"] == pytest.approx(-0.0762)
    assert answer["specified"]["bore"]["source"] == OUR
    assert answer["specified"]["bore"]["mark"] == "site"
    refused = computed(stranger, "fit", FIT).json()["errors"]
    assert refused[0]["pointer"] == "/class"
    assert refused[0]["detail"].endswith("Its classes: none yet.")


def test_a_size_that_no_band_holds_is_refused(tables, computed, engineer):
    refused = computed(engineer, "fit", FIT | {"nominal": {"value": 3, "unit": "inch"}}).json()["errors"]
    assert refused[0]["detail"] == "No row of the site's table gives class press at this size. Its classes: press."
    nothing = computed(engineer, "fit", {"method": "site-class", "nominal": {"value": 3, "unit": "inch"}}).json()
    assert nothing["errors"][0]["detail"] == "Name the class of fits, as your site's table has it."


def test_the_pages_offer_the_rows_of_the_readers_site(tables, client, engineer, stranger):
    client.force_login(engineer, backend="plant.backends.PersonBackend")
    bolt = client.get(reverse("calculation", args=["bolt-torque"])).content.decode()
    assert "ours / waxed" in bolt
    assert f"0.12, waxed: {OUR} (site)" in bolt or f"0.13, waxed: {OUR} (site)" in bolt
    fit = {"method": "site-class", "nominal": "1.5 in", "class": "press"}
    page = client.get(reverse("calculation", args=["fit"]), fit)
    assert page.status_code == 200
    assert f"{OUR} (site)" in page.content.decode()
    client.force_login(stranger, backend="plant.backends.PersonBackend")
    assert "site-class" not in client.get(reverse("calculation", args=["fit"])).content.decode()
    assert "shigley / bare" in client.get(reverse("calculation", args=["bolt-torque"])).content.decode()


def test_a_sheets_joint_is_told_with_the_sites_scatter(site):
    version = SheetVersionFactory(sheet__site=site)
    joint = version.joints.create(
        name="flange", thread="M12x1.75", positions=4, torque_nm=60, strength_standard="ISO 898-1",
        strength_class="8.8", nut_factor=0.2, nut_factor_source="sheet",
    )  # fmt: skip
    # NASA-STD-5020B table 3: 35 % dry or as received
    assert joint_advice(joint, joint_scatter_at(site)).preload.scatter == 0.35
    TighteningScatter.objects.create(
        site=site, of_set="nasa-std-5020b", method="torque, dry or as received", scatter=0.3, source=OUR
    )
    preload = joint_advice(joint, joint_scatter_at(site)).preload
    assert (preload.scatter, preload.scatter_source) == (0.3, f"{OUR}, torque, dry or as received")


def test_set_screws_of_a_hub_are_told_with_the_sites_factor(site, tables):
    version = SheetVersionFactory(
        sheet__site=site, bore_mm=40, set_screw_count=2, set_screw_angle_deg=65, set_screw_holding_n=4000,
        set_screw_holding_source="sheet",
    )  # fmt: skip
    held = holding_advice(version, CouplingFactory(train__site=site)).held
    assert (held.factor, held.mark) == (1.5, "site")


def test_wear_is_asked_for_and_answered_in_the_words_of_the_site(site, computed, engineer, client):
    WearWording.objects.create(
        site=site, code="crack", title="Splits in the rubber", grade_0="no splits", grade_1="hair splits",
        grade_2="splits", grade_3="deep splits", grade_4="torn", source=OUR,
    )  # fmt: skip
    body = {"family": "elastomer-compression", "observations": [{"code": "crack", "grade": 3}]}
    line = computed(engineer, "wear", body).json()["observations"][0]
    assert (line["title"], line["words"]) == ("Splits in the rubber", "deep splits")
    client.force_login(engineer)
    page = client.get(reverse("calculation", args=["wear"]), {"method": "elastomer-compression"}).content.decode()
    assert "Splits in the rubber" in page
    assert "hair splits" in page


def test_wear_goes_by_the_programs_words_where_the_site_has_none(computed, engineer, client):
    body = {"family": "elastomer-compression", "observations": [{"code": "crack", "grade": 3}]}
    line = computed(engineer, "wear", body).json()["observations"][0]
    assert line["title"] == next(code.title for code in starter_codes() if code.code == "crack")
