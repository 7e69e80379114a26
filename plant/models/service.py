"""When a train was in service, out of it, or stood uncoupled."""

import uuid

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from plant.models.history import kept_history
from plant.models.trains import Train


class ServiceSpell(models.Model):
    """One stretch of time in one state. Each begins where the one before ends; the open one is the train's own state.

    Rides on the train's version.
    """

    uuid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    site = models.ForeignKey("plant.Site", on_delete=models.PROTECT, related_name="+")
    train = models.ForeignKey(Train, on_delete=models.CASCADE, related_name="service_spells")
    state = models.CharField(max_length=10, choices=Train.Service)
    from_at = models.DateTimeField(null=True, blank=True, help_text="Empty: since before the record began.")
    until_at = models.DateTimeField(null=True, blank=True)
    reason = models.CharField(max_length=200, blank=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    history = kept_history()

    class Meta:
        # Spells follow each other as they are entered: a new one only ever ends the open one.
        ordering = ["train", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["train"], condition=Q(until_at__isnull=True), name="one_open_service_spell_per_train"
            ),
            models.UniqueConstraint(
                fields=["train"], condition=Q(from_at__isnull=True), name="one_first_service_spell_per_train"
            ),
            models.CheckConstraint(
                condition=Q(until_at__isnull=True) | Q(from_at__isnull=True) | Q(until_at__gte=F("from_at")),
                name="service_spell_ends_after_it_began",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.train}: {self.get_state_display()}"
