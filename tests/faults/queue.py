"""The Celery application with the scene's short leases and a beat each second, for `celery -A tests.faults.queue`."""

from celery.signals import worker_init

from plant.celery import app
from tests.faults import scene, telling

__all__ = ["app"]

app.conf.beat_schedule["tick"]["schedule"] = 1.0


@worker_init.connect
def _short_leases(**given: object) -> None:
    scene.shorten()
    telling.shorten()
