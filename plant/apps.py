"""The project's own app: the register of the plant and the mechanics under every change."""

from django.apps import AppConfig


class PlantConfig(AppConfig):
    name = "plant"
    verbose_name = "Plant"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        # Imported for what they register: the system checks, and the queue that tasks are sent to on commit.
        from plant import celery, checks  # noqa: F401
