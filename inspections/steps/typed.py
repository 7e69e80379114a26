"""Typed text to values, one kind of field at a time; every refusal stands beside its field."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime, time
from typing import Any

from couplings.models import Instrument
from couplings.selectors import over_operations
from inspections import rules
from inspections.steps.registry import Place, Read, Typed
from plant import units
from plant.sitetime import site_time


class Reading:
    """Reads the fields of one step and collects what is wrong with them and what is missing."""

    def __init__(self, typed: Typed, place: Place) -> None:
        self.typed, self.place = typed, place
        self.read = Read()

    def given(self, name: str) -> str:
        return self.typed.get(name, "").strip()

    def refuse(self, name: str, sentence: str) -> None:
        if sentence:
            self.read.errors.setdefault(name, sentence)

    def want(self, name: str, sentence: str) -> None:
        if not self.given(name):
            self.read.missing.setdefault(name, sentence)

    def warn(self, sentence: str) -> None:
        self.read.warnings.append(sentence)

    def text(self, name: str, longest: int = 200) -> str:
        text = self.given(name)
        if len(text) > longest:
            self.refuse(name, f"At most {longest} characters; this is {len(text)}.")
            return ""
        return text

    def choice(self, name: str, rows: Iterable[tuple[str, str]]) -> str:
        text = self.given(name)
        known = dict(rows)
        if text and text not in known:
            self.refuse(name, f"“{text[:30]}” is not a choice here. Choose one of: {', '.join(known)}.")
            return ""
        return text

    def quantity(self, name: str, kind: str, low: float, high: float) -> float | None:
        text = self.given(name)
        if not text:
            return None
        try:
            value = units.parse(text, kind, self.place.system)
        except units.UnitError as error:
            self.refuse(name, str(error))
            return None
        if not low <= value <= high:
            between = " and ".join(units.written(bound, kind, self.place.system) for bound in (low, high))
            self.refuse(name, f"{units.written(value, kind, self.place.system)} cannot be meant: between {between}.")
            return None
        return value

    def count(self, name: str, low: int, high: int) -> int | None:
        text = self.given(name)
        if not text:
            return None
        if not (text.isascii() and text.isdigit() and low <= int(text[:9]) <= high):
            self.refuse(name, f"A whole number from {low} to {high}.")
            return None
        return int(text)

    def date(self, name: str) -> date | None:
        text = self.given(name)
        if not text:
            return None
        try:
            on = date.fromisoformat(text)
        except ValueError:
            self.refuse(name, f"“{text[:30]}” is not a date: write it as 2026-10-12.")
            return None
        if on.year < 1950:
            self.refuse(name, "Before 1950: mend the year.")
            return None
        self.refuse(name, rules.future_refusal(on, self.place.today))
        return on

    def instant(self, name: str) -> datetime | None:
        """A time at the site ("08:20" on the visit's day, "2026-10-12 08:20"), or an instant with its offset."""
        text = self.given(name)
        if not text:
            return None
        try:
            instant = _instant(text, self.place)
        except (ValueError, OverflowError):
            self.refuse(name, f"“{text[:30]}” is not a time: write 08:20, or 2026-10-12 08:20 for another day.")
            return None
        if instant.year < 1950:
            self.refuse(name, "Before 1950: mend the year.")
            return None
        self.refuse(name, rules.future_refusal(instant, self.place.at))
        return instant

    def instrument(self, name: str, kinds: Iterable[str] = ()) -> Instrument | None:
        """An instrument of the visit's site by its UUID or its serial number; out of calibration it is warned of."""
        text = self.given(name)
        if not text:
            return None
        found = [one for one in self.place.instruments if text in (str(one.uuid), one.serial)]
        fitting = [one for one in found if not tuple(kinds) or one.kind in kinds]
        if not found:
            self.refuse(name, f"No instrument “{text[:40]}” in this site's register: enter its serial number.")
            return None
        if not fitting:
            wanted = " or ".join(Instrument.Kind(kind).label for kind in kinds)
            self.refuse(name, f"{found[0]} is a {found[0].get_kind_display()}; this needs a {wanted}.")
            return None
        if len(fitting) > 1:
            self.refuse(name, f"Several instruments have the serial number {text[:40]}: choose one from the list.")
            return None
        if calibration_refused(fitting[0], self.place.visit.on):
            self.warn(f"{fitting[0]} was out of calibration on {self.place.visit.on}: the record is kept and marked.")
        elif over_operations(fitting[0], self.place.visit.on):
            self.warn(
                f"{fitting[0]} has done more than the {fitting[0].operations_limit} operations its calibration holds "
                "for: the record is kept and marked."
            )
        return fitting[0]

    def done(self, values: Any) -> Read:
        """The step as understood; values only when nothing is wrong and nothing is missing."""
        for name in list(self.read.missing):
            if name in self.read.errors:
                del self.read.missing[name]
        self.read.values = values if self.read.complete else None
        return self.read


def ended(instrument: Instrument | None, on: date) -> bool:
    """Whether an instrument's calibration had run out on a day, by its days or by the operations it has done."""
    return instrument is not None and (calibration_refused(instrument, on) or over_operations(instrument, on))


def calibration_refused(instrument: Instrument, on: date) -> bool:
    return rules.calibration_ended(instrument.calibrated_on, instrument.calibration_days, on)


def _instant(text: str, place: Place) -> datetime:
    if len(text) <= 8 and ":" in text and "-" not in text:
        wall = datetime.combine(place.visit.on, time.fromisoformat(text))
    else:
        wall = datetime.fromisoformat(text)
    return site_time(place.site, wall) if wall.tzinfo is None else wall
