"""Measuring a piece of work: seconds, the median of several, and the memory it needs at its highest."""

from __future__ import annotations

import multiprocessing
import resource
import statistics
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, cast

# ru_maxrss is in kilobytes on Linux and in bytes on macOS.
_STATUS = Path("/proc/self/status")
_PER_MB = 1024 * 1024 if sys.platform == "darwin" else 1024

Steps = list[tuple[str, float]]  # what was done, and its seconds


@dataclass(frozen=True)
class Figure:
    """One row of the benchmark.

    `seconds` is the median of the runs; `each_us` the same for one of `items` [microseconds]; `peak_mb` what the work
    added to the process at its highest [megabytes], None where it was not measured; `ratio` to what `against` names,
    measured in the same run.
    """

    job: str
    items: int
    seconds: float
    each_us: float
    peak_mb: float | None
    against: str = ""
    ratio: float | None = None


def timed(work: Callable[[], Any], runs: int) -> float:
    """Median seconds of a piece of work."""
    taken = []
    for _ in range(runs):
        began = time.perf_counter()
        work()
        taken.append(time.perf_counter() - began)
    return statistics.median(taken)


def in_a_process(work: Callable[..., Steps], *arguments: Any) -> tuple[Steps, float]:
    """What `work` returns and the megabytes it added at its highest, in a process of its own.

    Raises
    ------
    RuntimeError
        The process ended without an answer.
    """
    context = multiprocessing.get_context("spawn")
    ours, theirs = context.Pipe(duplex=False)
    process = context.Process(target=_answer, args=(theirs, work, arguments))
    process.start()
    theirs.close()
    try:
        answer = ours.recv()
    except EOFError:
        raise RuntimeError("The measuring process ended without an answer.") from None
    finally:
        process.join()
    return cast(tuple[Steps, float], answer)


def _answer(pipe: Any, work: Callable[..., Any], arguments: tuple[Any, ...]) -> None:
    before = _peak_mb()
    found = work(*arguments)
    pipe.send((found, _peak_mb() - before))
    pipe.close()


def _peak_mb() -> float:
    """Of this process alone: what `getrusage` says on Linux begins with the peak of the process that started it."""
    if _STATUS.exists():
        line = next(line for line in _STATUS.read_text().splitlines() if line.startswith("VmHWM:"))
        return int(line.split()[1]) / 1024
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / _PER_MB
