"""kill -9 of job loops and queue workers at random points of 40 runs: nothing lost, nothing doubled."""

import os
import random
import sys
import time

import pytest

from tests.faults.processes import Workers, counted, database_beside, postgresql, python, scene
from tests.faults.scene import BEGUN, COMMITTED

SITES, COUPLINGS = 40, 4
KILLS = 12
WITHIN_S = 180

pytestmark = pytest.mark.faults


@pytest.fixture(params=["sqlite", pytest.param("postgresql", marks=pytest.mark.engine)])
def plant(request, site_environment):
    """A plant with 40 runs waiting: on SQLite, and on PostgreSQL where DATABASE_URL names a server."""
    changes = {"ASLEFT_DEBUG": "1"}
    if request.param == "sqlite":
        environment = site_environment(**changes)
        scene(environment, "build", str(SITES), str(COUPLINGS))
        yield environment
        return
    with database_beside(postgresql()) as own:
        environment = site_environment(DATABASE_URL=own, **changes)
        scene(environment, "build", str(SITES), str(COUPLINGS))
        yield environment


def killing(workers, environment, log, *, seed, nudge=lambda: None):
    """Kill one at chance moments (seeded) while work is in hand, then let them finish; the counts afterwards."""
    chance = random.Random(seed)
    for _ in range(KILLS):
        slices = begun(log) + chance.randrange(1, 6)
        until = time.monotonic() + 30
        while begun(log) < slices and time.monotonic() < until:
            time.sleep(0.02)
        time.sleep(chance.uniform(0, 0.3))
        workers.kill(chance.randrange(len(workers.running)))
        nudge()
    until = time.monotonic() + WITHIN_S
    while (now := counted(environment))["unfinished"] and time.monotonic() < until:
        nudge()
        time.sleep(1)
    return now


def begun(log):
    return log.read_text(errors="replace").count(BEGUN)


def assert_nothing_lost_or_doubled(counts, log, capsys, what):
    said = log.read_text(errors="replace")
    interrupted = said.count(BEGUN) - said.count(COMMITTED)
    with capsys.disabled():
        lost, doubled = sum(counts["lost"].values()), sum(counts["doubled"].values())
        print(  # noqa: T201
            f"\n{what}: {KILLS} kills, {interrupted} in the middle of a slice, runs {counts['runs']}, "
            f"lost {lost}, doubled {doubled}"
        )
    assert interrupted >= 3, "too few kills met work in hand to say anything"
    assert counts["runs"] == {"done": SITES}
    assert counts["couplings"] == SITES * COUPLINGS
    assert set(counts["lost"]) == {"checks", "flags", "check.due", "check.overdue", "flag.opened"}
    assert not any(counts["lost"].values()), counts
    assert not any(counts["doubled"].values()), counts
    assert counts["other events"] == 0
    assert counts["sites whose numbers are wrong"] == 0


def test_job_loops_killed_at_random_lose_and_double_nothing(plant, tmp_path, capsys):
    before = counted(plant)
    assert before["unfinished"] == SITES
    assert before["lost"]["checks"] == SITES * COUPLINGS
    workers = Workers([sys.executable, "-m", "tests.faults.scene", "work"], plant, tmp_path / "log", many=2)
    try:
        counts = killing(workers, plant, tmp_path / "log", seed=20261012)
    finally:
        codes = workers.end()
    assert_nothing_lost_or_doubled(counts, tmp_path / "log", capsys, "job loops")
    assert codes == [0, 0]


@pytest.mark.engine
@pytest.mark.parametrize("plant", ["postgresql"], indirect=True)
def test_queue_workers_killed_at_random_lose_and_double_nothing(plant, tmp_path, capsys):
    broker = os.environ.get("CELERY_BROKER_URL")
    if not broker:
        pytest.fail("CELERY_BROKER_URL must name a Redis database for this test, which it empties.")
    environment = plant | {"CELERY_BROKER_URL": broker}
    empty = "import redis, sys; redis.Redis.from_url(sys.argv[1]).flushdb()"
    python(environment, "-c", empty, broker)
    send = "from plant.celery import app; app.send_task('plant.work', expires=55)"

    def nudge():
        python(environment, "-c", send)

    command = [sys.executable, "-m", "celery", "-A", "tests.faults.queue", "worker"]
    command += ["--concurrency", "1", "--pool", "prefork", "--without-gossip", "--without-mingle", "-l", "WARNING"]
    workers = Workers(command, environment, tmp_path / "log", many=2)
    try:
        nudge()
        counts = killing(workers, environment, tmp_path / "log", seed=20261012, nudge=nudge)
    finally:
        workers.end()
        python(environment, "-c", empty, broker)
    assert_nothing_lost_or_doubled(counts, tmp_path / "log", capsys, "queue workers")


@pytest.mark.engine
def test_a_job_loop_waits_for_a_database_that_is_away_and_goes_on_by_itself(away, tmp_path, capsys):
    environment, shut, opened = away
    log = tmp_path / "log"
    workers = Workers([sys.executable, "-m", "tests.faults.scene", "work"], environment, log, many=1)
    process = workers.running[0]
    try:
        for _ in range(2):
            slices = begun(log) + 3
            until = time.monotonic() + 30
            while begun(log) < slices and time.monotonic() < until:
                time.sleep(0.02)
            shut()
            time.sleep(2)
            assert process.poll() is None, log.read_text(errors="replace")[-2000:]
            opened()
        until = time.monotonic() + WITHIN_S
        while (counts := counted(environment))["unfinished"] and time.monotonic() < until:
            time.sleep(1)
    finally:
        codes = workers.end()
    said = log.read_text(errors="replace")
    assert "the database does not answer; waiting" in said
    with capsys.disabled():
        print(f"\ndatabase away twice: runs {counts['runs']}, lost {counts['lost']}, doubled {counts['doubled']}")  # noqa: T201
    assert counts["runs"] == {"done": SITES}
    assert not any(counts["lost"].values())
    assert not any(counts["doubled"].values())
    # The same process all the time: nobody had to start it again.
    assert codes == [0]


@pytest.fixture
def away(site_environment):
    """A plant whose database can be shut and opened: every connection is cut, and no new one is let in."""
    beside = database_beside(postgresql())
    with beside as own:

        def shut():
            beside.run(f'ALTER DATABASE "{beside.name}" WITH ALLOW_CONNECTIONS false')
            beside.run(f"SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = '{beside.name}'")

        def opened():
            beside.run(f'ALTER DATABASE "{beside.name}" WITH ALLOW_CONNECTIONS true')

        environment = site_environment(DATABASE_URL=own, ASLEFT_DEBUG="1")
        scene(environment, "build", str(SITES), str(COUPLINGS))
        yield environment, shut, opened
