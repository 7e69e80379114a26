"""Couplings, their data sheets and fits, and the engineering they are judged by."""

from importlib.util import find_spec

from django.apps import AppConfig


class CouplingsConfig(AppConfig):
    name = "couplings"
    verbose_name = "Couplings"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        # Imported for what it registers: the calculations without a record.
        if find_spec("couplings.calculations"):
            from couplings import calculations  # noqa: F401
