"""A request that changes something is one unit of work, under the sender's idempotency key."""

import json
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any, cast

from django.utils import timezone
from rest_framework.renderers import JSONRenderer
from rest_framework.request import Request
from rest_framework.response import Response

from plant.api.keys import request_key
from plant.models import Person
from plant.recording import Unit, recording


@contextmanager
def acting(request: Request, *, keyed: bool = True) -> Iterator[Unit]:
    """Open `recording()` for this request: who is signed in, now, under the key of a POST.

    A repeated request leaves as `Replay`, which the exception handler answers. `keyed=False` is for answers that carry
    a secret: they are never kept, so such a request is never replayed.
    """
    key = request_key(request) if keyed and request.method == "POST" else None
    with recording(by=cast(Person, request.user), at=timezone.now(), key=key) as unit:
        yield unit


def answered(unit: Unit, data: Any, *, status: int = 200, etag: str = "", location: str = "") -> Response:
    """The answer of an act, remembered under its key."""
    # Through the renderer and back: plain JSON now is what a replay gives later.
    plain = json.loads(JSONRenderer().render(data)) if data is not None else None
    unit.answer(status, plain, etag=etag, location=location)
    headers = {name: value for name, value in (("ETag", etag), ("Location", location)) if value}
    return Response(plain, status=status, headers=headers)
