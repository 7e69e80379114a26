"""A plant in a database of its own, worked on by real processes that a test kills.

Run by the fault tests as `python -m tests.faults.scene <what>`, with the environment of the site they made:
`build <sites> <couplings>` makes a plant on which the night has something to do at every coupling, `work` is the job
loop, `count` prints what is there as JSON. `draft <visits>` makes one site with that many installations filled and
ready to sign and prints a token and their ETags, `signed` prints what became of them.

Leases are shortened, so that a killed worker's run is free again within the test; slices are small and rest a moment
before they commit, so that most kills fall into the middle of one. Nothing else differs from the site's own.
"""

import json
import os
import sys
import time
from collections import Counter
from datetime import timedelta
from typing import Any

import django

LEASE_S = 2
REST_S = 0.15
BEGUN, COMMITTED = "slice in hand", "slice committed"


def shorten() -> None:
    from django.db import transaction

    from inspections import tasks
    from inspections.services.checks import recompute_site
    from plant.jobs import claims

    def rested(**given: Any) -> int | None:
        after = recompute_site(**given)
        say(BEGUN)
        transaction.on_commit(lambda: say(COMMITTED))
        time.sleep(REST_S)
        return after

    tasks.recompute_site = rested

    claims.LEASE = timedelta(seconds=LEASE_S)
    # Killed often on purpose here: a run is given up for its own faults only.
    claims.ATTEMPTS = 30
    tasks.SLICE = 2


def say(what: str) -> None:
    # One write, so that lines of several processes in one file do not mix.
    os.write(2, f"{what}\n".encode())


def build(sites: int, couplings: int, *, zone: str = "UTC", runs: bool = True) -> None:
    """`runs`: the nights are written down at once; else the clock asks for them as it does everywhere."""
    from django.apps import apps
    from django.conf import settings
    from django.core.management import call_command
    from django.utils import timezone

    from inspections.services.policies import load_policies
    from plant.models import JobRun
    from plant.recording import recording
    from plant.sitetime import today_at
    from tests.factories import FitFactory, SheetVersionFactory, SiteFactory

    # As the tests do (--nomigrations): from the models, which is quicker.
    settings.MIGRATION_MODULES = {app.label: None for app in apps.get_app_configs()}
    call_command("migrate", interactive=False, verbosity=0, run_syncdb=True)
    now = timezone.now()
    for number in range(sites):
        site = SiteFactory(name=f"Plant {number:02d}", zone=zone)
        version = SheetVersionFactory(sheet__site=site)
        with recording(by=None, at=now):
            load_policies(site=site, kinds=("alignment", "torque"))
        for _ in range(couplings):
            # Fitted three years ago and never checked: due, overdue and flagged at the first night.
            FitFactory(
                coupling__train__site=site, sheet_version=version, fitted_on=now.date() - timedelta(days=3 * 365)
            )
        if runs:
            JobRun.objects.create(kind="nightly", scope=f"site:{site.pk}", for_date=today_at(site, now), not_before=now)


def count() -> dict[str, object]:
    from couplings.models import Coupling
    from inspections.models import Check, Flag
    from plant.models import Event, JobRun, SiteNumber

    events = Counter(Event.objects.values_list("lane", "kind"))
    checks = Counter(Check.objects.values_list("coupling_id", flat=True))
    flags = Counter(Flag.objects.values_list("coupling_id", flat=True))
    wanted = ["check.due", "check.overdue", "flag.opened"]
    lost: Counter[str] = Counter()
    doubled: Counter[str] = Counter()
    # Places where nothing was fitted have nothing that comes due.
    couplings = list(Coupling.objects.filter(fits__isnull=False).values_list("pk", "uuid"))
    for pk, lane in couplings:
        seen = {"checks": checks[pk], "flags": flags[pk]} | {kind: events[lane, kind] for kind in wanted}
        for what, times in seen.items():
            lost[what] += times < 1
            doubled[what] += max(0, times - 1)
    holes = 0
    for number in SiteNumber.objects.all():
        numbers = sorted(Event.objects.filter(site=number.site_id).values_list("no", flat=True))
        holes += len(numbers) != len(set(numbers)) or (numbers[-1:] > [number.last])
    runs = JobRun.objects.filter(kind="nightly")
    return {
        "couplings": len(couplings),
        "runs": dict(Counter(runs.values_list("state", flat=True))),
        "unfinished": runs.exclude(state__in=["done", "failed"]).count(),
        "lost": dict(lost),
        "doubled": dict(doubled),
        "other events": sum(times for (_, kind), times in events.items() if kind not in wanted),
        "sites whose numbers are wrong": holes,
    }


