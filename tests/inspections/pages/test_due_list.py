"""The due list as a question in the address: what it narrows, sorts, groups, keeps, plans and hands out as files."""

import csv
import io
from datetime import date, timedelta

import pytest
import time_machine
from openpyxl import load_workbook
from zeal import zeal_ignore

from inspections.models import Check, SavedList, WorkOrder
from plant.models import AuditEntry, Stop
from plant.pages.exported import safe_cell
from tests.factories import NOW, TODAY, AreaFactory, CouplingFactory, FitFactory, InstrumentFactory, TrainFactory

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _on_the_day():
    with time_machine.travel(NOW, tick=False):
        yield


def check(site, tag, due_in=0, area="Boiler feed", criticality="A", kind="alignment", **more):
    train = TrainFactory(site=site, area=AreaFactory(site=site, name=area), tag=tag, criticality=criticality)
    due_on = TODAY + timedelta(days=due_in)
    return Check.objects.create(
        site=site, coupling=CouplingFactory(train=train, tag=tag), kind=kind, opens_on=due_on, due_on=due_on,
        closes_on=due_on, winner="first-days", numbers={"first_days": 30, "installed_on": "2026-09-01"}, **more,
    )  # fmt: skip


@pytest.fixture
def rows(site):
    return {
        "late": check(site, "CW-01", -5, crew_hours=3),
        "soon": check(site, "CW-02", 3, area="Draught fans", criticality="B", crew_hours=0.5, needs_stop=False),
        "later": check(site, "CW-03", 40, kind="torque"),
    }


def tags(page):
    return [tag for tag in ("CW-01", "CW-02", "CW-03") if f'<span class="tag">{tag}</span>' in page]


def test_every_part_of_the_sentence_narrows_the_list(client, planner, rows):
    client.force_login(planner)
    area, train = rows["soon"].coupling.train.area, rows["later"].coupling.train
    for query, shown in (
        ({}, ["CW-01", "CW-02"]),
        ({"days": "84"}, ["CW-01", "CW-02", "CW-03"]),
        ({"days": "84", "area": str(area.uuid)}, ["CW-02"]),
        ({"days": "84", "train": str(train.uuid)}, ["CW-03"]),
        ({"days": "84", "kind": "torque"}, ["CW-03"]),
        ({"criticality": "B"}, ["CW-02"]),
        ({"machine": "stop"}, ["CW-01"]),
        ({"machine": "running"}, ["CW-02"]),
        ({"owner": "nobody"}, ["CW-01", "CW-02"]),
        ({"owner": "me"}, []),
        ({"week": "none"}, ["CW-01", "CW-02"]),
        ({"week": "2026-10-12"}, []),
    ):
        assert tags(client.get("/due/", query).content.decode()) == shown, query


def test_groups_count_the_whole_list_and_sorts_turn_it_round(client, planner, rows):
    client.force_login(planner)
    by_area = client.get("/due/", {"group": "area", "days": "84"}).content.decode()
    assert "Boiler feed <span>2 checks, 10 crew hours</span>" in by_area
    assert by_area.index("CW-03") < by_area.index("Draught fans <span>")
    by_week = client.get("/due/", {"group": "week"}).content.decode()
    assert "Week 41, from 5 October" in by_week
    by_hours = client.get("/due/", {"sort": "hours", "group": "area", "days": "84"}).content.decode()
    assert by_hours.index("/CW-01<") if "/CW-01<" in by_hours else by_hours.index("CW-01") < by_hours.index("CW-03")


# Whatever somebody writes into an address: the list as if it were not there, never an error.
@pytest.mark.parametrize(
    "query",
    [
        {"site": "nonsense"}, {"area": "' or 1=1"}, {"train": "0"}, {"kind": "sink"}, {"criticality": "Z"},
        {"machine": "both"}, {"week": "2026-13-45"}, {"week": "9999-12-31"}, {"week": "0001-01-01"}, {"days": "-1"},
        {"days": "1e9"}, {"sort": "password"}, {"group": "owner"}, {"page": "nonsense"}, {"kind": "\x00"},
    ],
)  # fmt: skip
def test_an_address_that_means_nothing_is_answered(client, planner, rows, query):
    client.force_login(planner)
    assert client.get("/due/", query).status_code == 200
    assert client.get("/due/due.csv", query).status_code == 200


