"""Requests as JSON."""

from collections.abc import Iterator
from io import BytesIO
from typing import Any

from rest_framework.parsers import JSONParser

from plant.refusals import Refused

_NUL = "\x00"


class JsonBody(JSONParser):
    """JSON whose texts hold no NUL: PostgreSQL stores none, and nobody types one."""

    def parse(self, stream: Any, media_type: Any = None, parser_context: Any = None) -> Any:
        raw = stream.read()
        body = super().parse(BytesIO(raw), media_type, parser_context)
        if rb"\u0000" in raw and (
            places := dict.fromkeys(_with_nul(body, ""), "This holds characters that are not text.")
        ):
            raise Refused(places)
        return body


def _with_nul(part: Any, path: str) -> Iterator[str]:
    if isinstance(part, str):
        if _NUL in part:
            yield path.lstrip(".")
        return
    rows = part.items() if isinstance(part, dict) else enumerate(part) if isinstance(part, list) else ()
    for name, value in rows:
        if isinstance(name, str) and _NUL in name:
            yield path.lstrip(".")
        else:
            yield from _with_nul(value, f"{path}.{name}")
