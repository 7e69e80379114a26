"""What several people say of one visit: a hold point witnessed, a note handed over at the change of shift."""

from django.conf import settings
from django.db import models

from inspections.models.visits import Visit


class Witness(models.Model):
    """Somebody else looked on at a hold point; it holds for the step as it stood then."""

    visit = models.ForeignKey(Visit, on_delete=models.PROTECT, related_name="witnesses")
    step = models.CharField(max_length=20)
    what = models.CharField(max_length=200, help_text="As the data sheet asks it.")
    role = models.CharField(max_length=20, help_text="In which role, as the data sheet asks it.")
    seen_version = models.PositiveIntegerField(help_text="Of the step's entries, as it was looked at.")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["visit", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["visit", "step", "what", "seen_version"], name="hold_point_witnessed_once_as_it_stood"
            )
        ]

    def __str__(self) -> str:
        return f"{self.what}: {self.by}"


class HandOver(models.Model):
    """A note from one shift to the next, while the visit is written."""

    visit = models.ForeignKey(Visit, on_delete=models.PROTECT, related_name="hand_overs")
    text = models.CharField(max_length=1000)
    to = models.CharField(max_length=80, blank=True, help_text="To whom, where it is said.")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["visit", "id"]

    def __str__(self) -> str:
        return self.text[:40]
