"""A receiver on this machine that notes what it gets and answers as it is told."""

import json
import threading
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer

from standardwebhooks import Webhook as Verifier


class Receiver:
    """Answers with `answers` one after the other, then 204; keeps every message with its headers."""

    def __init__(self):
        self.answers, self.got = [], []
        outer = self

        class Handler(BaseHTTPRequestHandler):
            def do_POST(self):
                body = self.rfile.read(int(self.headers["content-length"])).decode()
                answer = outer.answers.pop(0) if outer.answers else 204
                outer.got.append((dict(self.headers), body, answer))
                if answer == "drop":
                    self.connection.close()
                    return
                self.send_response(answer)
                if answer in (301, 302, 307):
                    self.send_header("location", "http://127.0.0.1:1/elsewhere")
                self.send_header("content-length", "0")
                self.end_headers()

            def log_message(self, *given):
                pass

        self.server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
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
        return f"http://127.0.0.1:{self.server.server_port}/told?x=1"

    @property
    def taken(self):
        return [json.loads(body) for _headers, body, answer in self.got if answer == 204]

    def verified(self, secret):
        """Every message that was taken, as the verifier of the standard's own package lets it through."""
        return [Verifier(secret).verify(body, headers) for headers, body, answer in self.got if answer == 204]
