"""The whole demo plant, made once: what is in it, and that every page stands it for everybody who can sign in."""

import re
from collections import Counter
from itertools import pairwise
from urllib.parse import urldefrag, urljoin

import pytest
from django.test import Client
from django.urls import Resolver404, resolve

from couplings.models import Calibration, Coupling, Fit, LimitChange, SheetVersion, StockLot
from inspections.demo.people import PEOPLE
from inspections.demo.works import WORKS
from inspections.models import (
    Check,
    DriftState,
    Flag,
    GroupFit,
    Leg,
    Lubrication,
    Mounting,
    RunOut,
    RunUp,
    ShimPack,
    SoftFoot,
    Survey,
    Visit,
    Wear,
)
from inspections.selectors.verification import verify
from plant.models import Invitation, Machine, MachineUnit, Membership, MeterReading, Person, ServiceSpell, Train
from tests.access_table import ROWS
from tests.inspections.demo_built import standing

pytestmark = [pytest.mark.django_db, pytest.mark.long]
HREF = re.compile(r'(?:href|hx-get)="([^"#][^"]*)"')
# Enough of each kind of page for one person; one coupling's page differs from the next in its rows only.
OF_A_KIND = 3


@pytest.fixture(scope="module", autouse=True)
def _plant(django_db_setup, django_db_blocker):
    with standing(django_db_blocker, WORKS):
        yield


def test_it_has_forty_trains_and_sixty_couplings_of_more_than_six_families():
    assert (Train.objects.count(), Coupling.objects.count()) == (40, 60)
    gears = Machine.objects.filter(role="gear").values("train").distinct().count()
    upright = Machine.objects.filter(mounting="vertical").values("train").distinct().count()
    assert (gears, upright) == (3, 1)
    families = set(Fit.objects.values_list("sheet_version__sheet__family__code", flat=True))
    assert families >= {
        "elastomer-shear", "elastomer-compression", "tyre", "gear", "grid", "disc", "pin-and-bush", "rigid",
    }  # fmt: skip
    assert Coupling.objects.filter(lowest_rpm__isnull=False).count() == 2


def test_about_half_of_its_couplings_have_a_history_of_three_years():
    years = Counter()
    for tag, on in Visit.objects.filter(state="signed").values_list("coupling__tag", "on"):
        years[tag] = max(years[tag], (Visit.objects.latest("on").on - on).days)
    assert len(years) >= 30
    assert sum(days > 950 for days in years.values()) >= 20
    for model in (RunOut, SoftFoot, ShimPack, Mounting, Wear, Lubrication):
        assert model.objects.exists(), model.__name__
    assert RunOut.objects.filter(visit__coupling__tag="CP-71", visit__kind="installation").exists()
    assert Wear.objects.filter(grade=3).exists()


def test_its_signed_records_agree_with_its_rows():
    found = verify()
    assert found.findings == []
    # Each visit has its text, and a run-up is one of its own beside it.
    assert found.records - RunUp.objects.count() == Visit.objects.filter(state="signed").count() > 120


def test_what_is_found_follows_from_what_was_left_at_each_trains_own_pace():
    """A jump and the scatter of readings apart: no leg of these trains moves by more than its pace allows."""
    for tag, pace_mm in (("CW-13", 0.041), ("BF-23", 0.025), ("RF-32", 0.036)):
        rows = Survey.objects.filter(visit__coupling__tag=tag, record__feeds__isnull=False).order_by("visit__on", "pk")
        ends = [(one.visit.on, one.as_found, one.as_left, one.result) for one in rows if one.as_found or one.as_left]
        legs = 0
        for (left_on, _, left, was), (found_on, found, _, now) in pairwise(ends):
            if not (left and found) or left_on == found_on:
                continue
            legs += 1
            years = (found_on - left_on).days / 365.25
            moved = [getattr(now, name) - getattr(was, name) for name in ("offset_v_mm", "offset_h_mm")]
            assert abs((moved[0] ** 2 + moved[1] ** 2) ** 0.5 - pace_mm * years) < 0.02, (tag, found_on)
        assert legs >= 3, tag


