"""Words of a sheet of paper: pages' fragments as rows, instants in the site's time, paper by units."""

from collections.abc import Mapping
from datetime import datetime
from html.parser import HTMLParser
from typing import Any
from zoneinfo import ZoneInfo

from django.template.loader import render_to_string

from plant.models import Site
from plant.words import day

Rows = list[tuple[str, str]]


def paper_of(site: Site) -> str:
    """A4, and Letter where sizes are told in inches."""
    return "us-letter" if site.units == "us" else "a4"


def clock(at: datetime | None, site: Site) -> str:
    """An instant in the site's own time: 14 March 2027, 09:41."""
    if at is None:
        return ""
    there = at.astimezone(ZoneInfo(site.zone))
    return f"{day(there.date(), weekday=False)}, {there:%H:%M}"


def rows_of(template: str, context: Mapping[str, Any]) -> Rows:
    """The dt and dd of a fragment of the pages as plain text, so that screen and paper say the same words."""
    reader = _Rows()
    reader.feed(render_to_string(template, dict(context)))
    return reader.rows


class _Rows(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.rows: Rows = []
        self._part, self._text = "", {"dt": "", "dd": ""}

    def handle_starttag(self, tag: str, attrs: Any) -> None:
        if tag in self._text:
            self._part = tag
            self._text[tag] = ""

    def handle_endtag(self, tag: str) -> None:
        if tag == "dd":
            self.rows.append((_plain(self._text["dt"]), _plain(self._text["dd"])))
        if tag in self._text:
            self._part = ""

    def handle_data(self, data: str) -> None:
        if self._part:
            self._text[self._part] += data


def _plain(text: str) -> str:
    return " ".join(text.split(" ")).replace("\n", " ").strip()
