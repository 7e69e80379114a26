"""The calendar feed: read back by another parser, private to its address, true to the due list."""

import re
from datetime import date, timedelta

import pytest
import time_machine
from django.utils import timezone
from icalendar import Calendar

from inspections.models import CalendarAddress, Check, CrewMember, WorkOrder
from inspections.reasons import check_sentence
from plant.models import Stop, Train
from tests.factories import NOW, TODAY, CouplingFactory, FitFactory, InstrumentFactory, WorkOrderFactory
from tests.inspections.signed import sign

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _on_the_day():
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def checks(site, mechanic):
    from inspections.services.policies import load_policies
    from plant.recording import recording

    with recording(by=None, at=NOW):
        load_policies(site=site, kinds=("alignment", "torque"))
    fit = FitFactory(coupling=CouplingFactory(train__site=site))
    sign(fit, on=TODAY - timedelta(days=3), by=mechanic, kind="installation", aligned=True, torqued=True)
    return list(Check.objects.filter(settled_on__isnull=True))


@pytest.fixture
def hands(client, planner):
    client.force_login(planner)
    return client


def made(client, of=""):
    page = client.post("/calendars/", {"of": str(of), "act": "renew"}).content.decode()
    return re.search(r"http://testserver(/calendars/[\w-]+\.ics)", page)[1]


def unfolded(text):
    """RFC 5545, 3.1, read without the library that wrote it."""
    return text.replace("\r\n ", "").replace("\r\n\t", "").split("\r\n")


def test_each_check_is_a_day_with_its_reason_and_its_page(hands, client, checks):
    address = made(hands)
    client.logout()
    answer = client.get(address)
    feed = Calendar.from_ical(answer.content)

    assert checks
    assert answer["Content-Type"] == "text/calendar; charset=utf-8"
    entries = {str(one["uid"]): one for one in feed.walk("VEVENT")}
    assert set(entries) == {f"check-{one.uuid}@asleft" for one in checks}
    for check in checks:
        entry = entries[f"check-{check.uuid}@asleft"]
        assert entry.decoded("dtstart") == check.due_on
        assert entry.decoded("dtend") == check.due_on + timedelta(days=1)
        assert check_sentence(check) in str(entry["description"])
        assert str(entry["url"]) == f"http://testserver/couplings/{check.coupling.uuid}/"
        assert int(entry["sequence"]) == check.version


def test_the_text_keeps_the_form_of_the_standard(hands, checks):
    raw = hands.get(made(hands)).content

    text = raw.decode()
    assert all(len(line) <= 75 for line in raw.split(b"\r\n")), "3.1: lines of at most 75 octets"
    assert "\n" not in text.replace("\r\n", "")
    lines = unfolded(text)
    assert lines[0] == "BEGIN:VCALENDAR"
    assert lines[-2:] == ["END:VCALENDAR", ""]
    assert lines.count("BEGIN:VEVENT") == lines.count("END:VEVENT") == len(checks)
    starts = sorted(line.split(":")[1] for line in lines if line.startswith("DTSTART;VALUE=DATE"))
    assert starts == sorted(one.due_on.strftime("%Y%m%d") for one in checks)


def read(raw):
    """Entries as {name: text}, by the grammar of RFC 5545, 3.1 and 3.3.11, without the library that wrote them."""
    entries = []
    for line in unfolded(raw.decode()):
        if line == "BEGIN:VEVENT":
            entries.append({})
        elif entries and ":" in line:
            # A name, parameters that may hold quoted colons, a value.
            name, value = re.fullmatch(r'([A-Z-]+)(?:;(?:"[^"]*"|[^":])*)?:(.*)', line).groups()
            entries[-1].setdefault(
                name, re.sub(r"\\(.)", lambda one: {"n": "\n", "N": "\n"}.get(one[1], one[1]), value)
            )
    return entries


