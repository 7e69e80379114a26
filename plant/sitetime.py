"""The site's own day and clock: due, overdue and today are the site's, never the server's."""

from datetime import UTC, date, datetime
from typing import Any
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError


def zone_of(site: Any) -> ZoneInfo:
    """The site's time zone; UTC where the name is not known to this machine."""
    try:
        return ZoneInfo(site.zone)
    except (ZoneInfoNotFoundError, ValueError):
        return ZoneInfo("UTC")


def today_at(site: Any, instant: datetime) -> date:
    """The date at the site at this instant."""
    return instant.astimezone(zone_of(site)).date()


def zone_words(site: Any, instant: datetime) -> str:
    """How the page says whose clock it uses: "times in site time (UTC+1)"."""
    offset = instant.astimezone(zone_of(site)).utcoffset()
    minutes = round(offset.total_seconds() / 60) if offset is not None else 0
    if minutes == 0:
        return "times in site time (UTC)"
    hours, rest = divmod(abs(minutes), 60)
    sign = "+" if minutes > 0 else "−"
    return f"times in site time (UTC{sign}{hours}{f':{rest:02d}' if rest else ''})"


def site_time(site: Any, wall: datetime) -> datetime:
    """A wall-clock time typed at the site, as an instant in UTC."""
    return wall.replace(tzinfo=zone_of(site)).astimezone(UTC)


def said_at(site: Any, instant: datetime) -> str:
    """An instant as a refusal names it, by the site's clock."""
    return f"{instant.astimezone(zone_of(site)):%Y-%m-%d %H:%M}"