def draft(visits: int) -> dict[str, Any]:
    from django.utils import timezone

    from inspections.services.policies import load_policies
    from plant.recording import recording
    from plant.services.tokens import make_token
    from tests import factories
    from tests.inspections.visits import begin, fill_installation

    build(0, 0)
    site = factories.SiteFactory()
    mechanic = factories.PersonFactory(username="mia")
    factories.MembershipFactory(person=mechanic, site=site, role="mechanic")
    version = factories.SheetVersionFactory(sheet__site=site)
    wrench = factories.InstrumentFactory(site=site, kind="torque-set", name="Click wrench", serial="T-1")
    now = timezone.now()
    with recording(by=None, at=now):
        load_policies(site=site, kinds=("alignment", "torque"))
    etags = {}
    for _ in range(visits):
        fit = factories.FitFactory(coupling__train__site=site, sheet_version=version)
        order = factories.WorkOrderFactory(train=fit.coupling.train, isolated=True)
        visit = fill_installation(begin(fit, order, mechanic), mechanic, wrench)
        visit.refresh_from_db()
        etags[str(visit.uuid)] = f'"{visit.version}"'
    with recording(by=mechanic, at=now):
        _, secret = make_token(
            person=mechanic, name="phone", scopes=["read", "visit.fill", "visit.sign"], sites=[],
            expires_at=now + timedelta(days=1),
        )  # fmt: skip
    return {"secret": secret, "visits": etags}


def signed() -> dict[str, Any]:
    from inspections.models import Check, SignedRecord, Survey, Visit
    from plant.models import Event, IdempotencyKey, SiteNumber

    visits = list(Visit.objects.values_list("coupling_id", "coupling__uuid"))
    events = Counter(Event.objects.values_list("lane", "kind"))
    records = Counter(SignedRecord.objects.values_list("coupling_id", flat=True))
    surveys = Counter(Survey.objects.values_list("visit__coupling_id", flat=True))
    checks = Counter(Check.objects.values_list("coupling_id", flat=True))
    wanted = {"records": 1, "surveys": 1, "visit.signed": 1, "checks": 2}
    lost: Counter[str] = Counter()
    doubled: Counter[str] = Counter()
    for coupling, lane in visits:
        seen = {"records": records[coupling], "surveys": surveys[coupling], "checks": checks[coupling]}
        seen["visit.signed"] = events[lane, "visit.signed"]
        for what, times in wanted.items():
            lost[what] += max(0, times - seen[what])
            doubled[what] += max(0, seen[what] - times)
    numbers = sorted(Event.objects.values_list("no", flat=True))
    last = SiteNumber.objects.get().last
    return {
        "visits": dict(Counter(Visit.objects.values_list("state", flat=True))),
        "lost": dict(lost),
        "doubled": dict(doubled),
        "answers kept": IdempotencyKey.objects.filter(status=200).count(),
        "numbers in order": len(numbers) == len(set(numbers)) and numbers[-1:] <= [last],
    }


def main() -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "plant.settings")
    django.setup()
    shorten()
    what = sys.argv[1]
    if what == "build":
        build(int(sys.argv[2]), int(sys.argv[3]))
    elif what == "work":
        from django.core.management import call_command

        call_command("worker", pause=0.1)
    elif what == "count":
        sys.stdout.write(json.dumps(count()) + "\n")
    elif what == "draft":
        sys.stdout.write(json.dumps(draft(int(sys.argv[2]))) + "\n")
    elif what == "signed":
        sys.stdout.write(json.dumps(signed()) + "\n")
    else:
        raise SystemExit(f"{what}?")


if __name__ == "__main__":
    main()
