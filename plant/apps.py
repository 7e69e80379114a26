"""The project's own app: the register of the plant and the mechanics under every change."""

from django.apps import AppConfig


class PlantConfig(AppConfig):
    name = "plant"
    verbose_name = "Plant"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        # Imported for what they register: the system checks, the queue that tasks are sent to, the daily clearing, the
        # register's nouns.
        from plant import celery, checks, tasks  # noqa: F401
        from plant.jobs import (
            purge,  # noqa: F401
            register_pump,
        )
        from plant.messages.deliver import deliver
        from plant.pages.register import nouns  # noqa: F401
        from plant.recording import afterwards

        register_pump(deliver)
        afterwards(tasks.nudge)
        from plant.services import audit

        audit.listen()
