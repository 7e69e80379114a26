"""Open flags by age and kind, and what today asks of one mechanic."""

import csv
import io
from datetime import date, timedelta

import pytest
import time_machine

from inspections.models import Check, CrewMember, Flag, SavedList
from plant.models import AuditEntry
from tests.factories import NOW, TODAY, AreaFactory, CouplingFactory, FitFactory, WorkOrderFactory
from tests.inspections.visits import begin

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _on_the_day():
    with time_machine.travel(NOW, tick=False):
        yield


def flag(site, tag, kind="out-of-tolerance", days=1, area="Boiler feed", **more):
    place = CouplingFactory(train__site=site, train__area=AreaFactory(site=site, name=area), tag=tag)
    return Flag.objects.create(
        site=site, coupling=place, kind=kind, opened_at=NOW - timedelta(days=days),
        evidence={"on": "2026-09-01", "role": "as-left"}, **more,
    )  # fmt: skip


@pytest.fixture
def three(site, engineer):
    return [
        flag(site, "CW-01", days=100),
        flag(site, "CW-02", days=10, owner=engineer),
        flag(site, "CW-03", kind="overdue", area="Draught fans"),
    ]


def tags(page):
    return [tag for tag in ("CW-01", "CW-02", "CW-03") if f'<span class="tag">{tag}</span></a></th>' in page]


def test_flags_are_narrowed_by_kind_owner_age_and_area_the_longest_open_first(client, engineer, site, three):
    client.force_login(engineer)
    area = three[2].coupling.train.area
    for query, shown in (
        ({}, ["CW-01", "CW-02", "CW-03"]),
        ({"kind": "overdue"}, ["CW-03"]),
        ({"owner": "me"}, ["CW-02"]),
        ({"owner": "nobody"}, ["CW-01", "CW-03"]),
        ({"owner": "others"}, []),
        ({"age": "week"}, ["CW-01", "CW-02"]),
        ({"age": "quarter"}, ["CW-01"]),
        ({"area": str(area.uuid)}, ["CW-03"]),
    ):
        assert tags(client.get("/flags/", query).content.decode()) == shown, query
    page = client.get("/flags/").content.decode()
    assert "3 flags are open" in page
    assert page.index(">CW-01<") < page.index(">CW-02<") < page.index(">CW-03<")
    assert "2 out of tolerance</a> (one without an owner)" in page


@pytest.mark.parametrize(
    "query", [{"kind": "sink"}, {"owner": "x"}, {"age": "-1"}, {"site": "x"}, {"area": "\x00"}, {"page": "x"}]
)
def test_an_address_that_means_nothing_is_answered(client, engineer, site, three, query):
    client.force_login(engineer)
    for address in ("/flags/", "/flags/flags.csv", "/today/"):
        assert client.get(address, query).status_code == 200


def test_the_flags_go_out_as_a_file_and_the_list_is_kept(client, engineer, mechanic, site, three):
    client.force_login(engineer)
    text = b"".join(client.get("/flags/flags.csv?owner=nobody").streaming_content).decode("utf-8-sig")
    assert [(row["coupling"], row["days open"]) for row in csv.DictReader(io.StringIO(text))] == [
        ("CW-01", "100"), ("CW-03", "1"),
    ]  # fmt: skip
    assert AuditEntry.objects.get(kind="export").note == "flags, 2 open, csv"
    client.post("/lists/", {"page": "flags", "name": "Nobody's", "asked": "owner=nobody&days=3"})
    assert SavedList.objects.get().asked == "owner=nobody"
    client.force_login(mechanic)
    assert client.get("/flags/flags.csv").status_code == 403


def test_a_stranger_sees_none_of_them(client, stranger, site, three):
    client.force_login(stranger)
    assert "CW-0" not in client.get("/flags/").content.decode()
    assert "CW-0" not in client.get(f"/flags/?site={site.uuid}").content.decode()
    assert "Greyfen" not in client.get(f"/today/?site={site.uuid}").content.decode()


