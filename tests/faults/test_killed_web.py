"""kill -9 of the web server while 40 visits are signed: each is signed once, whatever the senders saw."""

import http.client
import json
import random
import socket
import sys
import threading
import time
import urllib.error
import urllib.request

import pytest

from tests.faults.processes import ROOT, Workers, counted, database_beside, postgresql, scene

VISITS, SENDERS, KILLS = 40, 4, 8
WITHIN_S = 120

pytestmark = pytest.mark.faults


@pytest.fixture(params=["sqlite", pytest.param("postgresql", marks=pytest.mark.engine)])
def drafts(request, site_environment):
    """A site with 40 installations filled and ready to sign: its environment, a token and their ETags."""
    if request.param == "sqlite":
        environment = site_environment(ASLEFT_DEBUG="1")
        yield environment, json.loads(scene(environment, "draft", str(VISITS)).splitlines()[-1])
        return
    with database_beside(postgresql()) as own:
        environment = site_environment(ASLEFT_DEBUG="1", DATABASE_URL=own)
        yield environment, json.loads(scene(environment, "draft", str(VISITS)).splitlines()[-1])


class Senders:
    """Phones that send until they are answered, under the same key each time, and never give up."""

    def __init__(self, base, secret, visits):
        self.base, self.secret, self.etags = base, secret, visits
        self.waiting = list(visits)
        self.answers, self.broken, self.strange = {}, 0, []
        self.lock = threading.Lock()
        # No proxy from the environment stands between a machine and itself.
        self.opener = urllib.request.build_opener(urllib.request.ProxyHandler({}))

    def send(self, visit):
        request = urllib.request.Request(
            f"{self.base}/api/v1/visits/{visit}/sign/",
            data=b"{}",
            headers={
                "Authorization": f"Bearer {self.secret}",
                "Content-Type": "application/json",
                "Idempotency-Key": f"sign-{visit}",
                "If-Match": self.etags[visit],
            },
            method="POST",
        )
        with self.opener.open(request, timeout=30) as answer:
            return answer.status, json.loads(answer.read())

    def run(self, until):
        while time.monotonic() < until:
            with self.lock:
                if not self.waiting:
                    return
                visit = self.waiting.pop(0)
            while time.monotonic() < until and visit not in self.answers:
                try:
                    self.answers[visit] = self.send(visit)
                except urllib.error.HTTPError as error:
                    self.strange.append((error.code, error.read()[:500]))
                    return
                except urllib.error.URLError:
                    # Nobody listens at the moment.
                    time.sleep(0.1)
                except (OSError, http.client.HTTPException):
                    self.broken += 1


def test_a_web_server_killed_at_random_signs_each_visit_once(drafts, tmp_path, capsys):
    environment, made = drafts
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    command = [sys.executable, "-m", "gunicorn", "-c", "python:plant.gunicorn", "--chdir", str(ROOT)]
    command += ["--bind", f"127.0.0.1:{port}", "plant.wsgi:application"]
    web = Workers(command, environment, tmp_path / "log", many=1)
    senders = Senders(f"http://127.0.0.1:{port}", made["secret"], made["visits"])
    chance = random.Random(20261012)
    until = time.monotonic() + WITHIN_S
    threads = [threading.Thread(target=senders.run, args=(until,)) for _ in range(SENDERS)]
    try:
        for thread in threads:
            thread.start()
        for _ in range(KILLS):
            answered = len(senders.answers) + chance.randrange(1, 5)
            while len(senders.answers) < min(answered, VISITS) and time.monotonic() < until and not senders.strange:
                time.sleep(0.01)
            time.sleep(chance.uniform(0, 0.15))
            if len(senders.answers) < VISITS:
                web.kill(0)
        for thread in threads:
            thread.join()
        assert senders.strange == []
        first = dict(senders.answers)
        again = {visit: senders.send(visit) for visit in made["visits"]}
    finally:
        web.end()
    counts = counted(environment, "signed")
    lost, doubled = sum(counts["lost"].values()), sum(counts["doubled"].values())
    with capsys.disabled():
        print(  # noqa: T201
            f"\nweb server: {KILLS} kills, {senders.broken} requests cut off, visits {counts['visits']}, "
            f"lost {lost}, doubled {doubled}"
        )
    assert senders.broken >= 3, "too few kills met a request to say anything"
    assert counts["visits"] == {"signed": VISITS}
    assert (lost, doubled) == (0, 0), counts
    assert counts["answers kept"] == VISITS
    assert counts["numbers in order"]
    # Sent once more, each gets the answer that was kept, and nothing more is done.
    assert again == first
    assert {status for status, _ in first.values()} == {200}
