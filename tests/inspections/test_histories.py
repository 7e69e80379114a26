"""Whatever happens at a site: what each change left is what the night would make, and what the facts alone say."""

from collections import defaultdict
from datetime import date

import pytest
from django.db import transaction
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from couplings.models import Coupling
from inspections.models import Check, Flag
from inspections.services.checks import recompute_site
from inspections.services.flags import CLEAR_THEMSELVES, flag_tolerance
from inspections.services.visit_flags import flag_visits
from inspections.services.wear_flags import flag_wear
from plant.models import Event, SiteNumber, Train
from plant.recording import recording
from tests.factories import SiteFactory
from tests.inspections.life import ACTS, Life

pytestmark = pytest.mark.django_db

COLUMNS = (
    "opens_on", "due_on", "closes_on", "winner", "numbers", "runner_up", "runner_up_on", "needs_stop", "crew_hours",
    "crew_size",
)  # fmt: skip
LOST = date(2001, 1, 1)
# Days pass between, and visits are what most follows from.
ACT = st.tuples(st.sampled_from([*ACTS, "days_pass", "days_pass", "days_pass", "a_visit", "a_visit", "a_visit"]),
                st.integers(0, 9_999))  # fmt: skip
OWN_NIGHT = ("days_pass", "the_clock_is_set_back")
histories = st.lists(ACT, min_size=8, max_size=14)
whole_lives = st.lists(ACT, min_size=30, max_size=60)


def house(most, **more):
    return settings(
        max_examples=most,
        phases=(Phase.explicit, Phase.generate),  # shortening a history takes minutes: leave this out to have it
        suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
        **more,
    )


@house(7)
@given(histories)
def test_each_change_leaves_what_the_night_would_make(db, history):
    lived(history)


@pytest.mark.long
@house(15)
@given(whole_lives)
def test_whole_lives_of_a_site_leave_what_the_night_would_make(db, history):
    lived(history, end=True)


def test_every_act_of_such_a_history_happens():
    """No act is always refused, so that the histories say something about each."""
    did = {}
    for number in range(2):
        with transaction.atomic():
            life = Life(SiteFactory(name=f"Site {number}"))
            for turn in range(2):
                for name in [*ACTS, "a_visit", "days_pass"]:
                    life.does(name, 1000 * number + 100 * turn + 7)
            did = {name: did.get(name, 0) + life.did.get(name, 0) for name in ACTS}
            transaction.set_rollback(True)
    assert [name for name in ACTS if not did[name]] == []


def lived(history, end=False):
    with transaction.atomic():
        life = Life(SiteFactory(name="A site of its own"))
        life.night()
        for name, chosen in history:
            last = SiteNumber.objects.get(site=life.site).last
            life.does(name, chosen)
            nothing_came_due_out_of_service(life, name, last)
            if name not in OWN_NIGHT:
                the_night_changes_nothing(life, name)
        if end:
            life.does("the_end", 0)
        the_night_changes_nothing(life, "the end")
        the_facts_alone_say_the_same(life)
        what_was_found_stands_as_it_is_flagged(life)
        each_date_was_told_once(life)
        transaction.set_rollback(True)


def standing(site):
    """Every open check and flag of a site."""
    checks = Check.objects.filter(site=site, settled_on__isnull=True).order_by("coupling", "kind")
    flags = Flag.objects.filter(site=site, cleared_at__isnull=True).order_by("coupling", "kind")
    return {
        "checks": list(checks.values("coupling__tag", "kind", "uuid", "version", "announced_for", *COLUMNS)),
        "flags": list(flags.values("coupling__tag", "kind", "uuid", "version", "evidence")),
        "events": Event.objects.filter(site=site).count(),
    }


def the_night_changes_nothing(life, name):
    before = standing(life.site)
    life.night()
    assert standing(life.site) == before, f"the night found something that {name} left undone"


def the_facts_alone_say_the_same(life):
    """All that was computed is lost, and computed again from the facts: for each coupling, and for the whole site."""
    site, before = life.site, facts_of(life.site)
    with transaction.atomic():
        open_ones = Check.objects.filter(site=site, settled_on__isnull=True)
        open_ones.update(
            opens_on=LOST, due_on=LOST, closes_on=LOST, winner="lost", runner_up="", runner_up_on=None,
            needs_stop=False, crew_hours=0, crew_size=1, numbers={},
        )  # fmt: skip
        Flag.objects.filter(site=site, kind__in=CLEAR_THEMSELVES, cleared_at__isnull=True).delete()
        with recording(by=None, at=life.now):
            recompute_site(site=site, today=life.today)
        assert facts_of(site) == before
        transaction.set_rollback(True)


def what_was_found_stands_as_it_is_flagged(life):
    """Asked again what signed visits found, flags are as they are: no visit has to come by to open or clear one."""
    before = facts_of(life.site)
    with transaction.atomic(), recording(by=None, at=life.now):
        for coupling in Coupling.objects.filter(site=life.site, retired_on__isnull=True).select_related("site"):
            flag_tolerance(coupling=coupling)
            flag_wear(coupling=coupling)
            flag_visits(coupling=coupling)
        assert facts_of(life.site) == before
        transaction.set_rollback(True)


def facts_of(site):
    checks = Check.objects.filter(site=site, settled_on__isnull=True).order_by("coupling", "kind")
    flags = Flag.objects.filter(site=site, cleared_at__isnull=True).order_by("coupling", "kind")
    return [
        list(checks.values("coupling__tag", "kind", *COLUMNS)),
        list(flags.values("coupling__tag", "kind", "evidence")),
    ]


def nothing_came_due_out_of_service(life, name, after):
    if name == "the_service":
        return  # within the act the train may have been in service at first
    resting = [one.uuid for one in life.couplings if Train.objects.get(pk=one.train_id).service != Train.Service.IN]
    said = Event.objects.filter(lane__in=resting, kind__in=("check.due", "check.overdue"), no__gt=after)
    assert not said.exists(), f"{name} told of a check that does not come due"


def each_date_was_told_once(life):
    """Of each check: due and overdue once per date, unless another date came between."""
    last = defaultdict(dict)
    for event in Event.objects.filter(site=life.site, kind__startswith="check.").order_by("no"):
        told = last[event.payload["check"]]
        if event.kind in ("check.rescheduled", "check.deferred"):
            told.clear()
        if event.kind in ("check.due", "check.overdue", "check.done", "check.cancelled"):
            assert told.get(event.kind) != event.payload["due_on"], f"{event.kind} told twice of {event.payload}"
            told[event.kind] = event.payload["due_on"]