def test_today_has_my_visits_my_outings_and_what_is_due_or_planned_this_week(client, mechanic, engineer, site):
    fit = FitFactory(coupling__train__site=site, coupling__tag="CW-01")
    begin(fit, WorkOrderFactory(train=fit.coupling.train, isolated=True), mechanic)
    other = FitFactory(coupling__train__site=site, coupling__tag="CW-09")
    begin(other, WorkOrderFactory(train=other.coupling.train, isolated=True), engineer)
    mine = WorkOrderFactory(train=other.coupling.train)
    CrewMember.objects.create(order=mine, person=mechanic, name="Mia")
    for tag, on, week in (("CW-02", TODAY - timedelta(days=3), None), ("CW-03", TODAY + timedelta(days=60), TODAY),
                          ("CW-04", TODAY + timedelta(days=8), None)):  # fmt: skip
        Check.objects.create(
            site=site, coupling=CouplingFactory(train__site=site, tag=tag), kind="alignment", opens_on=on, due_on=on,
            closes_on=on, week_on=week, winner="first-days", numbers={"first_days": 30, "installed_on": "2026-09-01"},
        )  # fmt: skip
    client.force_login(mechanic)
    page = client.get("/today/").content.decode()
    assert "One visit of yours is not signed" in page
    assert mine.number in page
    assert [tag in page for tag in ("CW-01", "CW-02", "CW-03", "CW-04", "CW-09")] == [True, True, True, False, False]
    assert date(2026, 10, 12) == TODAY


def test_the_pages_ask_a_number_of_questions_that_does_not_grow(client, engineer, site, django_assert_max_num_queries):
    for number in range(30):
        flag(site, f"FD-{number}", owner=engineer)
    client.force_login(engineer)
    # Session, person, roles, sites, flags, counts, kinds, lists, of histories seven; today asks for visits, orders and
    # checks instead of these.
    for address in ("/flags/", "/today/"):
        with django_assert_max_num_queries(17):
            client.get(address)


def test_flags_ticked_are_owned_and_marked_as_seen_at_once(client, engineer, mechanic, three):
    client.force_login(engineer)
    ticked = {"row": [str(three[0].uuid), str(three[2].uuid)]}
    answer = client.post("/flags/chosen/?owner=nobody", ticked | {"act": "own", "owner": str(mechanic.uuid)})
    assert (answer.status_code, answer["Location"]) == (302, "/flags/?owner=nobody")
    assert [Flag.objects.get(pk=one.pk).owner for one in three] == [mechanic, engineer, mechanic]
    assert client.post("/flags/chosen/", ticked | {"act": "seen"}).status_code == 302
    page = client.get("/flags/").content.decode()
    assert page.count(f"seen by {engineer}") == 2
    again = client.post("/flags/chosen/", ticked | {"act": "seen"})
    assert (again.status_code, "seen all of them already" in again.content.decode()) == (422, True)
    assert client.post("/flags/chosen/", ticked | {"act": "own", "owner": ""}).status_code == 302
    assert Flag.objects.filter(owner__isnull=True).count() == 2


def test_a_batch_of_flags_that_cannot_be_keeps_its_ticks(client, engineer, mechanic, stranger, other_site, three):
    client.force_login(engineer)
    row = str(three[0].uuid)
    theirs = flag(other_site, "ZZ-9")
    for sent, said in (
        ({"act": "own"}, "Tick the flags first"),
        ({"row": [row], "act": "own", "owner": str(stranger.uuid)}, "has a role at the sites of all of them"),
        ({"row": [row, str(theirs.uuid)], "act": "seen"}, "cleared in the meantime, or are not there"),
        ({"row": ["nonsense"], "act": "seen"}, "Tick the flags first"),
    ):
        answer = client.post("/flags/chosen/", sent)
        text = answer.content.decode()
        assert (answer.status_code, said in text) == (422, True), sent
        assert (f'value="{row}" checked' in text) == (row in sent.get("row", []))
    assert client.post("/flags/chosen/", {"row": [row], "act": "burn"}).status_code == 404
    client.force_login(mechanic)
    assert client.post("/flags/chosen/", {"row": [row], "act": "seen"}).status_code == 403
    assert "Tick flags" not in client.get("/flags/").content.decode()
    assert not Flag.objects.filter(acknowledged_at__isnull=False).exists()
