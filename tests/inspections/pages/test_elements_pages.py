"""The pages Elements and Parts, and what the costliest trains cost: what they say, with few data too."""

import re
from datetime import timedelta

import pytest

from couplings.models import Element, RemovalReason, StockLot
from inspections.models import Breakdown, Check, Visit
from inspections.selectors.costs import costly_trains
from inspections.selectors.elements import costs_of, groups_of, parts_of
from tests.factories import TODAY, CouplingFactory, FitFactory, MembershipFactory, PersonFactory
from tests.inspections.signed import sign
from tests.inspections.test_lives_from_records import ago, element, lived

pytestmark = pytest.mark.django_db


@pytest.fixture
def reasons(site):
    return {
        code: RemovalReason.objects.create(site=site, code=code, title=code, failure=failure)
        for code, failure in (("broken", True), ("planned", False))
    }


@pytest.fixture
def priced(site):
    site.element_cost, site.failure_cost, site.labour_rate, site.down_cost = 200.0, 6000.0, 50.0, 300.0
    site.currency = "EUR"
    site.save()
    return site


def page(client, person, address, **query):
    client.force_login(person)
    answer = client.get(address, query)
    assert answer.status_code == 200
    return re.sub(r"\s+", " ", answer.content.decode())


def test_the_page_says_how_long_they_live_and_draws_it(client, engineer, site, priced, reasons):
    lived(site, [300, 420, 500, 640, 380, 450], reasons)
    text = page(client, engineer, "/elements/")
    assert "6 of 7 elements failed" in text
    assert "one in ten fails by" in text
    assert "<svg" in text
    assert "Replacing sound ones at" in text
    assert "replacement-age/?scale=" in text


def test_few_failures_are_said_in_words(client, engineer, site, reasons):
    lived(site, [300, 420], reasons)
    text = page(client, engineer, "/elements/")
    assert "too few to say how long they live" in text
    assert "there is no B10" in text
    assert "which costs" not in text
    assert "settings do not say" in text


def test_no_element_says_what_is_next(client, engineer, site):
    assert "No element is on record here yet" in page(client, engineer, "/elements/")
    assert "Receive a lot" in page(client, engineer, "/parts/")


@pytest.mark.parametrize("by", ["family", "area", "part", "nonsense"])
def test_elements_are_grouped_as_asked(client, engineer, site, reasons, by):
    lived(site, [300, 420, 500, 640], reasons)
    assert "Taken out, by reason" in page(client, engineer, "/elements/", by=by)


def test_the_best_age_follows_from_the_settings_of_the_site(site, priced, reasons):
    """Planned: the element and its crew hours; a failure: what it costs besides."""
    costs = costs_of(site)
    assert costs.unplanned - costs.planned == 6000
    lived(site, [300, 420, 500, 640, 380, 450], reasons)
    (group,) = groups_of(site, TODAY)
    assert group.best is not None
    site.element_cost = None
    site.save()
    assert groups_of(site, TODAY)[0].best is None


def test_parts_stand_beside_the_store_and_what_is_short_comes_first(client, planner, site, reasons):
    lived(site, [300, 420, 500, 640, 380, 450], reasons)
    for _ in range(8):
        element(FitFactory(coupling=CouplingFactory(train__site=site)), 380)
    StockLot.objects.create(site=site, part_number="E-1", batch="1", count=1, cured_on=ago(200))
    StockLot.objects.create(site=site, part_number="E-9", batch="1", count=4)
    first, last = parts_of(site, TODAY)
    assert (first.part, first.short, last.part, last.short) == ("E-1", True, "E-9", False)
    expected = [need.expected for need in first.needs]
    assert expected == sorted(expected)
    assert first.by_law
    assert all(need.low <= need.expected <= need.high for need in first.needs)
    text = page(client, planner, "/parts/")
    assert "One part number is short" in text
    assert "none is running" in text


def test_too_few_failures_for_a_law_go_by_removals_so_far(site, reasons):
    lived(site, [300], reasons)
    (part,) = parts_of(site, TODAY)
    assert not part.by_law
    # One removal in 600 element-days, and half a one more: about 0.9 in a year of one element.
    assert part.needs[-1].expected == pytest.approx(1.5 / 600 * 365, rel=0.25)


def test_pages_ask_as_often_however_many_elements(client, engineer, site, reasons, connection_queries):
    lived(site, [300, 420], reasons)
    for address in ("/elements/", "/parts/"):
        page(client, engineer, address)
        with connection_queries() as few:
            page(client, engineer, address)
        lived(site, [300, 350, 500], reasons, part="E-2")
        with connection_queries() as many:
            page(client, engineer, address)
        assert len(many) <= len(few) + 1, address
        Element.objects.filter(part_number="E-2").delete()


def test_both_lists_leave_as_files(client, engineer, site, reasons):
    lived(site, [300, 420, 500, 640], reasons)
    client.force_login(engineer)
    text = b"".join(client.get("/elements/elements.csv").streaming_content).decode()
    assert "E-1" in text
    text = b"".join(client.get("/parts/parts.csv").streaming_content).decode()
    assert "expected in 365 days" in text
    assert client.get("/parts/parts.pdf").status_code == 404


def test_the_costliest_train_comes_first_with_its_reasons(client, manager, mechanic, site, priced):
    cheap, dear = (FitFactory(coupling=CouplingFactory(train__site=site)) for _ in range(2))
    for fit, on in ((cheap, ago(20)), (dear, ago(400))):
        Check.objects.create(
            site=site, coupling=fit.coupling, kind="torque", opens_on=on, due_on=on, closes_on=on, winner="policy",
            settled_on=on, outcome="done", crew_hours=2, crew_size=2,
        )  # fmt: skip
    visit = sign(dear, on=ago(30), by=mechanic, kind=Visit.Kind.BREAKDOWN)
    Breakdown.objects.create(visit=visit, record=visit.record, noticed="a bang", hours_down=6)
    element(dear, 30)
    found = costly_trains(site, TODAY)
    assert [one.train for one in found] == [dear.coupling.train, cheap.coupling.train]
    # By hand: an element at 200 and six hours down at 300; two people two hours at 50.
    assert (found[0].parts, found[0].down, found[0].labour) == (200, 1800, 0)
    assert found[1].total == 200
    text = page(client, manager, f"/fleet/costs/{dear.coupling.train.uuid}/")
    assert "a bang" in text
    assert "2 000 EUR" in text


def test_what_was_done_before_the_twelve_months_does_not_count(site, priced, fit):
    element(fit, 366)
    assert costly_trains(site, TODAY) == []
    element(FitFactory(coupling=CouplingFactory(train__site=site)), 364)
    assert [one.parts for one in costly_trains(site, TODAY)] == [200]
    assert costly_trains(site, TODAY + timedelta(days=1)) == []


@pytest.mark.parametrize("address", ["/elements/", "/parts/"])
def test_a_contractor_reads_nothing_of_a_sites_elements_and_stores(client, engineer, site, address):
    StockLot.objects.create(site=site, part_number="E-80", batch="B-1", count=2)
    hired = PersonFactory(username="hired", employer="Crew Ltd")
    MembershipFactory(person=hired, site=site, role="contractor", until_on=TODAY + timedelta(days=30))
    assert "E-80" not in page(client, hired, address)
    if address == "/parts/":
        assert "E-80" in page(client, engineer, address)
