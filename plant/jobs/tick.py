"""Writing down what has become due."""

from datetime import datetime

from plant.jobs.registry import JOBS
from plant.models import JobRun


def tick(now: datetime) -> int:
    """Make the rows of every run that is due and not written down yet; harmless twice, also at the same moment.

    Returns
    -------
    int
        How many were missing when it looked. Another tick may have written some of them in the meantime: the unique
        key of a run decides, not this count.
    """
    missing = []
    for kind, job in JOBS.items():
        occasions = {(one.scope, one.for_date): one for one in job.scopes_due(now)}
        if not occasions:
            continue
        dates = {for_date for _, for_date in occasions}
        known = JobRun.objects.filter(kind=kind, for_date__in=dates).values_list("scope", "for_date")
        for place in occasions.keys() - set(known):
            one = occasions[place]
            missing.append(JobRun(kind=kind, scope=one.scope, for_date=one.for_date, not_before=one.not_before))
    if missing:
        # A twin that was faster has the same key, and its row is as good as ours.
        JobRun.objects.bulk_create(missing, ignore_conflicts=True)
    return len(missing)
