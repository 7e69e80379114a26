"""`manage.py start` as a real process on a data folder of its own, with nothing else to serve it."""

import contextlib
import json
import os
import signal
import socket
import stat
import subprocess
import sys
import time
import urllib.request
from pathlib import Path

import pytest
from django.conf import settings
from django.core.management import call_command
from django.core.management.base import CommandError

MANAGE = str(Path(settings.BASE_DIR) / "manage.py")


def free_port():
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


def processes_on(folder):
    """Find the processes whose environment names this data folder: [number]."""
    found = []
    for entry in Path("/proc").glob("[0-9]*"):
        # Processes come and go while one looks.
        with contextlib.suppress(OSError):
            if f"ASLEFT_DATA={folder}".encode() in (entry / "environ").read_bytes().split(b"\0"):
                found.append(int(entry.name))
    return found


def get(port, path):
    opener = urllib.request.build_opener(urllib.request.ProxyHandler({}))
    with opener.open(f"http://127.0.0.1:{port}{path}", timeout=10) as answer:
        return json.load(answer)


def gone(folder, within_s=20.0):
    until = time.monotonic() + within_s
    while time.monotonic() < until and processes_on(folder):
        time.sleep(0.1)
    return processes_on(folder) == []


@pytest.fixture
def folder(tmp_path):
    return tmp_path / "site"


@pytest.fixture
def start(site_environment, folder):
    """Start the site and wait until it says that it is ready; whatever is left of it is ended after the test."""

    begun = []

    def begin(*options):
        process = subprocess.Popen(
            [sys.executable, "-u", MANAGE, "start", *options],
            env=site_environment(),
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
        )
        begun.append(process)
        said = []
        for line in process.stdout:
            said.append(line)
            if line.startswith("Asleft is ready at "):
                return process, said
        raise AssertionError("".join(said))

    yield begin
    for number in processes_on(folder):
        with contextlib.suppress(ProcessLookupError):
            os.kill(number, signal.SIGKILL)
    for process in begun:
        process.kill()
        process.wait()
        process.stdout.close()


def refused(environment, *options):
    answer = subprocess.run(
        [sys.executable, MANAGE, "start", *options],
        env=environment,
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert answer.returncode == 1, answer.stdout
    return answer.stderr


def test_site_starts_on_an_empty_folder_serves_and_leaves_no_process(start, folder, site_environment):
    port = free_port()
    process, _ = start("--port", str(port))

    assert get(port, "/livez") == {"state": "alive"}
    assert get(port, "/readyz") == {"state": "ready", "database": "ready"}
    assert stat.S_IMODE(folder.stat().st_mode) == 0o700
    for name in ("secret_key", "asleft.sqlite3", "lock"):
        assert stat.S_IMODE((folder / name).stat().st_mode) == 0o600
    # start itself, the job loop, and the web server with its workers
    assert len(processes_on(folder)) >= 4

    second = refused(site_environment(), "--port", str(free_port()))
    assert f"Asleft already runs on {folder}: stop it first" in second

    # Killed without a chance to say goodbye: its children go with it, and the same folder starts again.
    process.kill()
    process.wait()
    assert gone(folder)
    process, said = start("--port", str(port))
    assert get(port, "/readyz")["state"] == "ready"

    process.send_signal(signal.SIGINT)
    rest, _ = process.communicate(timeout=40)
    assert process.returncode == 0
    assert rest.rstrip().endswith("Asleft has stopped.")
    assert "is started again" not in "".join([*said, rest])
    assert processes_on(folder) == []


@pytest.mark.parametrize("bind", ["0.0.0.0", "192.0.2.7", "::"])
def test_demo_refuses_a_public_address(bind):
    with pytest.raises(CommandError, match=rf"stays on this machine: leave --bind {bind} out\."):
        call_command("start", "--demo", "--bind", bind)


def test_demo_refuses_a_site_with_a_public_name(settings):
    settings.HOSTS = ["plant.example"]
    with pytest.raises(CommandError, match=r"leave ASLEFT_HOSTS \(plant\.example\) out\."):
        call_command("start", "--demo")


@pytest.mark.parametrize("bind", ["plant.example", "127.0.0.1:8000", ""])
def test_bind_that_is_no_address_is_refused(bind):
    with pytest.raises(CommandError, match=rf"--bind {bind} is no address: write 127\.0\.0\.1 "):
        call_command("start", "--bind", bind)


def test_taken_port_is_said_before_anything_is_set_up(site_environment, folder):
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        sentence = refused(site_environment(), "--port", str(port))
    assert f"Port {port} on 127.0.0.1 cannot be used" in sentence
    assert not (folder / "asleft.sqlite3").exists()


def test_port_out_of_range_is_refused():
    with pytest.raises(CommandError, match="--port 70000 is no port"):
        call_command("start", "--port", "70000")


def test_start_leaves_a_site_with_a_queue_to_its_services(settings):
    settings.CELERY_BROKER_URL = "redis://localhost:6379/0"
    with pytest.raises(CommandError, match="so web, worker and beat run as separate services"):
        call_command("start")
