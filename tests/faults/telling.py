"""A site whose events go to one address, told by real processes that a test kills.

Run by the fault tests as `python -m tests.faults.telling <what>`, with the environment of the site they made:
`build <url> <lanes> <sites>` makes the site, its couplings and the webhook, and other sites on whose night something is
due at every coupling, `tell <events>` writes events as the work does, a few
at a time, `work` is the job loop, `count` prints what is there as JSON.

Leases, rests and patience are shortened alike, so that a killed sender's message is free again within the test.
"""

import json
import os
import random
import sys
import time
from datetime import timedelta
from typing import Any

import django

from tests.faults import scene

LEASE_S, ANSWER_S = 4.0, 1.0
COUPLINGS = 3  # of each site on whose night something is due
SECRET = "whsec_" + "eA" * 21 + "eA=="


def shorten() -> None:
    from plant.messages import deliver, send

    deliver.LEASE = timedelta(seconds=LEASE_S)
    deliver.RESTS = [timedelta(seconds=s) for s in (0.1, 0.2, 0.3, 0.5)]
    send.CONNECT_S = send.ANSWER_S = ANSWER_S


def build(url: str, lanes: int, sites: int) -> None:
    from django.utils import timezone

    from plant.models import AllowedHost, Webhook
    from tests import factories

    # A zone in which it is about noon, so that the night of today is over whenever this runs.
    ahead = 12 - timezone.now().hour
    zone = f"Etc/GMT{-ahead:+d}" if ahead else "UTC"
    scene.build(sites, COUPLINGS, zone=zone, runs=False)
    site = factories.SiteFactory(name="Plant that tells", zone=zone)
    for _ in range(lanes):
        factories.CouplingFactory(train__site=site)
    AllowedHost.objects.create(site=site, host="127.0.0.1", reason="a receiver beside it")
    Webhook.objects.create(site=site, name="Orders", url=url, secret=SECRET)


def tell(events: int) -> None:
    """One to three events at a time, of one coupling or several; what the database refuses is said once more."""
    from django.db import InterfaceError, OperationalError, connection
    from django.utils import timezone

    from couplings.models import Coupling
    from plant.models import Event, Site
    from plant.recording import recording, told

    chance = random.Random(20261012)
    site = Site.objects.get(name="Plant that tells")
    couplings = list(Coupling.objects.filter(site=site).order_by("pk"))
    while Event.objects.filter(site=site, kind="check.due").count() < events:
        lanes = [chance.choice(couplings) for _ in range(chance.randrange(1, 4))]
        try:
            with recording(by=None, at=timezone.now()):
                for coupling in lanes:
                    told("check.due", coupling, {"check": "invented"})
        except (OperationalError, InterfaceError):
            connection.close()
            time.sleep(0.2)
        time.sleep(chance.uniform(0, 0.05))


def count() -> dict[str, Any]:
    from collections import Counter

    from plant.models import Delivery, Event, JobRun, Site

    site = Site.objects.get(name="Plant that tells")
    told = Event.objects.filter(site=site)
    runs = JobRun.objects.values_list("kind", "scope", "for_date")
    return {
        "events": {f"{site.uuid.hex}_{no}": str(lane) for no, lane in told.values_list("no", "lane")},
        "deliveries": dict(Counter(Delivery.objects.values_list("state", flat=True))),
        "unsent": Delivery.objects.exclude(state="sent").count() + told.filter(deliveries__isnull=True).count(),
        "occasions": dict(Counter(kind for kind, _scope, _for_date in runs)),
        "twice": len(runs) - len(set(runs)),
        "not done": dict(Counter(JobRun.objects.exclude(state="done").values_list("state", flat=True))),
        "nights": scene.count(),
    }


def main() -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "plant.settings")
    django.setup()
    scene.shorten()
    shorten()
    what = sys.argv[1]
    if what == "build":
        build(sys.argv[2], int(sys.argv[3]), int(sys.argv[4]))
    elif what == "tell":
        tell(int(sys.argv[2]))
    elif what == "work":
        from django.core.management import call_command

        call_command("worker", pause=0.1)
    elif what == "count":
        sys.stdout.write(json.dumps(count()) + "\n")
    else:
        raise SystemExit(f"{what}?")


if __name__ == "__main__":
    main()
