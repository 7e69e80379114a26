"""What the queue calls: the same two functions as the embedded loop. A task may come twice, late or never."""

from celery import shared_task
from django.utils import timezone

from plant import jobs

EXPIRES_S = 55


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
