"""Children of `start`, tried with real processes that do nothing but live or die."""

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from plant.supervision import AlreadyRunning, take_lock

PARENT = """
import os, pathlib, signal, sys
from plant.supervision import Child, GaveUp, Supervisor, take_lock

signal.signal(signal.SIGHUP, signal.SIG_DFL)  # whoever runs the tests may ignore it, and a child inherits that
folder, *programs = sys.argv[1:]
lock = take_lock(pathlib.Path(folder))
children = [Child(f"child {number}", [sys.executable, "-c", program]) for number, program in enumerate(programs)]
say = lambda sentence: print(sentence, flush=True)
supervisor = Supervisor(children, lock=lock, environment=os.environ, say=say, stop_within_s=2)
try:
    supervisor.run()
except GaveUp as sentence:
    say(f"gave up: {sentence}")
say("left: " + ", ".join(str(child.process.poll()) for child in children if child.process))
"""
# Each child writes its number first, so that a test can look for it afterwards.
LIVES = "import os, pathlib, sys, time; pathlib.Path({file!r}).write_text(str(os.getpid())); time.sleep(120)"
STUBBORN = "import signal; signal.signal(signal.SIGTERM, signal.SIG_IGN); " + LIVES
DIES = "import pathlib; pathlib.Path({file!r}).open('a').write('x'); raise SystemExit(7)"


def eventually(question, within_s=20.0):
    """Ask until the answer is yes."""
    until = time.monotonic() + within_s
    while time.monotonic() < until:
        if answer := question():
            return answer
        time.sleep(0.05)
    raise AssertionError("waited in vain")


def alive(number):
    """Whether a process still runs; one that only waits to be collected does not."""
    try:
        state = Path(f"/proc/{number}/stat").read_text().rpartition(")")[2].split()[0]
    except FileNotFoundError:
        return False
    return state != "Z"


def number_in(file):
    return int(file.read_text()) if file.exists() and file.read_text() else 0


@pytest.fixture
def parent(tmp_path):
    """Start a parent over the given programs; it is ended with whatever the test left of it."""
    started = []

    def start(*programs):
        process = subprocess.Popen(
            [sys.executable, "-c", PARENT, str(tmp_path), *programs],
            env=os.environ | {"PYTHONPATH": str(Path(__file__).parents[2])},
            stdout=subprocess.PIPE,
            text=True,
        )
        started.append(process)
        return process

    yield start
    for process in started:
        process.kill()
        process.communicate()


@pytest.mark.parametrize("sent", [signal.SIGINT, signal.SIGTERM, signal.SIGHUP])
def test_signal_to_the_parent_ends_every_child(parent, tmp_path, sent):
    files = [tmp_path / "one", tmp_path / "two"]
    process = parent(*(LIVES.format(file=str(file)) for file in files))
    numbers = [eventually(lambda file=file: number_in(file)) for file in files]
    process.send_signal(sent)
    said, _ = process.communicate(timeout=30)
    assert process.returncode == 0
    assert said.splitlines() == ["left: -15, -15"]
    assert not any(alive(number) for number in numbers)


def test_child_that_does_not_listen_is_killed(parent, tmp_path):
    file = tmp_path / "one"
    process = parent(STUBBORN.format(file=str(file)))
    number = eventually(lambda: number_in(file))
    process.terminate()
    said, _ = process.communicate(timeout=40)
    assert said.splitlines() == ["left: -9"]
    assert not alive(number)


def test_dead_child_is_started_again_three_times_and_then_everything_stops(parent, tmp_path):
    lives, dies = tmp_path / "lives", tmp_path / "dies"
    process = parent(LIVES.format(file=str(lives)), DIES.format(file=str(dies)))
    number = eventually(lambda: number_in(lives))
    said, _ = process.communicate(timeout=40)
    again = "The child 1 ended with code 7; it is started again."
    assert said.splitlines() == [
        *[again] * 3,
        "gave up: The child 1 ended 4 times and is not started again.",
        "left: -15, 7",
    ]
    assert dies.read_text() == "xxxx"
    assert not alive(number)


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="only Linux tells a child of its parent's death")
def test_killed_parent_leaves_no_child_and_frees_the_lock(parent, tmp_path):
    file = tmp_path / "one"
    process = parent(LIVES.format(file=str(file)))
    number = eventually(lambda: number_in(file))
    process.kill()
    process.wait()
    eventually(lambda: not alive(number))
    os.close(take_lock(tmp_path))


def test_lock_is_refused_while_the_parent_lives(parent, tmp_path):
    file = tmp_path / "one"
    parent(LIVES.format(file=str(file)))
    eventually(lambda: number_in(file))
    with pytest.raises(AlreadyRunning):
        take_lock(tmp_path)


def test_child_keeps_the_lock_of_a_parent_that_closed_it(tmp_path):
    lock = take_lock(tmp_path)
    child = subprocess.Popen([sys.executable, "-c", "input()"], stdin=subprocess.PIPE, pass_fds=[lock])
    os.close(lock)
    with pytest.raises(AlreadyRunning):
        take_lock(tmp_path)
    child.communicate(b"\n")
    os.close(take_lock(tmp_path))
