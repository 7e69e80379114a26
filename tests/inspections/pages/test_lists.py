"""Start, couplings, one coupling and the due list: what is found, what is said, what it costs to ask."""

from datetime import date, timedelta

import pytest
import time_machine

from inspections.services.policies import load_policies
from plant.recording import recording
from tests.factories import NOW, CouplingFactory, FitFactory, TrainFactory
from tests.inspections.signed import sign

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _on_the_day():
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def policies(site):
    with recording(by=None, at=NOW):
        load_policies(site=site, kinds=("alignment", "torque"))


def aligned(site, by, on, tag):
    fit = FitFactory(coupling__train__site=site, coupling__train__tag=tag, fitted_on=date(2024, 1, 1))
    sign(fit, on=on, by=by, aligned=True)
    return fit.coupling


def test_three_letters_of_the_tag_find_a_coupling_with_and_without_script(client, mechanic, site):
    coupling = CouplingFactory(train__site=site, train__tag="CW-04")
    client.force_login(mechanic)

    whole = client.get("/", {"q": "cw-"}).content.decode()
    part = client.get("/", {"q": "cw-"}, headers={"HX-Request": "true"}).content.decode()
    for page in (whole, part):
        assert f"/couplings/{coupling.uuid}/" in page
    assert "<html" not in part
    assert "No coupling whose tag" in client.get("/", {"q": "zz"}).content.decode()


def test_nobody_finds_a_coupling_of_another_site(client, stranger, site):
    coupling = CouplingFactory(train__site=site, train__tag="CW-04")
    client.force_login(stranger)
    for address in ("/?q=cw", "/couplings/", "/due/?days=366"):
        assert "CW-04" not in client.get(address).content.decode()
    assert client.get(f"/couplings/{coupling.uuid}/").status_code == 404


def test_the_due_list_has_the_overdue_first_and_says_why(client, planner, mechanic, site, policies):
    aligned(site, mechanic, date(2025, 6, 1), "CW-01")
    aligned(site, mechanic, date(2025, 10, 20), "CW-02")
    client.force_login(planner)

    page = client.get("/due/").content.decode()
    assert "One is overdue, one falls due" in page
    assert page.index("CW-01") < page.index("CW-02")
    assert "policy, every 12\xa0months, last done on 1 June 2025" in page
    assert "weeks over" in page


def test_an_empty_due_list_offers_the_wider_look(client, planner, mechanic, site, policies):
    aligned(site, mechanic, date(2026, 10, 1), "CW-01")
    client.force_login(planner)
    page = client.get("/due/").content.decode()
    assert "Nothing is due" in page
    assert "?days=366" in page
    assert "CW-01" in client.get("/due/", {"days": "366"}).content.decode()


def test_a_filter_that_is_none_shows_everything(client, planner, mechanic, site, policies):
    aligned(site, mechanic, date(2025, 6, 1), "CW-01")
    client.force_login(planner)
    for query in ({"days": "nonsense"}, {"area": "nonsense"}, {"site": "nonsense"}, {"page": "nonsense"}):
        assert "CW-01" in client.get("/due/", query).content.decode()


def test_the_due_list_asks_the_same_number_of_questions_whatever_its_length(
    client, planner, mechanic, site, policies, connection_queries
):
    client.force_login(planner)

    def queries():
        with connection_queries() as asked:
            client.get("/due/", {"days": "366"})
        return len(asked)

    aligned(site, mechanic, date(2025, 6, 1), "CW-01")
    one = queries()
    for number in range(2, 6):
        aligned(site, mechanic, date(2025, 6, 1) + timedelta(days=number), f"CW-0{number}")
    # Rows come with coupling, train and area in one query; counting and overdue are one each.
    assert queries() == one


def test_a_coupling_says_how_it_was_left_what_comes_next_and_offers_a_visit(client, planner, mechanic, site, policies):
    coupling = aligned(site, mechanic, date(2026, 9, 1), "CW-01")
    client.force_login(mechanic)
    page = client.get(f"/couplings/{coupling.uuid}/").content.decode()
    assert "In tolerance" in page
    assert "Wednesday 1 September 2027" in page
    assert "Begin a visit" in page

    client.force_login(planner)
    assert "Begin a visit" not in client.get(f"/couplings/{coupling.uuid}/").content.decode()


def test_a_coupling_without_a_fit_says_what_to_do(client, mechanic, site):
    coupling = CouplingFactory(train=TrainFactory(site=site))
    client.force_login(mechanic)
    assert "Nothing is entered as fitted here." in client.get(f"/couplings/{coupling.uuid}/").content.decode()
