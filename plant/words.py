"""Dates, spans and chances as people say them; the exact figure stands in the table beside them."""

from datetime import date, datetime
from math import isfinite

_SMALL = (
    *("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve"),
    *("thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen"),
)
_TENS = ("", "", "twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety")
DAYS_TO_WEEKS = 14  # from here on weeks, as a planner counts
WEEKS_TO_MONTHS = 52
RARE = 0.07  # below it "one chance in ...", above it so many in a hundred


def cardinal(number: int) -> str:
    """Write a whole number from 0 to 1000 in words."""
    if number < 20:
        return _SMALL[number]
    if number < 100:
        tens, ones = divmod(number, 10)
        return _TENS[tens] + (f"-{_SMALL[ones]}" if ones else "")
    if number == 1000:
        return "a thousand"
    hundreds, rest = divmod(number, 100)
    said = "a hundred" if hundreds == 1 else f"{_SMALL[hundreds]} hundred"
    return said + (f" and {cardinal(rest)}" if rest else "")


def day(on: date, *, weekday: bool = True, year: bool = True) -> str:
    """Sunday 14 March 2027. An instant must be turned into the site's own day by the caller, who knows the zone."""
    if isinstance(on, datetime):
        raise TypeError("A day is written from a date; ask the site which day this instant falls on.")
    said = f"{on.day} {on:%B}"
    return (f"{on:%A} " if weekday else "") + said + (f" {on.year}" if year else "")


def span(days: int) -> str:
    """10 days, 3 weeks, 14 months: to the nearest, in the unit a planner would use."""
    if days < DAYS_TO_WEEKS:
        count, unit = days, "day"
    elif (weeks := round(days / 7)) < WEEKS_TO_MONTHS:
        count, unit = weeks, "week"
    else:
        count, unit = round(days / 30.4375), "month"  # 365.25 / 12
    return f"{count}\u00a0{unit}" + ("" if count == 1 else "s")


def away(on: date, today: date) -> str:
    """How far a due date is from the site's today: "in 2 weeks", "today", "3 weeks over"."""
    days = (on - today).days
    if days == 0:
        return "today"
    if days == 1:
        return "tomorrow"
    return f"in {span(days)}" if days > 0 else f"{span(-days)} over"


def chance(probability: float | None) -> str:
    """One chance in fifty, ninety-four in a hundred; not known when there is none.

    Raises
    ------
    ValueError
        Not a probability: outside 0 to 1.
    """
    if probability is None or not isfinite(probability):
        return "not known"
    if not 0 <= probability <= 1:
        raise ValueError(f"{probability} is not a probability.")
    if probability < 0.001:
        return "less than one chance in a thousand"
    if probability < RARE:
        odds = 1 / probability
        return f"one chance in {cardinal(round(odds) if odds < 100 else 10 * round(odds / 10))}"
    if probability > 0.995:
        return "more than ninety-nine in a hundred"
    said = cardinal(round(100 * probability))
    return f"{said} in a hundred" if probability >= 0.5 else f"{said} chances in a hundred"
