"""Visits, what they found, and when to come back."""

from django.apps import AppConfig
from django.db.models.signals import post_migrate


class InspectionsConfig(AppConfig):
    name = "inspections"
    verbose_name = "Inspections"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        # Imported for what they register: what dates follow from, the nightly run, the system check, entries of pages.
        import inspections.calculations
        import inspections.pages.register  # noqa: F401
        from inspections import checks, consequences, tasks, triggers  # noqa: F401
        from inspections.selectors.belongings import tell_of_work
        from inspections.selectors.contractors import narrow_to_orders
        from inspections.services.handing_over import hand_over_work

        narrow_to_orders()
        tell_of_work()
        hand_over_work()

        # SQLite loses triggers when Django rebuilds a table, so every migrate ends with installing them.
        post_migrate.connect(triggers.install_after_migrate, sender=self, dispatch_uid="inspections.triggers")
