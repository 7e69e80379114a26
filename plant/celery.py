"""The Celery application of the full set: a queue that only wakes us, the rows say what is due.

Without CELERY_BROKER_URL nothing is ever sent; `start` then loops over the same functions in a child of its own.
"""

import os

from celery import Celery

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "plant.settings")

app = Celery("plant")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks()
