"""The Celery application with the scene's short leases, for `celery -A tests.faults.queue`."""

from celery.signals import worker_init

from plant.celery import app
from tests.faults.scene import shorten

__all__ = ["app"]


@worker_init.connect
def _short_leases(**given: object) -> None:
    shorten()
