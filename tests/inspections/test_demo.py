"""The demo plant: made once, at any hour, with a password of its own, and never into somebody else's database."""

import re
import stat
from datetime import UTC, datetime
from io import StringIO

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError

from couplings.models import Coupling, DataSheet, Element, Fit, Instrument
from inspections.demo.build import fill
from inspections.models import Check, Flag, Policy, SignedRecord, Survey, Visit
from plant.management.commands import start
from plant.models import Area, MeterReading, Person, Site, Train
from tests.factories import PersonFactory, SiteFactory
from tests.inspections.demo_built import SOME, part_of

pytestmark = pytest.mark.django_db

MODELS = (
    Site, Area, Train, Person, Coupling, DataSheet, Fit, Element, Instrument, MeterReading, Policy, Visit,
    SignedRecord, Survey, Check, Flag,
)  # fmt: skip


@pytest.fixture
def folder(settings, tmp_path, monkeypatch):
    """A data folder of the test's own, and a plant of few trains, which goes through all that the whole one does."""
    monkeypatch.setattr("inspections.management.commands.demo.WORKS", part_of({"CW-12", "VP-61", "WW-02"}))
    settings.DATA = tmp_path
    return tmp_path


def made() -> str:
    said = StringIO()
    call_command("demo", stdout=said)
    return said.getvalue()


def signed_in_by(said: str) -> dict[str, str]:
    return dict(re.findall(r"^  (\w+) +([a-z2-9]{4}-[a-z2-9]{4}-[a-z2-9]{4}) ", said, re.MULTILINE))


def counts() -> dict[str, int]:
    return {model.__name__: model._base_manager.count() for model in MODELS}


def test_the_demo_is_made_once_and_says_so_and_its_sign_ins_the_second_time(folder):
    first, before = made(), counts()
    again = made()
    assert counts() == before
    assert "there already" in again
    assert (before["Site"], before["Train"], before["Coupling"], before["Person"]) == (2, 3, 3, 8)
    assert before["SignedRecord"] == before["Visit"] - 1
    sign_ins = signed_in_by(first)
    assert sign_ins == signed_in_by(again)
    assert set(sign_ins) == {"mia", "jon", "samir", "ana", "ole", "kim", "rune"}
    people = {person.username: person for person in Person.objects.all()}
    assert all(people[name].check_password(password) for name, password in sign_ins.items())
    assert [name for name, person in people.items() if person.is_staff] == ["kim"]
    assert not Person.objects.filter(is_superuser=True).exists()
    kept = folder / "demo-password"
    assert stat.S_IMODE(kept.stat().st_mode) == 0o600
    kept.unlink()
    forgotten = made()
    assert "changepassword" in forgotten
    assert not signed_in_by(forgotten)


@pytest.mark.long
@pytest.mark.parametrize(
    "now",
    [
        datetime(2028, 2, 29, 23, 30, tzinfo=UTC),  # leap day, and in Oslo the day after already
        datetime(2027, 10, 31, 1, 10, tzinfo=UTC),  # while the clock of Oslo goes back
    ],
)
def test_the_demo_can_be_made_at_any_hour(now, time_machine):
    time_machine.move_to(now, tick=False)
    fill(now, "not-for-signing-in", plant=part_of(SOME))
    flags = Flag.objects.filter(cleared_at__isnull=True).values_list("coupling__tag", "kind")
    assert {("CW-11", "overdue"), ("BF-22", "out-of-tolerance")} <= set(flags)
    draft = Visit.objects.get(state=Visit.State.DRAFT)
    assert not any(entry.errors for entry in draft.entries.all())


@pytest.mark.long
def test_the_demo_says_how_far_it_has_come(folder):
    said = made().splitlines()
    years = [line for line in said if re.fullmatch(r"Greyfen Works: \d{4}", line)]
    assert len(years) >= 3
    assert said.index("Greyfen Works: 2 trains") < said.index(years[0])


def test_every_demo_gets_another_password(folder, monkeypatch):
    monkeypatch.setattr(
        "inspections.management.commands.demo.fill", lambda now, password, *more: given.append(password)
    )
    given: list[str] = []
    made()
    made()
    assert len(set(given)) == 2


def test_nobody_is_made_where_the_demo_is_not_asked_for(monkeypatch):
    called: list[str] = []
    monkeypatch.setattr(start, "call_command", lambda name, *args, **options: called.append(name))
    start.Command(stdout=StringIO()).prepare(demo=False)
    assert "demo" not in called
    start.Command(stdout=StringIO()).prepare(demo=True)
    assert called[-1] == "demo"


def test_the_demo_stays_out_of_a_database_with_another_site(folder):
    SiteFactory(name="Somebody's own works")
    with pytest.raises(CommandError, match="Somebody's own works"):
        made()
    assert counts()["Site"] == 1
    assert not Person.objects.exists()


def test_a_site_that_only_shares_its_name_with_the_demo_is_somebody_elses(folder):
    SiteFactory(name="Greyfen Works")
    with pytest.raises(CommandError, match="holds the site Greyfen Works"):
        made()


def test_the_demo_stays_out_where_one_of_its_people_is_known(folder):
    PersonFactory(username="ole")
    with pytest.raises(CommandError, match="registered as ole"):
        made()
    assert not Site.objects.exists()


@pytest.mark.long
def test_a_demo_that_breaks_off_leaves_nothing_behind(folder, monkeypatch):
    def breaks(*given):
        raise RuntimeError("broken off")

    monkeypatch.setattr("inspections.demo.build.Crew.leave_open", breaks)
    with pytest.raises(RuntimeError, match="broken off"):
        made()
    assert set(counts().values()) == {0}
    assert not (folder / "demo-password").exists()
