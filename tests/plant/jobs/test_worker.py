"""The job loop of an installation without a queue, and the tasks of one with it: both call the same two functions."""

import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from django.core.management import call_command
from django.db import OperationalError

from plant import jobs, tasks
from plant.management.commands import worker

ROOT = Path(__file__).parents[3]


@pytest.fixture
def _signals_put_back():
    before = {one: signal.getsignal(one) for one in (signal.SIGTERM, signal.SIGINT)}
    yield
    for one, handler in before.items():
        signal.signal(one, handler)


@pytest.mark.usefixtures("_signals_put_back")
def test_the_loop_waits_for_a_database_that_is_away_and_goes_on(monkeypatch):
    calls, waits = [], []

    def work(now, **given):
        calls.append("work")
        if len(calls) < 4:
            raise OperationalError("the database system is starting up")
        signal.raise_signal(signal.SIGTERM)
        return 0

    monkeypatch.setattr(jobs, "tick", lambda now: 0)
    monkeypatch.setattr(jobs, "work", work)
    monkeypatch.setattr(worker, "close_old_connections", lambda: None)
    monkeypatch.setattr(worker.connection, "close", lambda: None)
    monkeypatch.setattr(worker.Command, "rest", lambda self, seconds: waits.append(seconds))
    call_command("worker", pause=1.0)
    assert len(calls) == 4
    assert waits == [2.0, 4.0, 8.0, 1.0]


@pytest.mark.usefixtures("_signals_put_back")
def test_the_loop_looks_again_at_once_while_there_is_work(monkeypatch):
    waits, left = [], [2, 1, 0]

    def work(now, **given):
        if len(left) == 1:
            signal.raise_signal(signal.SIGTERM)
        return left.pop(0)

    monkeypatch.setattr(jobs, "tick", lambda now: 0)
    monkeypatch.setattr(jobs, "work", work)
    monkeypatch.setattr(worker, "close_old_connections", lambda: None)
    monkeypatch.setattr(worker.Command, "rest", lambda self, seconds: waits.append(seconds))
    call_command("worker", pause=1.0)
    assert waits == [0.0, 0.0, 1.0]


def test_the_loop_does_what_is_due_and_ends_cleanly_when_asked(site_environment, tmp_path):
    environment = site_environment(ASLEFT_DEBUG="1")
    manage = [sys.executable, str(ROOT / "manage.py")]
    scene = [sys.executable, "-m", "tests.faults.scene", "build", "1", "2"]
    subprocess.run(scene, env=environment, cwd=ROOT, check=True)
    log = tmp_path / "log"
    with log.open("wb") as out:
        process = subprocess.Popen([*manage, "worker"], env=environment, stdout=out, stderr=out)
        try:
            until = time.monotonic() + 60
            while (
                not all(f"kind={kind}" in log.read_text() for kind in ("purge", "nightly")) and time.monotonic() < until
            ):
                assert process.poll() is None, log.read_text()
                time.sleep(0.1)
            process.send_signal(signal.SIGTERM)
            assert process.wait(timeout=20) == 0
        finally:
            process.kill()
            process.wait()
    assert "kind=purge" in log.read_text()
    assert "kind=nightly" in log.read_text()
    assert "job loop ends" in log.read_text()


def test_the_queue_calls_the_same_two_functions_and_sends_for_more_while_there_is_work(monkeypatch):
    called, sent = [], []
    monkeypatch.setattr(jobs, "tick", lambda now: called.append("tick"))
    monkeypatch.setattr(jobs, "work", lambda now: called.append("work") or len(called) < 3)
    monkeypatch.setattr(tasks.work, "apply_async", lambda **given: sent.append(given))
    tasks.tick()
    tasks.work()
    tasks.work()
    assert called == ["tick", "work", "work"]
    assert sent == [{"expires": 55}, {"expires": 55}]


def test_the_queue_only_wakes_us():
    settings = tasks.work.app.conf
    assert set(settings.beat_schedule) == {"tick"}
    tick = settings.beat_schedule["tick"]
    assert tick["task"] == tasks.tick.name
    assert tick["options"]["expires"] < tick["schedule"]
    assert settings.worker_prefetch_multiplier == 1
    assert settings.task_acks_late is True
    assert settings.task_ignore_result is True
    assert not settings.result_backend
