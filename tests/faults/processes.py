"""Real processes on a database of their own: started, killed with everything they started, started again."""

import json
import os
import signal
import subprocess
import sys
from pathlib import Path
from urllib.parse import urlsplit, urlunsplit

import psycopg
import pytest

ROOT = Path(__file__).parents[2]


def python(environment, *arguments, **more):
    done = subprocess.run(
        [sys.executable, *arguments], env=environment, cwd=ROOT, capture_output=True, text=True, check=False, **more
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


def scene(environment, *arguments):
    return python(environment, "-m", "tests.faults.scene", *arguments, timeout=300)


def counted(environment, what="count"):
    return json.loads(scene(environment, what).splitlines()[-1])


def postgresql():
    """The server that DATABASE_URL names; without one the test fails, it is not passed over."""
    url = os.environ.get("DATABASE_URL", "")
    if not url.startswith("postgres"):
        pytest.fail("DATABASE_URL must name a PostgreSQL server for this test; it makes a database of its own there.")
    return url


class database_beside:
    """An empty database on the same server, gone afterwards."""

    def __init__(self, url):
        self.parts = urlsplit(url)
        self.name = f"asleft_faults_{os.getpid()}"

    def run(self, statement):
        with psycopg.connect(urlunsplit(self.parts._replace(path="/postgres")), autocommit=True) as connection:
            connection.execute(statement)

    def __enter__(self):
        self.run(f'CREATE DATABASE "{self.name}"')
        return urlunsplit(self.parts._replace(path=f"/{self.name}"))

    def __exit__(self, *given):
        self.run(f'DROP DATABASE "{self.name}" WITH (FORCE)')


class Workers:
    """Processes that are killed with everything they started, and started again."""

    def __init__(self, command, environment, log, many):
        self.command, self.environment, self.log = command, environment, log.open("wb")
        self.running = [self.begin() for _ in range(many)]

    def begin(self):
        return subprocess.Popen(
            self.command, env=self.environment, cwd=ROOT, stdout=self.log, stderr=self.log, start_new_session=True
        )

    def kill(self, index):
        os.killpg(self.running[index].pid, signal.SIGKILL)
        self.running[index].wait()
        self.running[index] = self.begin()

    def end(self):
        for process in self.running:
            process.send_signal(signal.SIGTERM)
        codes = []
        for process in self.running:
            try:
                codes.append(process.wait(timeout=30))
            except subprocess.TimeoutExpired:
                os.killpg(process.pid, signal.SIGKILL)
                codes.append(process.wait())
        self.log.close()
        return codes
