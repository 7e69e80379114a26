"""`manage.py benchmark`: how long the work takes on invented fleets, as ratios within one run."""

from __future__ import annotations

import json
import os
import platform
from dataclasses import asdict
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from inspections.management.benchmarks import drift
from inspections.management.benchmarks.measuring import Figure


class Command(BaseCommand):
    help = (
        "Measure the work of a night on invented fleets and print seconds, microseconds per coupling, the memory it "
        "needs at its highest and ratios within this run, as JSON. Nothing of the site's record is read or written."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--couplings", type=int, nargs="+", default=[10_000, 100_000], help="In a fleet.")
        parser.add_argument("--runs", type=int, default=3, help="The median is taken of so many.")
        parser.add_argument("--seed", type=int, default=8)
        parser.add_argument("--json", type=Path, help="Write the figures here as well.")

    def handle(self, *args: Any, **options: Any) -> None:
        if min(*options["couplings"], options["runs"]) < 1:
            raise CommandError("A fleet needs a coupling and a median a run, at least.")
        rows = [
            figure
            for couplings in sorted(options["couplings"])
            for figure in drift.figures(couplings, options["runs"], options["seed"])
        ]
        text = json.dumps(
            {
                "cores": os.cpu_count(),
                "python": platform.python_version(),
                "legs_of_a_coupling": drift.LEGS,
                "rows": [asdict(row) for row in rows],
                "growth": growth(rows),
            },
            indent=1,
        )
        self.stdout.write(text)
        if options["json"] is not None:
            options["json"].write_text(text + "\n", encoding="utf-8")


def growth(rows: list[Figure]) -> dict[str, float]:
    """Cost of one coupling in the largest fleet as a share of that in the smallest, by job; 1 where nothing grows."""
    found = {}
    for job in dict.fromkeys(row.job for row in rows):
        sizes = sorted((row.items, row.each_us) for row in rows if row.job == job)
        if sizes[0][0] < sizes[-1][0] and job in ("beliefs", "dates"):
            found[job] = sizes[-1][1] / sizes[0][1]
    return found
