"""What the queue calls: the same two functions as the embedded loop. A task may come twice, late or never."""

import structlog
from celery import shared_task
from django.conf import settings
from django.utils import timezone
from kombu.exceptions import OperationalError

from plant import jobs

EXPIRES_S = 55

log = structlog.get_logger(__name__)


@shared_task(name="plant.tick")
def tick() -> None:
    """Write down what is due and wake a worker for it. Beat sends one a minute."""
    jobs.tick(timezone.now())
    work.apply_async(expires=EXPIRES_S)


@shared_task(name="plant.work")
def work() -> None:
    """One slice of the work that is due; another one is sent for while there is more."""
    if jobs.work(timezone.now()):
        work.apply_async(expires=EXPIRES_S)


def nudge() -> None:
    """Wake a worker for what was just committed. A queue that is away costs nothing but the wait for the next tick."""
    if not settings.CELERY_BROKER_URL:
        return
    try:
        work.apply_async(expires=EXPIRES_S, retry=False)
    except OperationalError as error:
        log.warning("the queue does not answer; the next tick will do it", error=str(error))