def test_checks_are_put_in_a_week_and_taken_out_again(client, planner, rows):
    client.force_login(planner)
    both = [str(rows["late"].uuid), str(rows["soon"].uuid)]
    answer = client.post("/due/chosen/?days=84", {"row": both, "act": "week", "week": "2026-10-19"})
    assert answer["Location"] == "/due/?days=84"
    assert set(Check.objects.filter(week_on=date(2026, 10, 19)).values_list("uuid", flat=True)) == {
        rows["late"].uuid, rows["soon"].uuid,
    }  # fmt: skip
    rows["late"].refresh_from_db()
    assert (rows["late"].version, rows["late"].changed_no > 0) == (2, True)
    page = client.get("/due/", {"week": "2026-10-19"}).content.decode()
    assert tags(page) == ["CW-01", "CW-02"]
    client.post("/due/chosen/", {"row": both[:1], "act": "week", "week": "none"})
    assert Check.objects.filter(week_on__isnull=False).count() == 1


@pytest.mark.parametrize(
    "sent, said",
    [
        ({"act": "week", "week": "2026-10-19"}, "Tick the checks first"),
        ({"row": "nonsense", "act": "week", "week": "2026-10-19"}, "Tick the checks first"),
        ({"row": "late", "act": "week", "week": "soon"}, "Choose the week."),
        ({"row": "late", "act": "week", "week": "2026-10-20"}, "begins on a Monday"),
        ({"row": "late", "act": "week", "week": "2026-09-28"}, "This week is over"),
        ({"row": "late", "act": "week", "week": "2036-10-13"}, "At most a year ahead"),
        ({"row": "late", "act": "defer", "until": "soon", "reason": "x"}, "Write the day as"),
        ({"row": "late", "act": "defer", "until": "2026-10-01", "reason": "x"}, "CW-01, Alignment: It is due on"),
        ({"row": "late", "act": "order", "number": ""}, "number is missing"),
        ({"row": "late", "act": "order", "number": "9" * 41}, "At most 40"),
    ],
)
def test_a_batch_that_is_refused_keeps_its_ticks_and_says_why(client, planner, rows, sent, said):
    client.force_login(planner)
    sent = {key: str(rows[value].uuid) if value in rows else value for key, value in sent.items()}
    answer = client.post("/due/chosen/", sent)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert said in page
    if "late" in str(rows) and sent.get("row") == str(rows["late"].uuid):
        assert f'value="{rows["late"].uuid}" checked' in page
    assert not Check.objects.filter(week_on__isnull=False).exists()
    assert not WorkOrder.objects.exists()


def test_a_work_order_is_opened_for_checks_of_one_train_only(client, planner, rows):
    client.force_login(planner)
    both = [str(rows["late"].uuid), str(rows["soon"].uuid)]
    refused = client.post("/due/chosen/", {"row": both, "act": "order", "number": "WO-7"})
    assert "one train only" in refused.content.decode()
    client.post("/due/chosen/", {"row": both[:1], "act": "order", "number": "WO-7"})
    order = WorkOrder.objects.get()
    assert (order.number, order.train, order.title) == ("WO-7", rows["late"].coupling.train, "Alignment")


def test_job_cards_of_those_chosen_come_as_one_pdf(client, mechanic, rows):
    FitFactory(coupling=rows["late"].coupling)
    client.force_login(mechanic)
    both = [str(rows["late"].uuid), str(rows["soon"].uuid)]
    # Each card is a document of its own and asks for its coupling whole; how many come at once is bounded.
    with zeal_ignore():
        answer = client.post("/due/chosen/", {"row": both, "act": "cards"})
    assert answer["Content-Type"] == "application/pdf"
    assert answer.content.startswith(b"%PDF-")


