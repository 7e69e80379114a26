"""The benchmark runs, measures what it says and touches no record; how fast it is, no test asks."""

import json
from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from inspections.management.benchmarks import drift
from inspections.management.benchmarks.measuring import Figure, in_a_process
from inspections.management.commands.benchmark import growth


@pytest.mark.long
def test_the_command_prints_a_row_per_job_and_size(tmp_path):
    said, kept = StringIO(), tmp_path / "figures.json"
    call_command("benchmark", "--couplings", "30", "60", "--runs", "1", "--json", str(kept), stdout=said)
    figures = json.loads(said.getvalue())
    assert json.loads(kept.read_text()) == figures
    jobs = [(row["job"], row["items"]) for row in figures["rows"]]
    for size in (30, 60):
        assert {("fit of the group", size), ("beliefs", size), ("dates", size)} <= set(jobs)
    assert all(row["seconds"] > 0 and row["each_us"] > 0 for row in figures["rows"])
    assert all(row["peak_mb"] > 0 for row in figures["rows"] if row["items"] > 1)
    assert set(figures["growth"]) == {"beliefs", "dates"}


def test_every_coupling_of_its_fleet_has_five_legs():
    past = drift.fleet_of(40, 3)
    counted = [int((past.legs.coupling == place).sum()) for place in range(40)]
    assert counted == [drift.LEGS] * 40


def test_growth_is_the_cost_of_one_in_the_large_fleet_to_that_in_the_small():
    rows = [Figure("dates", 10, 1.0, 100.0, None), Figure("dates", 100, 12.0, 120.0, None)]
    assert growth(rows) == {"dates": 1.2}


def _hungry(megabytes):
    # Written to, so that the pages are really there.
    held = bytearray(megabytes * 1024 * 1024)
    held[::4096] = b"x" * len(held[::4096])
    return [("held", float(len(held)))]


def test_memory_is_measured_at_its_highest_in_a_process_of_its_own():
    (step,), peak = in_a_process(_hungry, 64)
    assert step == ("held", 64 * 1024 * 1024)
    assert 60 <= peak <= 100


def test_a_fleet_of_nothing_is_refused():
    with pytest.raises(CommandError, match="A fleet needs a coupling"):
        call_command("benchmark", "--couplings", "0")
