"""Work beside a coupling that no visit of ours records, after which it is checked once more."""

from django.conf import settings
from django.db import models

from plant.models.roots import Root


class OtherWork(Root):
    """Work on the foundation or the pipes of a machine: what was aligned before may not be any more."""

    class Kind(models.TextChoices):
        FOUNDATION = "foundation", "work on the foundation"
        PIPE = "pipe", "work on the pipes"

    coupling = models.ForeignKey("couplings.Coupling", on_delete=models.PROTECT, related_name="other_works")
    kind = models.CharField(max_length=10, choices=Kind)
    on = models.DateField(help_text="Date at the site on which it was finished.")
    note = models.CharField(max_length=200, blank=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    at = models.DateTimeField()

    class Meta(Root.Meta):
        ordering = ["-on", "-id"]
        constraints = [models.UniqueConstraint(fields=["coupling", "kind", "on"], name="other_work_once_per_day")]

    def __str__(self) -> str:
        return f"{self.coupling}: {self.get_kind_display()} {self.on}"
