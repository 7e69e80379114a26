"""One signed POST: no redirects, short patience, and little of the answer read."""

import http.client
import json
import socket
import ssl
from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime
from time import monotonic
from typing import Any

from standardwebhooks import Webhook as Signer

from plant.messages.guard import Barred, checked_url, open_address

CONNECT_S, ANSWER_S = 5.0, 10.0
READ_BYTES = 4096
LARGEST_BODY = 200_000


@dataclass(frozen=True)
class Answer:
    """What came of it: the status, or in words why there is none."""

    status: int | None
    said: str
    milliseconds: int

    @property
    def taken(self) -> bool:
        return self.status is not None and 200 <= self.status < 300

    @property
    def refused(self) -> bool:
        """The address works and does not want just this: trying again soon is of no use to the others."""
        return self.status is not None and 400 <= self.status < 500 and self.status not in (408, 410, 425, 429)


def signed_headers(message_id: str, at: datetime, body: str, secrets: Collection[str]) -> dict[str, str]:
    """Headers after the Standard Webhooks specification; with two secrets, two signatures."""
    signatures = " ".join(Signer(secret).sign(message_id, at, body) for secret in secrets)
    return {
        "webhook-id": message_id,
        "webhook-timestamp": str(int(at.timestamp())),
        "webhook-signature": signatures,
        "content-type": "application/json",
        "user-agent": "Asleft",
    }


def post(
    url: str,
    message_id: str,
    at: datetime,
    content: dict[str, Any],
    *,
    secrets: Collection[str],
    allowed: Collection[str],
) -> Answer:
    """Send one message and say what came of it; nothing is raised for what the other side does."""
    body = json.dumps(content, separators=(",", ":"), ensure_ascii=False)
    if len(body.encode()) > LARGEST_BODY:
        return Answer(413, "The message is larger than a webhook carries; read it over the API.", 0)
    began = monotonic()

    def answer(status: int | None, said: str) -> Answer:
        return Answer(status, said[:300], int(1000 * (monotonic() - began)))

    try:
        scheme, host, port, path = checked_url(url)
        ip = open_address(host, port, allowed)
        connection = _connection(scheme, host, port, ip)
        try:
            connection.request("POST", path, body.encode(), signed_headers(message_id, at, body, secrets))
            response = connection.getresponse()
            text = response.read(READ_BYTES).decode(errors="replace")
        finally:
            connection.close()
    except Barred as barred:
        return answer(None, str(barred))
    except TimeoutError:
        return answer(None, "No answer in time.")
    except (OSError, http.client.HTTPException, UnicodeError) as error:
        return answer(None, f"Not reached: {type(error).__name__} {error}".strip())
    if 300 <= response.status < 400:
        return answer(response.status, "It points elsewhere, and redirects are not followed: enter the other address.")
    return answer(response.status, "" if 200 <= response.status < 300 else text)


def _connection(scheme: str, host: str, port: int, ip: str) -> http.client.HTTPConnection:
    if scheme == "https":
        secure = _Pinned(host, port, timeout=ANSWER_S, context=ssl.create_default_context())
        secure.ip = ip
        return secure
    plain = _PinnedPlain(host, port, timeout=ANSWER_S)
    plain.ip = ip
    return plain


class _PinnedPlain(http.client.HTTPConnection):
    ip = ""

    def connect(self) -> None:
        self.sock = socket.create_connection((self.ip, self.port), CONNECT_S)
        self.sock.settimeout(ANSWER_S)


class _Pinned(http.client.HTTPSConnection):
    """Connects to the address that was looked at; the certificate must be that of the name."""

    ip = ""

    def connect(self) -> None:
        plain = socket.create_connection((self.ip, self.port), CONNECT_S)
        plain.settimeout(ANSWER_S)
        self.sock = self._context.wrap_socket(plain, server_hostname=self.host)  # type: ignore[attr-defined]