def test_hours_never_run_faster_than_time_and_go_on_over_a_new_meter():
    for train in Train.objects.filter(meter__isnull=False):
        rows = [(one.at, one.hours + one.offset_hours) for one in MeterReading.objects.filter(meter__train=train)]
        rows.sort()
        for (one_at, one), (other_at, other) in pairwise(rows):
            assert 0 <= other - one <= (other_at - one_at).total_seconds() / 3600 + 1
    assert MeterReading.objects.filter(offset_hours__gt=0, meter__train__tag="CM-81").exists()


def test_it_has_what_a_keeper_deals_with():
    assert set(ServiceSpell.objects.filter(until_at__isnull=True).values_list("state", flat=True)) == {
        "in", "out", "uncoupled",
    }  # fmt: skip
    assert MachineUnit.objects.filter(stays__until_at__isnull=False).count() == 2
    assert set(LimitChange.objects.values_list("decision", flat=True)) == {"approved", "waiting"}
    assert SheetVersion.objects.filter(published_at__isnull=True).count() == 1
    assert StockLot.objects.filter(count__gt=0).count() >= 8
    deferred = Check.objects.get(deferred_until__isnull=False)
    assert (deferred.coupling.tag, deferred.deferred_by.username) == ("RF-32", "samir")
    assert deferred.deferred_risk is not None
    assert Calibration.objects.count() >= 20
    assert Invitation.objects.filter(used_at__isnull=True, withdrawn_at__isnull=True).count() == 1
    rune, tor = Person.objects.get(username="rune"), Person.objects.get(username="tor")
    assert rune.employer
    assert Membership.objects.get(person=rune).until_on is not None
    assert all(role.until_on is not None for role in Membership.objects.filter(person=tor))
    assert Visit.objects.filter(signed_by=tor).count() > 5


def test_dates_are_won_by_drift_and_by_policy_and_a_jump_has_its_cause():
    alignments = Check.objects.filter(kind="alignment", settled_on=None)
    won = Counter(alignments.values_list("winner", flat=True))
    assert won["drift"] >= 5
    assert won["policy"] >= 5
    assert won["first-hours"] >= 1
    assert won["run-hours"] >= 1
    assert Check.objects.filter(kind="element", winner="element-age", settled_on=None).count() >= 5
    explained = Flag.objects.get(kind="jump", cleared_by__isnull=False)
    assert (explained.coupling.tag, explained.cleared_by.username) == ("CL-15", "ana")
    assert Leg.objects.get(cause="pipe-strain").jump
    assert Flag.objects.filter(kind="jump", cleared_at=None).exists()
    assert Flag.objects.filter(kind="moving-fast", cleared_at=None, coupling__tag="BF-21").exists()
    assert GroupFit.objects.filter(current=True).count() == 2
    assert DriftState.objects.filter(why_not="").count() >= 30


@pytest.mark.parametrize("username", [row[0] for row in PEOPLE])
def test_every_page_that_a_person_can_walk_to_stands_the_demo(username):
    opened = walk(username)
    broken = {address: status for address, status in opened.items() if status >= 500 or status == 404}
    assert broken == {}
    names = {name_of(address) for address in opened}
    wanted = {"start", "due", "couplings", "coupling", "register", "register-trains", "register-trains-one"}
    wanted -= {"register-trains"} if username == "rune" else set()
    assert wanted <= names
    assert {name for name in names if name in ROWS and ROWS[name].page} >= wanted


def walk(username) -> dict[str, int]:
    """Every address that the pages link to, as this person, a few of each kind; with what it answered."""
    client, waiting, found, kinds = Client(raise_request_exception=False), ["/"], {}, Counter()
    client.force_login(Person.objects.get(username=username))
    while waiting:
        address = waiting.pop(0)
        name = name_of(address)
        if address in found or name is None or name.startswith("admin:") or kinds[name] >= OF_A_KIND:
            continue
        kinds[name] += 1
        answer = client.get(address)
        found[address] = answer.status_code
        if answer.status_code in (301, 302):
            waiting.append(urljoin(address, answer.headers["Location"]))
        elif answer.headers.get("Content-Type", "").startswith("text/html"):
            text = answer.content.decode().replace("&amp;", "&")
            waiting += [urljoin(address, urldefrag(href).url) for href in HREF.findall(text)]
    return found


def name_of(address):
    if not address.startswith("/") or address.startswith(("/static/", "/api/", "/accounts/")):
        return None
    try:
        return resolve(address.partition("?")[0]).view_name
    except Resolver404:
        return None
