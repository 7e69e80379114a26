"""Events reach an unruly receiver: none lost, none under two names, none out of its lane's order, whoever is killed."""

import json
import os
import random
import subprocess
import sys
import time

import pytest

from tests.faults.processes import ROOT, Workers, database_beside, postgresql, python
from tests.faults.receivers import UnrulyReceiver
from tests.faults.telling import LEASE_S

EVENTS, LANES, KILLS = 80, 5, 4
WITHIN_S = 90
QUEUE = ["--concurrency", "1", "--pool", "prefork", "--without-gossip", "--without-mingle", "-l", "WARNING"]

pytestmark = pytest.mark.faults


def telling(environment, *arguments):
    return python(environment, "-m", "tests.faults.telling", *arguments, timeout=300)


def counted(environment):
    return json.loads(telling(environment, "count").splitlines()[-1])


def beginning_to_tell(environment, log):
    command = [sys.executable, "-m", "tests.faults.telling", "tell", str(EVENTS)]
    return subprocess.Popen(command, env=environment, cwd=ROOT, stdout=log, stderr=log)


def killing(workers, receiver, teller, *, seed):
    """Kill a sender while the receiver has its message in hand; how many kills met one."""
    chance, met = random.Random(seed), 0
    for _ in range(KILLS):
        before, until = len(receiver.arrived), time.monotonic() + 30
        while time.monotonic() < until and len(receiver.arrived) < before + chance.randrange(3, 12):
            time.sleep(0.01)
        while time.monotonic() < until and not receiver.in_hand:
            time.sleep(0.001)
        met += receiver.in_hand > 0
        workers.kill(chance.randrange(len(workers.running)))
    assert teller.wait(timeout=WITHIN_S) == 0
    return met


def settled(environment):
    """Wait until nothing is on its way any more."""
    until = time.monotonic() + WITHIN_S
    while (now := counted(environment))["unsent"] and time.monotonic() < until:
        time.sleep(0.5)
    return now


def assert_told(receiver, counts, capsys, what):
    said = receiver.judged(counts["events"])
    with capsys.disabled():
        print(  # noqa: T201
            f"\n{what}: {len(counts['events'])} events in {LANES} lanes, {said['arrived']} messages arrived "
            f"({said['ways']}), lost {said['lost']}, doubled {said['doubled']}, out of order {said['out of order']}, "
            f"repeated under the same id {said['repeated under the same id']}"
        )
    assert receiver.wrong == []
    assert len(counts["events"]) >= EVENTS
    assert counts["deliveries"] == {"sent": len(counts["events"])}
    assert (said["lost"], said["doubled"], said["out of order"]) == (0, 0, 0), said
    assert {"drop", "cut", "slow", "500"} <= set(said["ways"]), "the receiver was too tame to say anything"
    assert said["repeated under the same id"] >= 1, "nothing was cut off, so nothing was tried"


@pytest.fixture(params=["sqlite"])
def teller(request, site_environment):
    """The environment of a site that tells an unruly receiver, and the receiver."""
    changes = {"ASLEFT_DEBUG": "1", "ASLEFT_WEBHOOK_HTTP": "1"}
    with UnrulyReceiver(seed=20261012) as receiver:
        if request.param == "sqlite":
            environment = site_environment(**changes)
            telling(environment, "build", receiver.url, str(LANES), "0")
            yield environment, receiver
            return
        with database_beside(postgresql()) as own:
            environment = site_environment(DATABASE_URL=own, **changes)
            telling(environment, "build", receiver.url, str(LANES), "0")
            yield environment, receiver


def test_job_loops_killed_while_they_tell_lose_and_double_nothing_and_keep_the_order(teller, tmp_path, capsys):
    environment, receiver = teller
    with (tmp_path / "told").open("wb") as log:
        writing = beginning_to_tell(environment, log)
        command = [sys.executable, "-m", "tests.faults.telling", "work"]
        workers = Workers(command, environment, tmp_path / "log", many=2)
        try:
            met = killing(workers, receiver, writing, seed=20261012)
            counts = settled(environment)
        finally:
            codes = workers.end()
            writing.kill()
    assert_told(receiver, counts, capsys, f"job loops, {KILLS} kills, {met} of them with a message in hand")
    assert met >= 3, "too few kills met a message to say anything"
    assert codes == [0, 0]


@pytest.mark.engine
@pytest.mark.parametrize("teller", ["postgresql"], indirect=True)
def test_queue_workers_killed_while_they_tell_lose_and_double_nothing_and_keep_the_order(teller, tmp_path, capsys):
    broker = os.environ.get("CELERY_BROKER_URL")
    if not broker:
        pytest.fail("CELERY_BROKER_URL must name a Redis database for this test, which it empties.")
    environment, receiver = teller
    environment = environment | {"CELERY_BROKER_URL": broker}
    empty = "import redis, sys; redis.Redis.from_url(sys.argv[1]).flushdb()"
    python(environment, "-c", empty, broker)
    celery = [sys.executable, "-m", "celery", "-A", "tests.faults.queue"]
    with (tmp_path / "told").open("wb") as log:
        writing = beginning_to_tell(environment, log)
        workers = Workers([*celery, "worker", *QUEUE], environment, tmp_path / "log", many=2)
        beat = Workers(
            [*celery, "beat", "--pidfile=", "-s", str(tmp_path / "schedule")], environment, tmp_path / "beat", many=1
        )
        try:
            met = killing(workers, receiver, writing, seed=20261012)
            counts = settled(environment)
        finally:
            workers.end()
            beat.end()
            writing.kill()
            python(environment, "-c", empty, broker)
    assert_told(receiver, counts, capsys, f"queue workers, {KILLS} kills, {met} of them with a message in hand")
    assert met >= 3, "too few kills met a message to say anything"


def test_a_lease_is_longer_than_a_sender_may_take():
    """Else two senders could tell one lane at a time; the same holds of the shortened ones here."""
    from plant.messages.deliver import LEASE
    from plant.messages.send import ANSWER_S, CONNECT_S
    from tests.faults.telling import ANSWER_S as SHORT

    assert LEASE.total_seconds() > 2 * (CONNECT_S + ANSWER_S)
    assert LEASE_S > 1.5 * (SHORT + SHORT)
