"""A Redis and a PostgreSQL server of a test's own, which it may restart, kill and empty."""

import os
import pwd
import shutil
import socket
import subprocess
import tempfile
import time
from pathlib import Path

import psycopg
import pytest
import redis


def free_port():
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


class OwnRedis:
    """Keeps every write at once, as docker-compose.yml has it."""

    def __init__(self, folder):
        self.port, self.folder, self.process = free_port(), folder, None
        self.url = f"redis://127.0.0.1:{self.port}/0"

    def __enter__(self):
        if shutil.which("redis-server") is None:
            pytest.fail("This test starts a Redis of its own: redis-server must be installed.")
        self.begin()
        return self

    def __exit__(self, *given):
        self.process.kill()
        self.process.wait()

    def begin(self):
        self.process = subprocess.Popen(
            ["redis-server", "--port", str(self.port), "--bind", "127.0.0.1", "--dir", str(self.folder), "--save", "",
             "--appendonly", "yes", "--appendfsync", "always", "--maxmemory-policy", "noeviction"],
            stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        )  # fmt: skip
        until = time.monotonic() + 20
        while True:
            try:
                redis.Redis.from_url(self.url).ping()
                return
            except redis.exceptions.ConnectionError:
                assert time.monotonic() < until, "redis-server does not answer"
                time.sleep(0.05)

    def restart(self, away_s):
        """Killed, away for a while, started again on what it had written."""
        self.process.kill()
        self.process.wait()
        time.sleep(away_s)
        self.begin()

    def empty(self):
        redis.Redis.from_url(self.url).flushall()


class OwnPostgresql:
    """A cluster in a folder of its own; as root it belongs to the user postgres, since PostgreSQL refuses root."""

    def __init__(self):
        self.port, self.name = free_port(), "asleft_faults"
        self.user = "postgres" if os.geteuid() == 0 else None
        self.folder = Path(tempfile.mkdtemp(prefix="asleft-pg-"))
        self.url = f"postgres://postgres@127.0.0.1:{self.port}/{self.name}"

    def program(self, name):
        found = sorted(Path("/usr/lib/postgresql").glob(f"*/bin/{name}"), key=lambda path: int(path.parts[4]))
        where = str(found[-1]) if found else shutil.which(name)
        if where is None:
            pytest.fail(f"This test starts a PostgreSQL of its own: {name} must be installed.")
        return where

    def run(self, name, *arguments):
        done = subprocess.run(
            [self.program(name), *arguments], user=self.user, cwd=self.folder, capture_output=True, text=True,
            check=False, timeout=60,
        )  # fmt: skip
        assert done.returncode == 0, done.stderr + done.stdout

    def __enter__(self):
        if self.user is not None:
            postgres = pwd.getpwnam("postgres")
            os.chown(self.folder, postgres.pw_uid, postgres.pw_gid)
        cluster = str(self.folder / "cluster")
        self.run("initdb", "-D", cluster, "-A", "trust", "-U", "postgres", "--no-sync", "-E", "UTF8")
        self.control("start")
        with psycopg.connect(self.url.replace(f"/{self.name}", "/postgres"), autocommit=True) as connection:
            connection.execute(f"CREATE DATABASE {self.name}")
        return self

    def __exit__(self, *given):
        self.control("stop")
        shutil.rmtree(self.folder, ignore_errors=True)

    def control(self, act):
        # At once: what was not committed is gone, and the next start recovers from the log, as after a power cut.
        mode = ["-m", "immediate"] if act != "start" else []
        self.run(
            "pg_ctl", "-D", str(self.folder / "cluster"), "-w", "-l", str(self.folder / "log"), *mode, "-o",
            f"-p {self.port} -k {self.folder} -c listen_addresses=127.0.0.1", act,
        )  # fmt: skip

    def restart(self, away_s):
        """Stopped at once, away for a while, started again."""
        self.control("stop")
        time.sleep(away_s)
        self.control("start")
