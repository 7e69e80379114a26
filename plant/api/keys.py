"""Idempotency-Key: the same POST sent twice is done once and answered twice alike."""

import hashlib
import json
import re
from typing import Any, cast

from django.core.files.uploadedfile import UploadedFile
from rest_framework.request import Request

from plant.api.problems import BadQuery
from plant.models import Person
from plant.recording import RequestKey

HEADER = "Idempotency-Key"
_KEY = re.compile(r"[\x21-\x7e]{1,255}")


def request_key(request: Request) -> RequestKey | None:
    """The key of this request with the fingerprint of what was sent under it; None where none was sent."""
    given = request.headers.get(HEADER)
    if given is None:
        return None
    key = given.strip()
    if not _KEY.fullmatch(key):
        raise BadQuery({HEADER: "A key has 1 to 255 visible ASCII characters."}, code="idempotency-key-invalid")
    return RequestKey(key=key, fingerprint=fingerprint(request), person=cast(Person, request.user))


def fingerprint(request: Request) -> str:
    """Digest of method, path, query, body and files. The body counts as what it means: the order of names is free."""
    parts = [request.method or "", request.path, request.META.get("QUERY_STRING", ""), _meaning(request.data)]
    for name, file in sorted(request.FILES.items()):
        digest = hashlib.sha256()
        for chunk in file.chunks():
            digest.update(chunk)
        file.seek(0)
        parts += [name, file.name or "", digest.hexdigest()]
    return hashlib.sha256("\n".join(parts).encode()).hexdigest()


def _meaning(body: Any) -> str:
    if hasattr(body, "lists"):  # a form
        body = {
            name: [value for value in values if not isinstance(value, UploadedFile)] for name, values in body.lists()
        }
    return json.dumps(body, sort_keys=True, separators=(",", ":"))
