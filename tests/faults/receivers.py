"""A receiver of webhooks that drops, delays and refuses by chance, and notes what arrived in which order."""

import json
import random
import threading
import time
from collections import Counter, defaultdict
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer

from standardwebhooks import Webhook as Verifier

from tests.faults.telling import ANSWER_S, SECRET

# What is done with a message, in hundredths. Those in TAKEN reached the receiver, whatever the sender saw of it.
WAYS = {"take": 62, "slow": 16, "late": 2, "cut": 5, "drop": 5, "500": 4, "429": 3, "422": 3}
TAKEN = {"take", "slow", "late", "cut"}


class UnrulyReceiver:
    """Serves on this machine until it is left; chance decides what is done with each message."""

    def __init__(self, seed):
        self.chance, self.lock = random.Random(seed), threading.Lock()
        self.arrived = []  # (way, message id, lane, number), in the order of arrival
        self.in_hand, self.wrong = 0, []
        outer = self

        class Handler(BaseHTTPRequestHandler):
            def do_POST(self):
                outer.got(self)

            def log_message(self, *given):
                pass

        self.server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
        self.server.daemon_threads = True
        self.thread = threading.Thread(target=self.server.serve_forever, kwargs={"poll_interval": 0.02}, daemon=True)

    def __enter__(self):
        self.thread.start()
        return self

    def __exit__(self, *given):
        self.server.shutdown()
        self.server.server_close()
        self.thread.join()

    @property
    def url(self):
        return f"http://127.0.0.1:{self.server.server_port}/told"

    def got(self, request):
        body = request.rfile.read(int(request.headers["content-length"])).decode()
        with self.lock:
            way = self.chance.choices(list(WAYS), weights=list(WAYS.values()))[0]
            try:
                # The verifier of the standard's own package says whether the signature holds.
                Verifier(SECRET).verify(body, dict(request.headers))
                data = json.loads(body)["data"]
                self.arrived.append((way, request.headers["webhook-id"], data["coupling"], data["no"]))
            except Exception as error:  # noted, and failed on when all is over
                self.wrong.append(repr(error))
            self.in_hand += 1
        try:
            self.answer(request, way)
        finally:
            with self.lock:
                self.in_hand -= 1

    def answer(self, request, way):
        if way == "slow":
            time.sleep(0.3 * ANSWER_S)
        if way == "late":
            time.sleep(1.3 * ANSWER_S)
        if way in ("cut", "drop"):
            request.close_connection = True
            request.connection.close()
            return
        try:
            request.send_response(int(way) if way.isdigit() else 204)
            request.send_header("content-length", "0")
            request.end_headers()
        except OSError:
            pass  # whoever asked is dead or has stopped waiting

    def judged(self, events):
        """What the receiver has of these events ({message id: lane}): lost, doubled, out of order, repeated."""
        with self.lock:
            arrived = list(self.arrived)
        taken = [one for one in arrived if one[0] in TAKEN]
        ids_of = defaultdict(set)
        for _way, message, lane, no in taken:
            ids_of[lane, no].add(message)
        highest, disorder = defaultdict(int), 0
        for _way, _message, lane, no in arrived:
            # The one before it in its lane may come once more; anything before that would be out of order.
            disorder += no < highest[lane]
            highest[lane] = max(highest[lane], no)
        messages = {one[1] for one in taken}
        return {
            "arrived": len(arrived),
            "ways": dict(Counter(way for way, *_ in arrived)),
            "lost": len(set(events) - messages),
            "doubled": sum(len(ids) - 1 for ids in ids_of.values()) + len(messages - set(events)),
            "out of order": disorder,
            "repeated under the same id": len(taken) - len(messages),
        }
