"""Background work: what kinds there are, when each is due, and the two functions that everything that wakes us calls.

`tick(now)` writes down what has become due; `work(now)` does it. The embedded loop calls both every second, Celery's
beat and worker call the same two; the rows are the truth, so nothing is lost with a process or a queue, and calling
either twice does no harm.
"""

from plant.jobs.claims import try_later, work
from plant.jobs.registry import JOBS, PUMPS, Job, Occasion, register, register_pump
from plant.jobs.tick import tick

__all__ = ["JOBS", "PUMPS", "Job", "Occasion", "register", "register_pump", "tick", "try_later", "work"]