def test_a_mechanic_plans_nothing_and_takes_no_file_away(client, mechanic, rows):
    client.force_login(mechanic)
    sent = {"row": str(rows["late"].uuid), "act": "week", "week": "2026-10-19"}
    assert client.post("/due/chosen/", sent).status_code == 403
    assert client.get("/due/due.csv").status_code == 403
    page = client.get("/due/").content.decode()
    assert "Put in this week" not in page
    assert "due.csv" not in page


def test_files_have_the_rows_of_the_list_and_are_written_in_the_audit(client, planner, site, rows):
    Check.objects.filter(pk=rows["soon"].pk).update(week_on=date(2026, 10, 12))
    rows["soon"].coupling.train.area.name = "=HYPERLINK(1)"
    rows["soon"].coupling.train.area.save()
    client.force_login(planner)
    text = b"".join(client.get("/due/due.csv").streaming_content).decode("utf-8-sig")
    lines = list(csv.DictReader(io.StringIO(text)))
    assert [(one["coupling"], one["overdue"], one["crew hours"]) for one in lines] == [
        ("CW-01", "yes", "6.0"), ("CW-02", "no", "1.0"),
    ]  # fmt: skip
    assert lines[1]["area"] == "'=HYPERLINK(1)"
    book = load_workbook(io.BytesIO(b"".join(client.get("/due/due.xlsx").streaming_content)))
    cells = list(book.active.iter_rows(values_only=True))
    assert [row[0] for row in cells] == ["coupling", "CW-01", "CW-02"]
    assert cells[2][6].date() == date(2026, 10, 15)
    assert all(cell.data_type != "f" for row in book.active.iter_rows() for cell in row)
    kept = AuditEntry.objects.filter(kind="export", site=site, by=planner)
    assert sorted(kept.values_list("note", flat=True)) == ["due list, 2 checks, csv", "due list, 2 checks, xlsx"]
    assert client.get("/due/due.exe").status_code == 404


