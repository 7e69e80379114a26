"""The daily mail: when it is due, what it says, that it goes out once, and the address that changes it."""

from datetime import UTC, date, datetime, timedelta

import pytest
import time_machine
from django.core import mail
from django.urls import reverse

from inspections import tasks
from inspections.models import Check, DigestWish, Flag
from inspections.selectors.digests import digest_of, secret_of, wish_for
from inspections.services.digests import renew_address, wish_digest
from plant import jobs
from plant.models import JobRun
from plant.recording import recording
from plant.refusals import Missing, Refused
from tests.factories import TODAY, CouplingFactory, InstrumentFactory, SiteFactory

# Six in the morning at Oslo, summer time, on Monday 12 October 2026.
SIX = datetime(2026, 10, 12, 4, 0, tzinfo=UTC)
pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _a_mail_server(settings):
    settings.MAIL_ON = True
    settings.EMAIL_BACKEND = "django.core.mail.backends.locmem.EmailBackend"
    with time_machine.travel(SIX, tick=False):
        yield


@pytest.fixture
def wish(planner, site):
    planner.email = "samir@plant.example"
    planner.save()
    return DigestWish.objects.create(person=planner, site=site, origin="https://asleft.plant.example/")


@pytest.fixture
def late(site):
    return _check(site, -5)


def _check(site, days, tag="CW-<b>04"):
    on = TODAY + timedelta(days=days)
    return Check.objects.create(
        site=site, coupling=CouplingFactory(train__site=site, tag=tag), kind="alignment", opens_on=on, due_on=on,
        closes_on=on, winner="first-days", numbers={"first_days": 30, "installed_on": "2026-09-07"},
    )  # fmt: skip


def due(now):
    return [(one.scope, one.for_date, one.not_before) for one in tasks.digests_due(now)]


def test_it_is_due_at_the_chosen_hour_of_the_sites_clock_on_the_chosen_days(wish):
    scope = f"person:{wish.person_id}"
    assert due(SIX - timedelta(minutes=1)) == []
    assert due(SIX) == [(scope, date(2026, 10, 12), SIX)]
    assert due(SIX + timedelta(hours=5, minutes=59)) == [(scope, date(2026, 10, 12), SIX)]
    assert due(SIX + timedelta(hours=6)) == []
    assert due(SIX + timedelta(days=5)) == []  # a Saturday
    # After the clocks went back on 25 October six o'clock is five by UTC.
    assert due(datetime(2026, 10, 26, 4, 30, tzinfo=UTC)) == []
    assert [one[1] for one in due(datetime(2026, 10, 26, 5, 0, tzinfo=UTC))] == [date(2026, 10, 26)]


def test_without_a_mail_server_an_address_or_a_wish_nothing_is_due(wish, settings):
    for change in ({"active": False}, {"days": "67"}):
        DigestWish.objects.update(**({"active": True, "days": "12345"} | change))
        assert due(SIX) == []
    DigestWish.objects.update(active=True, days="12345")
    wish.person.email = ""
    wish.person.save()
    assert due(SIX) == []
    wish.person.email = "a@plant.example"
    wish.person.save()
    assert len(due(SIX)) == 1
    settings.MAIL_ON = False
    assert due(SIX) == []


def night(now=SIX):
    jobs.tick(now)
    jobs.work(now)


@pytest.fixture
def only_digests():
    kept = dict(jobs.JOBS)
    jobs.JOBS.clear()
    jobs.JOBS["digest"] = tasks.DIGEST
    yield
    jobs.JOBS.clear()
    jobs.JOBS.update(kept)


@pytest.mark.usefixtures("only_digests", "late")
@pytest.mark.django_db(transaction=True)
def test_the_mail_says_what_is_overdue_in_text_and_html_and_goes_out_once(wish, site):
    Flag.objects.create(
        site=site, coupling=CouplingFactory(train__site=site, tag="CW-05"), kind="out-of-tolerance", opened_at=SIX,
        owner=wish.person, evidence={"on": "2026-10-01", "role": "as-left", "tolerance_used": 1.4},
    )  # fmt: skip
    for _again in range(3):
        night()
    assert len(mail.outbox) == 1
    sent = mail.outbox[0]
    assert (sent.to, sent.subject) == (["samir@plant.example"], "Greyfen Works: one overdue, 0 due this week")
    html = sent.alternatives[0][0]
    for words in ("Overdue (1)", "5\xa0days over", "Flags you own", "CW-05"):
        assert words in sent.body
        assert words in html
    assert "CW-<b>04" in sent.body
    assert "CW-<b>04" not in html
    address = f"https://asleft.plant.example{reverse('digest-by-mail', args=[secret_of(wish)])}"
    assert address in sent.body
    assert sent.extra_headers["List-Unsubscribe"] == f"<{address}>"
    wish.refresh_from_db()
    assert wish.sent_for == date(2026, 10, 12)
    # Another run of the same day, as after a restore of the rows: nothing goes out again.
    JobRun.objects.all().delete()
    night()
    assert len(mail.outbox) == 1


@pytest.mark.usefixtures("only_digests")
@pytest.mark.django_db(transaction=True)
def test_nothing_is_sent_when_there_is_nothing_to_say(wish, site):
    night()
    assert mail.outbox == []
    assert JobRun.objects.get().state == "done"


@pytest.mark.usefixtures("only_digests", "late")
@pytest.mark.django_db(transaction=True)
def test_a_mail_server_that_is_away_is_tried_again_and_then_left_for_a_person(wish, monkeypatch):
    monkeypatch.setattr("inspections.services.digests.send", lambda **_more: False)
    now = SIX
    for _attempt in range(8):
        night(now)
        now += timedelta(minutes=20)
    run = JobRun.objects.get()
    assert (run.state, run.attempts, run.error) == ("failed", 5, "The mail server did not take the mail.")
    monkeypatch.undo()


