"""Couplings, their data sheets and fits, and the engineering they are judged by."""

from django.apps import AppConfig


class CouplingsConfig(AppConfig):
    name = "couplings"
    verbose_name = "Couplings"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        # Imported for what they register: the calculations without a record, the register's nouns, what joins machines,
        # hub halves that go with them.
        import couplings.calculations
        import couplings.pages.register
        import couplings.selectors.links
        import couplings.services.travelling  # noqa: F401