@pytest.mark.parametrize("typed", ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1", "＝1"])
def test_a_text_that_would_be_a_formula_is_none(typed):
    assert safe_cell(typed) == "'" + typed


def test_numbers_stay_numbers_and_letters_no_file_may_hold_go():
    assert [safe_cell(one) for one in (-1.5, None, "a\x00b", date(2026, 1, 1))] == [-1.5, "", "ab", date(2026, 1, 1)]


def test_a_list_is_kept_by_its_name_and_is_the_readers_own(client, planner, mechanic, rows):
    client.force_login(planner)
    sent = {"page": "due", "name": " My  fans ", "asked": "days=84&area=x&evil=1&page=3"}
    assert client.post("/lists/", sent)["Location"] == "/due/?days=84&area=x"
    kept = SavedList.objects.get()
    assert (kept.name, kept.asked, kept.person) == ("My fans", "days=84&area=x", planner)
    assert "/due/?days=84&amp;area=x" in client.get("/due/").content.decode()
    client.post("/lists/", {"page": "due", "name": "My fans", "asked": "days=366"})
    assert SavedList.objects.get().asked == "days=366"
    client.force_login(mechanic)
    assert client.post("/lists/", {"page": "due", "act": "forget", "list": kept.pk}).status_code == 404
    assert "My fans" not in client.get("/due/").content.decode()
    client.force_login(planner)
    client.post("/lists/", {"page": "due", "act": "forget", "list": kept.pk})
    assert not SavedList.objects.exists()


@pytest.mark.parametrize("sent", [{"name": ""}, {"name": "x" * 61}, {"name": "x", "page": "people"}, {}])
def test_a_list_without_a_name_or_a_page_is_not_kept(client, planner, site, sent):
    client.force_login(planner)
    assert client.post("/lists/", {"page": "due"} | sent).status_code in (302, 404)
    assert not SavedList.objects.exists()


def test_weeks_hold_hours_planned_against_those_of_the_crew(client, planner, site, rows):
    site.crew_hours_week = 5
    site.save()
    Check.objects.filter(pk=rows["late"].pk).update(week_on=date(2026, 10, 12))
    client.force_login(planner)
    page = client.get("/weeks/").content.decode()
    assert "One week asks for more than the crew has" in page
    assert "1 more than the crew has" in page
    assert page.count("Week 4") >= 8
    Check.objects.filter(pk=rows["late"].pk).update(week_on=date(2026, 10, 5))
    page = client.get("/weeks/").content.decode()
    assert "One check was planned for a week that is over" in page
    assert "No week asks for more" in page


def test_stops_stand_in_the_weeks_they_touch_and_a_planner_enters_them(client, planner, mechanic, site, rows):
    for number in range(9):
        Stop.objects.create(
            site=site, name=f"Stop {number}", begins_on=date(2026, 10, 16), ends_on=date(2026, 10, 20 + number % 2)
        )
    Stop.objects.create(site=site, name="Long over", begins_on=date(2026, 9, 1), ends_on=date(2026, 9, 2))
    client.force_login(planner)
    page = client.get("/weeks/").content.decode()
    # Friday to Tuesday touches two weeks.
    assert (page.count(">Stop 3<"), page.count("Long over")) == (2, 0)
    new = f"/register/stops/new/?site={site.uuid}"
    assert new in page
    assert client.get(new).status_code == 200
    client.force_login(mechanic)
    page = client.get("/weeks/").content.decode()
    assert ">Stop 3<" in page
    assert new not in page


def test_instruments_whose_calibration_ends_stand_below_the_list(client, planner, site, rows):
    wrench = InstrumentFactory(
        site=site, kind="torque-set", name="Click wrench", calibrated_on=TODAY - timedelta(days=300),
        calibration_days=365, operations=4990, operations_limit=5000,
    )  # fmt: skip
    client.force_login(planner)
    assert "to be calibrated" not in client.get("/due/").content.decode()
    page = client.get("/due/?days=84").content.decode()
    assert f"/register/instruments/{wrench.uuid}/" in page
    assert "its calibration ends on 16 December 2026" in page
    # Its operations run out before its date does.
    wrench.calibrations.create(on=TODAY - timedelta(days=300), laboratory="Workshop", certificate="C-1",
                               result="within", operations=0, at=NOW)  # fmt: skip
    page = client.get("/due/").content.decode()
    assert "its calibration ends on 16 December 2026, 10 operations are left" in page
    wrench.operations = 5001
    wrench.save()
    assert "Do not measure with it until it is back" in client.get("/due/").content.decode()


def test_what_is_past_its_day_and_inside_its_window_is_not_said_to_be_over(client, planner, rows):
    Check.objects.filter(pk=rows["late"].pk).update(closes_on=TODAY + timedelta(days=3))
    client.force_login(planner)
    page = client.get("/due/").content.decode()
    assert "window ends 15 October" in page
    assert "days over" not in page


def test_the_lists_ask_a_number_of_questions_that_does_not_grow(
    client, planner, site, rows, django_assert_max_num_queries
):
    for number in range(20):
        check(site, f"FD-{number}", number)
        Stop.objects.create(site=site, name=f"Stop {number}", begins_on=date(2026, 10, 16), ends_on=date(2026, 10, 20))
        InstrumentFactory(site=site, calibration_days=100)
    client.force_login(planner)
    for address in ("/due/?days=84", "/due/?group=area", "/weeks/"):
        # Session, person, roles, site, areas, trains, lists, counts, sums, rows, and of instruments two, of stops one,
        # of histories seven: 21 at most, however long.
        with django_assert_max_num_queries(21):
            client.get(address)
