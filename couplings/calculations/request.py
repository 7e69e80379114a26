"""Reading a request part by part, with the path of each field, so that all its errors can be shown at once."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from difflib import get_close_matches
from typing import Any

from plant import units
from plant.refusals import Refused

TEXT_AT_MOST = 200
DUST = 1e-12  # in any base unit: what binary fractions leave of zero is not above zero


class Request:
    """One object of a request. Parts share one book of errors; only the first error of a field is kept.

    Every read names its key; what was never asked for is refused at the end (`finish`), so that a misspelt optional
    field is an error and not a field that was silently left out.
    """

    def __init__(self, given: object, path: str = "", errors: dict[str, str] | None = None) -> None:
        self.path = path
        self.errors: dict[str, str] = {} if errors is None else errors
        self._asked: set[str] = set()
        self._silent = False  # one error says that this is no object; what it then lacks goes without saying
        if isinstance(given, Mapping):
            self._given: Mapping[str, Any] = given
        else:
            self._given = {}
            self.refuse("", "An object with named fields is expected here.")
            self._silent = True

    def at(self, key: str) -> str:
        """The path of a field of this object; "" is the object itself."""
        return ".".join(part for part in (self.path, key) if part)

    def refuse(self, key: str, message: str) -> None:
        """Note an error beside a field."""
        if not self._silent:
            self.errors.setdefault(self.at(key), message)

    def given(self, key: str) -> Any:
        """What was sent, or None; null and absent are the same, and neither is ever zero."""
        self._asked.add(key)
        return self._given.get(key)

    def has(self, key: str) -> bool:
        """Whether anything was sent for it."""
        return self.given(key) is not None

    def text(self, key: str, missing: str = "") -> str | None:
        """Text of at most 200 characters; `missing` is the error if there is none."""
        value = self.given(key)
        if value is None or value == "":
            self._missing(key, missing)
            return None
        if not isinstance(value, str):
            self.refuse(key, "Text is expected here.")
            return None
        if len(value) > TEXT_AT_MOST:
            self.refuse(key, f"At most {TEXT_AT_MOST} characters are taken.")
            return None
        return value

    def choice(self, key: str, choices: Sequence[str], default: str | None = None, missing: str = "") -> str | None:
        """One word of a closed list."""
        value = self.given(key)
        if value is None or value == "":
            self._missing(key, missing)
            return default
        if not isinstance(value, str) or value not in choices:
            self.refuse(key, f"Choose one of: {', '.join(choices)}.")
            return default
        return value

    def flag(self, key: str) -> bool:
        """True or false; absent is false."""
        value = self.given(key)
        if value is not None and not isinstance(value, bool):
            self.refuse(key, "True or false is expected here.")
        return value is True

    def number(self, key: str, missing: str = "") -> float | None:
        """A plain finite number: only for what has no unit (a probability, a clock position, an angle in degrees)."""
        value = self.given(key)
        if value is None:
            self._missing(key, missing)
            return None
        try:
            return units.number(value)
        except units.UnitError as error:
            self.refuse(key, str(error))
            return None

    def quantity(
        self,
        key: str,
        kind: str,
        missing: str = "",
        *,
        above: float | None = None,
        at_least: float | None = None,
        within: tuple[float, str] | None = None,
    ) -> float | None:
        """A quantity in base units.

        `above` and `at_least` bound it from below; `within` bounds its size and says in words why.
        """
        value = self.given(key)
        if value is None:
            self._missing(key, missing)
            return None
        try:
            base = units.parse(value, kind)
        except units.UnitError as error:
            self.refuse(key, str(error))
            return None
        if above is not None and base <= above + DUST:
            self.refuse(
                key, "This must be greater than zero." if above == 0 else f"This must be greater than {above:g}."
            )
            return None
        if at_least is not None and base < at_least:
            self.refuse(key, "This must not be negative." if at_least == 0 else f"This must be at least {at_least:g}.")
            return None
        if within is not None and abs(base) > within[0]:
            self.refuse(key, within[1])
            return None
        return base

    def part(self, key: str, missing: str = "") -> Request | None:
        """An object inside this one."""
        value = self.given(key)
        if value is None:
            self._missing(key, missing)
            return None
        return Request(value, self.at(key), self.errors)

    def rows(self, key: str, at_most: int, missing: str = "") -> Iterator[Request]:
        """The objects of a list."""
        value = self.given(key)
        if value is None or value == []:
            self._missing(key, missing)
            return
        if not isinstance(value, list | tuple):
            self.refuse(key, "A list is expected here.")
            return
        if len(value) > at_most:
            self.refuse(key, f"At most {at_most} are taken.")
            return
        for index, item in enumerate(value):
            yield Request(item, f"{self.at(key)}.{index}", self.errors)

    def finish(self) -> None:
        """Refuse every field nobody asked for: a misspelt name must not pass as a field left out."""
        for key in self._given:
            if key in self._asked:
                continue
            near = get_close_matches(str(key), sorted(self._asked), 1)
            hint = f" Was “{near[0]}” meant?" if near else ""
            self.refuse(str(key)[:60], f"This field is not known here.{hint}")

    def raise_errors(self) -> None:
        """All errors of the request at once, if there are any."""
        if self.errors:
            raise Refused(self.errors)

    def _missing(self, key: str, message: str) -> None:
        if message:
            self.refuse(key, message)
