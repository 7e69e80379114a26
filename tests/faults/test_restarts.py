"""The full set while Redis and PostgreSQL are killed and started again, with five beats instead of one."""

import json
import subprocess
import sys
import time

import pytest

from tests.faults.processes import ROOT, Workers, python
from tests.faults.receivers import UnrulyReceiver
from tests.faults.services import OwnPostgresql, OwnRedis
from tests.faults.telling import COUPLINGS

EVENTS, LANES, SITES, BEATS = 44, 5, 5, 5
WITHIN_S = 120
# Other kinds are due on some days of the week only.
EACH_DAY = {"nightly": SITES + 1, "standing": SITES + 1, "purge": 1}
AWAY_S = 1.5
CELERY = [sys.executable, "-m", "celery", "-A", "tests.faults.queue"]
QUEUE = ["--concurrency", "1", "--pool", "prefork", "--without-gossip", "--without-mingle", "-l", "WARNING"]

pytestmark = [pytest.mark.faults, pytest.mark.engine]


def telling(environment, *arguments):
    return python(environment, "-m", "tests.faults.telling", *arguments, timeout=300)


def arrived(receiver, more, within_s=30):
    until, before = time.monotonic() + within_s, len(receiver.arrived)
    while time.monotonic() < until and len(receiver.arrived) < before + more:
        time.sleep(0.02)
    return len(receiver.arrived) - before


def test_a_queue_and_a_database_that_are_killed_and_started_again_lose_and_double_nothing(
    site_environment, tmp_path, capsys
):
    with UnrulyReceiver(seed=20261012) as receiver, OwnRedis(tmp_path) as queue, OwnPostgresql() as database:
        environment = site_environment(
            ASLEFT_DEBUG="1", ASLEFT_WEBHOOK_HTTP="1", DATABASE_URL=database.url, CELERY_BROKER_URL=queue.url
        )
        telling(environment, "build", receiver.url, str(LANES), str(SITES))
        with (tmp_path / "told").open("wb") as log:
            command = [sys.executable, "-m", "tests.faults.telling", "tell", str(EVENTS)]
            writing = subprocess.Popen(command, env=environment, cwd=ROOT, stdout=log, stderr=log)
            workers = Workers([*CELERY, "worker", *QUEUE], environment, tmp_path / "log", many=2)
            beats = [
                Workers(
                    [*CELERY, "beat", "--pidfile=", "-s", str(tmp_path / f"schedule{number}")],
                    environment,
                    tmp_path / f"beat{number}",
                    many=1,
                )
                for number in range(BEATS)
            ]
            try:
                between = [arrived(receiver, 8)]
                for blow in (
                    lambda: queue.restart(AWAY_S),
                    lambda: database.restart(AWAY_S),
                    queue.empty,
                    lambda: database.restart(AWAY_S),
                ):
                    blow()
                    between.append(arrived(receiver, 8))
                until = time.monotonic() + WITHIN_S
                while time.monotonic() < until:
                    counts = json.loads(telling(environment, "count").splitlines()[-1])
                    if writing.poll() == 0 and not counts["unsent"] and not counts["not done"]:
                        break
                    time.sleep(0.5)
                living = [process.poll() for process in workers.running] + [one.running[0].poll() for one in beats]
            finally:
                writing.kill()
                workers.end()
                for one in beats:
                    one.end()
        said = receiver.judged(counts["events"])
    nights = counts["nights"]
    with capsys.disabled():
        print(  # noqa: T201
            f"\nRedis killed once and emptied once, PostgreSQL stopped at once twice, {BEATS} beats: occasions "
            f"{counts['occasions']}, checks, flags and events lost {sum(nights['lost'].values())}, doubled "
            f"{sum(nights['doubled'].values())}; {len(counts['events'])} events told, {said['arrived']} messages, lost "
            f"{said['lost']}, doubled {said['doubled']}, out of order {said['out of order']}; between "
            f"the blows arrived {between}"
        )
    assert living == [None] * (2 + BEATS), "a process ended; nobody started it again"
    assert receiver.wrong == []
    assert (said["lost"], said["doubled"], said["out of order"]) == (0, 0, 0), said
    assert min(between) > 0, "a blow fell when nothing was under way"
    assert counts["not done"] == {}
    # Each occasion once, whichever beat saw it: a night and a count of areas for every site, one clearing.
    assert {kind: counts["occasions"].get(kind) for kind in EACH_DAY} == EACH_DAY
    assert counts["twice"] == 0
    assert nights["couplings"] == SITES * COUPLINGS
    assert not any(nights["lost"].values()), nights
    assert not any(nights["doubled"].values()), nights
    assert nights["sites whose numbers are wrong"] == 0


def test_five_job_loops_at_once_see_each_occasion_once(site_environment, tmp_path, capsys):
    """The embedded set, on SQLite; there each loop ticks for itself."""
    with UnrulyReceiver(seed=1) as receiver:
        environment = site_environment(ASLEFT_DEBUG="1", ASLEFT_WEBHOOK_HTTP="1")
        telling(environment, "build", receiver.url, "1", str(SITES))
        loops = Workers([sys.executable, "-m", "tests.faults.telling", "work"], environment, tmp_path / "log", BEATS)
        try:
            until = time.monotonic() + WITHIN_S
            while time.monotonic() < until:
                counts = json.loads(telling(environment, "count").splitlines()[-1])
                if counts["occasions"] and not counts["not done"]:
                    break
                time.sleep(0.5)
        finally:
            codes = loops.end()
    nights = counts["nights"]
    with capsys.disabled():
        print(  # noqa: T201
            f"\n{BEATS} job loops at once: occasions {counts['occasions']}, lost {sum(nights['lost'].values())}, "
            f"doubled {sum(nights['doubled'].values())}"
        )
    assert codes == [0] * BEATS
    assert {kind: counts["occasions"].get(kind) for kind in EACH_DAY} == EACH_DAY
    assert counts["twice"] == 0
    assert not any(nights["lost"].values()), nights
    assert not any(nights["doubled"].values()), nights