def test_another_reader_finds_the_same_in_it(hands, planner, site, checks):
    """A tag, a title and a name with everything in them that the standard escapes."""
    odd = 'Grease; rags, "seals" \\ oil\nand: time'
    order = WorkOrderFactory(train__site=site, title=odd, planned_on=date(2026, 10, 20))
    CrewMember.objects.create(order=order, person=planner, name=str(planner))
    tool = InstrumentFactory(site=site, name="Wrench; red, “old”", calibrated_on=TODAY, calibration_days=30)
    Stop.objects.create(site=site, name="Spring, stop", begins_on=date(2026, 12, 30), ends_on=date(2027, 1, 2))
    raw = hands.get(made(hands)).content
    ours, theirs = read(raw), Calendar.from_ical(raw).walk("VEVENT")
    names = {"UID": "uid", "SUMMARY": "summary", "DESCRIPTION": "description", "LOCATION": "location"}
    assert len(ours) == len(checks) + 3
    for entry, other in zip(ours, theirs, strict=True):
        assert {key: entry.get(key) for key in names} == {
            key: str(other[name]) if name in other else None for key, name in names.items()
        }
        assert entry["DTSTART"] == f"{other.decoded('dtstart'):%Y%m%d}"
    by_uid = {entry["UID"]: entry for entry in ours}
    assert by_uid[f"order-{order.uuid}@asleft"]["SUMMARY"].endswith(odd)
    assert by_uid[f"calibration-{tool.uuid}@asleft"]["DTSTART"] == "20261111"
    stop = by_uid[f"stop-{Stop.objects.get().uuid}@asleft"]
    # The last day counts, and DTEND is the day after it (3.6.1).
    assert (stop["DTSTART"], stop["DTEND"]) == ("20261230", "20270103")
    assert stop["SUMMARY"] == "Stop: Spring, stop, the whole site"


def test_an_address_can_be_renewed_and_ended_and_only_its_digest_is_kept(hands, checks):
    first = made(hands)
    second = made(hands)
    assert hands.get(first).status_code == 404
    assert hands.get(second).status_code == 200
    assert second.split("/")[-1].removesuffix(".ics") not in CalendarAddress.objects.get().digest
    assert second not in hands.get("/calendars/").content.decode()

    hands.post("/calendars/", {"of": "", "act": "end"})
    assert hands.get(second).status_code == 404


def test_a_feed_ends_with_its_owner_and_with_the_role(hands, planner, site, checks):
    whole, mine = made(hands), made(hands, site.uuid)
    planner.memberships.update(until_on=TODAY - timedelta(days=1))
    assert Calendar.from_ical(hands.get(whole).content).walk("VEVENT") == []
    assert hands.get(mine).status_code == 404
    planner.is_active = False
    planner.save()
    assert hands.get(whole).status_code == 404


def test_the_feed_of_a_site_holds_that_site_alone(client, stranger, site, other_site, checks):
    client.force_login(stranger)
    assert client.post("/calendars/", {"of": str(site.uuid), "act": "renew"}).status_code == 404
    assert Calendar.from_ical(client.get(made(client)).content).walk("VEVENT") == []


def test_what_does_not_come_due_is_not_in_it(hands, checks):
    address = made(hands)
    Train.objects.update(service="out")
    assert Calendar.from_ical(hands.get(address).content).walk("VEVENT") == []


def test_outings_a_person_is_on_stand_on_their_day(hands, planner, site):
    title = "Change the element; bring grease, rags"
    order = WorkOrderFactory(train__site=site, title=title, planned_on=date(2026, 10, 20))
    WorkOrderFactory(train__site=site, planned_on=date(2026, 10, 21))
    CrewMember.objects.create(order=order, person=planner, name=str(planner))
    [entry] = Calendar.from_ical(hands.get(made(hands)).content).walk("VEVENT")

    assert entry.decoded("dtstart") == date(2026, 10, 20)
    assert str(entry["summary"]).endswith(title)
    WorkOrder.objects.update(state="closed")
    assert Calendar.from_ical(hands.get(made(hands)).content).walk("VEVENT") == []


def test_a_program_that_reads_again_is_told_that_nothing_changed(hands, checks):
    address = made(hands)
    tag = hands.get(address)["ETag"]
    assert hands.get(address, headers={"If-None-Match": tag}).status_code == 304
    Check.objects.filter(pk=checks[0].pk).update(due_on=checks[0].due_on - timedelta(days=1))
    assert hands.get(address, headers={"If-None-Match": tag}).status_code == 200
    assert CalendarAddress.objects.get().read_at == timezone.now()


def test_the_feed_asks_as_often_for_many_checks_as_for_one(
    hands, site, mechanic, checks, django_assert_max_num_queries
):
    address = made(hands)
    for _number in range(5):
        fit = FitFactory(coupling=CouplingFactory(train__site=site))
        sign(fit, on=TODAY - timedelta(days=3), by=mechanic, kind="installation", aligned=True)
        InstrumentFactory(site=site, calibration_days=200)
        Stop.objects.create(site=site, name="Stop", begins_on=TODAY, ends_on=TODAY)
    # Beside checks and orders, with who asks and where: instruments with their certificates, and stops.
    with django_assert_max_num_queries(13):
        hands.get(address)
