"""Secret addresses at which a person's calendar program reads what is due."""

import hashlib
import uuid

from django.conf import settings
from django.db import models
from django.db.models import Q


class CalendarAddress(models.Model):
    """One person's feed: of one site, or of everything that person reads. Only the address's digest is kept."""

    uuid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="calendars")
    site = models.ForeignKey("plant.Site", on_delete=models.CASCADE, null=True, related_name="+")
    digest = models.CharField(max_length=64, unique=True)
    made_at = models.DateTimeField()
    read_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["person", "site"]
        constraints = [
            models.UniqueConstraint(fields=["person", "site"], name="calendar_once_per_person_and_site"),
            models.UniqueConstraint(
                fields=["person"], condition=Q(site__isnull=True), name="one_calendar_of_everything_per_person"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.person}: {self.site or 'every site'}"

    @staticmethod
    def digest_of(secret: str) -> str:
        """What is kept of a secret; its 256 random bits need no salt."""
        return hashlib.sha256(secret.encode()).hexdigest()
