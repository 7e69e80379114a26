"""The steps of a visit by their keys, as the app that has them says. A hold point names one of them."""

from __future__ import annotations

from collections.abc import Mapping

_steps: dict[str, str] = {}


def say_steps(titles: Mapping[str, str]) -> None:
    """Told once at the start, by whoever has steps: title by key, in the order of the work."""
    _steps.clear()
    _steps.update(titles)


def known_steps() -> dict[str, str]:
    """Title by key; empty where nobody has steps."""
    return dict(_steps)
