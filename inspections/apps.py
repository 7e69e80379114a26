"""Visits, what they found, and when to come back."""

from django.apps import AppConfig


class InspectionsConfig(AppConfig):
    name = "inspections"
    verbose_name = "Inspections"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        # Imported for what it registers: the nightly run.
        from inspections import tasks  # noqa: F401