def test_keepers_hear_of_work_that_failed_and_planners_do_not(planner, keeper, site):
    JobRun.objects.create(
        kind="nightly", scope=f"site:{site.pk}", for_date=TODAY, not_before=SIX, state="failed", attempts=5,
        error="Traceback\n  ...\nValueError: no such zone",
    )  # fmt: skip
    keepers = DigestWish.objects.create(person=keeper, site=site, origin="https://asleft.plant.example")
    planners = DigestWish.objects.create(person=planner, site=site, origin="https://asleft.plant.example")
    said = digest_of(keepers, SIX)
    assert "ValueError: no such zone" in said.sections[0].lines[0].text
    assert said.sections[0].lines[0].url == "https://asleft.plant.example/jobs/"
    assert digest_of(planners, SIX) is None


def test_the_address_in_the_mail_switches_it_off_without_signing_in_and_only_by_its_button(client, wish):
    address = reverse("digest-by-mail", args=[secret_of(wish)])
    page = client.get(address)
    assert page.status_code == 200
    wish.refresh_from_db()
    assert wish.active
    client.post(address, {"act": "off"})
    wish.refresh_from_db()
    assert not wish.active
    client.post(address, {"site": str(wish.site.uuid), "hour": "14", "days": ["1", "3"]})
    wish.refresh_from_db()
    assert (wish.active, wish.hour, wish.days, wish.origin) == (True, 14, "13", "https://asleft.plant.example/")


def test_a_renewed_address_opens_and_a_guessed_one_does_not(client, wish):
    old = secret_of(wish)
    with recording(by=wish.person, at=SIX):
        renew_address(wish=wish)
    assert wish_for(old) is None
    assert wish_for(secret_of(wish)) == wish
    for guess in (old, "guessed", secret_of(wish)[:-1], "1:2:3", "x" * 300):
        assert client.get(reverse("digest-by-mail", args=[guess])).status_code == 404


@pytest.mark.parametrize(
    "sent",
    [
        {}, {"hour": "6"}, {"hour": "24", "days": ["1"]}, {"hour": "-1", "days": ["1"]}, {"hour": "six", "days": ["1"]},
        {"hour": "6", "days": []}, {"hour": "6", "days": ["8"]}, {"hour": "6", "days": ["1"], "site": "nonsense"},
    ],
)  # fmt: skip
def test_a_wish_that_cannot_be_is_refused_beside_its_field(client, planner, site, sent):
    client.force_login(planner)
    answer = client.post("/digest/", {"site": str(site.uuid)} | sent)
    assert answer.status_code == 422
    assert 'role="alert"' in answer.content.decode()
    assert not DigestWish.objects.exists()


def test_a_wish_is_about_a_site_that_its_reader_sees(client, planner, site):
    other = SiteFactory(name="Saltholm Mill")
    client.force_login(planner)
    assert client.post("/digest/", {"site": str(other.uuid), "hour": "6", "days": ["1"]}).status_code == 422
    with recording(by=planner, at=SIX), pytest.raises(Missing):
        wish_digest(site=other, hour=6, days="1", active=True, origin="https://plant.example")
    with recording(by=planner, at=SIX), pytest.raises(Refused):
        wish_digest(site=site, hour=24, days="1", active=True, origin="https://plant.example")
    assert client.post("/digest/", {"site": str(site.uuid), "hour": "6", "days": ["5", "1"]}).status_code == 302
    assert DigestWish.objects.get().days == "15"


def test_whoever_left_the_site_gets_no_mail(wish, late, django_capture_on_commit_callbacks):
    wish.person.memberships.all().delete()
    with django_capture_on_commit_callbacks(execute=True), recording(by=None, at=SIX):
        list(tasks.digest(f"person:{wish.person_id}", TODAY, SIX, ""))
    assert mail.outbox == []


def test_who_plans_is_told_which_instruments_have_to_go_to_the_laboratory(wish, site, mechanic):
    soon = InstrumentFactory(site=site, name="Click wrench", calibrated_on=date(2026, 9, 1), calibration_days=60)
    over = InstrumentFactory(site=site, name="Dial", calibrated_on=date(2025, 9, 1), calibration_days=365)
    InstrumentFactory(site=site, name="Later", calibrated_on=date(2026, 9, 1), calibration_days=365)
    InstrumentFactory(site=site, name="Never entered", calibrated_on=None)
    InstrumentFactory(site=site, name="Gone", calibration_days=1, retired_on=date(2026, 9, 1))
    InstrumentFactory(name="Elsewhere", site=SiteFactory(name="Elsewhere"), calibration_days=1)
    [section] = digest_of(wish, SIX).sections
    assert section.title == "Instruments to be calibrated"
    assert [line.text for line in section.lines] == [
        f"Dial {over.serial}: its calibration ended on 1 September 2026. Do not measure with it until it is back.",
        f"Click wrench {soon.serial}: its calibration ends on 31 October 2026.",
    ]
    hers = DigestWish.objects.create(person=mechanic, site=site, origin="https://asleft.plant.example/")
    assert digest_of(hers, SIX) is None


def test_what_is_past_its_day_and_inside_its_window_is_not_said_to_be_over(wish, site):
    check = _check(site, -5, tag="CW-07")
    check.closes_on = TODAY + timedelta(days=3)
    check.save()
    [section] = digest_of(wish, SIX).sections
    assert "CW-07, Alignment, its window ends Thursday 15 October 2026." in section.lines[0].text
    assert "over" not in section.lines[0].text
