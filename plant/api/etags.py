"""If-Match and ETag: which version a change was made from. The ETag of a root is its version."""

import re
from typing import Any

from rest_framework.request import Request

from plant.refusals import PreconditionMissing, Stale

_TAG = re.compile(r'\s*(W/)?"([\x21\x23-\x7e]*)"\s*')


def etag(root: Any) -> str:
    return f'"{root.version}"'


def expected(request: Request, root: Any) -> int | None:
    """The version that If-Match names, for `bump(root, expected)`; None for `*`, which means whatever stands there.

    Raises PreconditionMissing (428) without the header, and Stale (412) where it names no version of ours: a weak tag
    never matches a change (RFC 9110, 13.1.1).
    """
    header = request.headers.get("If-Match", "").strip()
    if not header:
        raise PreconditionMissing(f"Send If-Match with the ETag you read, such as {etag(root)}.")
    if header == "*":
        return None
    versions = []
    for part in header.split(","):
        match = _TAG.fullmatch(part)
        if match and not match.group(1) and match.group(2).isascii() and match.group(2).isdigit():
            versions.append(int(match.group(2)))
    if not versions:
        raise Stale("If-Match names no version of this.")
    # bump() compares under the row's lock; of several tags the fitting one is handed on.
    return root.version if root.version in versions else min(versions[0], 2**31 - 1)


def expected_if_given(request: Request, root: Any) -> int | None:
    """The same for acts that do not ask for If-Match and honour it where it is sent."""
    return expected(request, root) if request.headers.get("If-Match", "").strip() else None


def not_modified(request: Request, tag: str) -> bool:
    """Whether If-None-Match says that the reader has this version already."""
    header = request.headers.get("If-None-Match", "")
    return header.strip() == "*" or tag in [part.strip().removeprefix("W/") for part in header.split(",")]
