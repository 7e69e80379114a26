"""The manager's page: the sentence and its numbers, each number's list, and what it costs to ask."""

from datetime import date

import pytest
import time_machine

from inspections.models import StandingMonth
from inspections.services.standing import count_month, months_to_count
from plant.models import AuditEntry
from plant.recording import recording
from tests.factories import NOW, TODAY, AreaFactory, FitFactory
from tests.inspections.signed import sign

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _on_the_day():
    with time_machine.travel(NOW, tick=False):
        yield


def fitted(site, tag, area="Boiler feed"):
    return FitFactory(
        coupling__train__site=site, coupling__train__area=AreaFactory(site=site, name=area), coupling__tag=tag,
        fitted_on=date(2026, 6, 1),
    )  # fmt: skip


def count(site):
    with recording(by=None, at=NOW):
        for month_on in months_to_count(site=site, today=TODAY):
            count_month(site=site, month_on=month_on, today=TODAY)


@pytest.fixture
def plant(site, mechanic):
    sign(fitted(site, "CW-01"), on=date(2026, 7, 1), by=mechanic, aligned=True)
    sign(fitted(site, "CW-02"), on=date(2026, 10, 2), by=mechanic, aligned=True, verdict="out of tolerance")
    sign(
        fitted(site, "CW-03", "Draught fans"),
        on=date(2026, 9, 2),
        by=mechanic,
        aligned=True,
        verdict="too close to call",
    )
    fitted(site, "CW-04", "Draught fans")
    count(site)


def test_the_page_says_how_many_stand_how_and_why_not_known(client, manager, site, plant):
    client.force_login(manager)
    page = client.get("/fleet/").content.decode()
    # One of four is 2.5 in ten, which is rounded to the even number; June, before any was measured, had none.
    assert "Two in ten couplings are in tolerance, more than in June 2026" in page
    assert ">1</a></b> of 4 couplings are in tolerance" in page
    assert "1 never measured" in page
    assert "from not known to out of tolerance" in page
    assert "out of tolerance" in page
    assert page.count('<svg class="st ') == 2
    assert "state=out+of+tolerance" in page


def test_each_number_opens_the_couplings_it_counts(client, manager, site, plant):
    client.force_login(manager)

    def shown(**query):
        page = client.get("/fleet/couplings/", query).content.decode()
        return [tag for tag in ("CW-01", "CW-02", "CW-03", "CW-04") if f'<span class="tag">{tag}</span>' in page]

    assert shown() == ["CW-01", "CW-02", "CW-03", "CW-04"]
    assert shown(state="out of tolerance") == ["CW-02"]
    assert shown(state="not known", why="never-measured") == ["CW-04"]
    assert shown(state="not known", month="2026-09-01") == ["CW-02", "CW-04"]
    fans = AreaFactory(site=site, name="Draught fans")
    assert shown(area=str(fans.uuid)) == ["CW-03", "CW-04"]
    row = StandingMonth.objects.get(month_on=date(2026, 9, 1), area=fans)
    assert (row.too_close, row.not_known) == (1, 1)


def test_before_the_first_night_the_page_says_so_and_offers_the_list(client, manager, site):
    fitted(site, "CW-01")
    client.force_login(manager)
    page = client.get("/fleet/").content.decode()
    assert "for the first time tonight" in page
    assert "/fleet/couplings/" in page


def test_nobody_counts_another_sites_couplings(client, stranger, site, plant):
    client.force_login(stranger)
    for address in ("/fleet/", "/fleet/couplings/", f"/fleet/?site={site.uuid}", f"/fleet/couplings/?site={site.uuid}"):
        page = client.get(address).content.decode()
        assert "CW-0" not in page
        assert "Greyfen" not in page


@pytest.mark.parametrize(
    "query",
    [
        {"month": "nonsense"}, {"month": "9999-01-01"}, {"month": "0001-01-01"}, {"state": "fine"}, {"why": "x"},
        {"area": "x"}, {"site": "' --"}, {"page": "-3"}, {"month": "2026-02-30"}, {"state": "\x00"},
    ],
)  # fmt: skip
def test_an_address_that_means_nothing_is_answered(client, manager, site, plant, query):
    client.force_login(manager)
    for address in ("/fleet/", "/fleet/couplings/", "/fleet/couplings.csv"):
        assert client.get(address, query).status_code == 200


def test_the_list_goes_out_as_a_file_and_into_the_audit(client, manager, mechanic, site, plant):
    client.force_login(manager)
    text = b"".join(client.get("/fleet/couplings.csv?state=not+known").streaming_content).decode("utf-8-sig")
    assert text.splitlines()[1].startswith("CW-04,")
    assert "never measured" in text
    assert AuditEntry.objects.get(kind="export").note == "fleet, 1 couplings, csv"
    client.force_login(mechanic)
    assert client.get("/fleet/couplings.csv").status_code == 403


def test_the_year_asks_a_number_of_questions_that_does_not_grow(
    client, manager, site, plant, mechanic, django_assert_max_num_queries
):
    for number in range(12):
        fitted(site, f"FD-{number}", f"Area {number}")
    count(site)
    client.force_login(manager)
    # Session, person, roles, sites, months, areas, signed since, and four for what trains cost: whatever the areas.
    with django_assert_max_num_queries(14):
        client.get("/fleet/")
    # Of the list besides that the couplings and what their histories are drawn from.
    with django_assert_max_num_queries(17):
        client.get("/fleet/couplings/")
