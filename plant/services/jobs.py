"""Putting a failed run back."""

from plant.models import JobRun
from plant.recording import current
from plant.refusals import NotAllowed
from plant.selectors.jobs import runs_for


def try_again(*, run: JobRun) -> bool:
    """Let a run that was given up be claimed again, from where it had come; False where somebody did so already."""
    unit = current()
    if unit.by is not None and not runs_for(unit.by).filter(pk=run.pk).exists():
        raise NotAllowed("Background work is looked after by keepers and engineers.")
    back = JobRun.objects.filter(pk=run.pk, state=JobRun.State.FAILED)
    return bool(back.update(state=JobRun.State.WAITING, attempts=0, not_before=unit.at, finished_at=None))
