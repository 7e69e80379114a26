"""`manage.py calibrate`: how honest the forecasts are on invented fleets, and how many checks they save."""

from __future__ import annotations

import json
from dataclasses import asdict
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from inspections.forecasting.calibration import Coverage, Watch, checks_of_fixed, coverage, watched
from inspections.forecasting.fleets import KINDS
from inspections.management.calibration_plot import plot

SMALL = 30  # trains, and fewer
SMALL_LEAST, BAND = 0.85, (0.88, 0.92)
HALF = 0.5
READINGS = 750  # next readings looked at per kind and size, at least
LARGE = 5  # times as many in larger fleets, which are quick and have a narrow band to keep


class Command(BaseCommand):
    help = (
        "Try the forecasts on invented fleets with a fixed seed and print the figures as JSON: coverage of the 90 % "
        "interval by size and kind of fleet, share of limit crossings caught and checks per year by every rule."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--seed", type=int, default=8)
        parser.add_argument("--sizes", type=int, nargs="+", default=[5, 30, 300, 3000], help="Trains in a fleet.")
        parser.add_argument("--kinds", nargs="+", default=list(KINDS), choices=KINDS)
        parser.add_argument("--readings", type=int, default=READINGS, help="Trains asked per kind and size, at least.")
        parser.add_argument("--followed", type=int, default=400, help="Trains followed for five years, per kind.")
        parser.add_argument("--json", type=Path, help="Write the figures here instead of printing them.")
        parser.add_argument("--plot", type=Path, help="Write a drawing (SVG) here.")

    def handle(self, *args: Any, **options: Any) -> None:
        if min(*options["sizes"], options["readings"], options["followed"]) < 2:
            raise CommandError("A fleet needs two trains at least.")
        coverages = [
            coverage(kind, size, -(-options["readings"] * (LARGE if size > SMALL else 1) // size), options["seed"])
            for kind in options["kinds"]
            for size in options["sizes"]
        ]
        watches = {kind: watched(kind, options["followed"], options["seed"]) for kind in options["kinds"]}
        figures = {
            "seed": options["seed"],
            "coverage": [asdict(one) | {"holds": holds(one)} for one in coverages],
            "watch": [_row(one, rows) for rows in watches.values() for one in rows],
            "targets": {"small_fleets_at_least": SMALL_LEAST, "others": list(BAND), "checks_at_equal_share": HALF},
        }
        text = json.dumps(figures, indent=1, ensure_ascii=False)
        if options["json"] is None:
            self.stdout.write(text)
        else:
            options["json"].write_text(text + "\n", encoding="utf-8")
        if options["plot"] is not None:
            everything = [one for rows in watches.values() for one in rows]
            options["plot"].write_text(plot(coverages, everything, SMALL_LEAST, BAND), encoding="utf-8")


def holds(one: Coverage) -> bool:
    """Whether the interval of tolerance used covers what it has to."""
    if one.trains <= SMALL:
        return one.tolerance_used >= SMALL_LEAST
    return BAND[0] <= one.tolerance_used <= BAND[1]


def _row(one: Watch, rows: list[Watch]) -> dict[str, Any]:
    """With the checks a fixed interval needs for the same share, where the rule is not one itself."""
    found: dict[str, Any] = asdict(one)
    if not one.rule.startswith("every"):
        fixed = checks_of_fixed(rows, one.caught)
        found |= {"fixed_checks_at_equal_share": fixed, "ratio": one.checks / fixed}
    return found
