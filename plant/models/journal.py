"""What the unit of work writes beside the work itself: events, tombstones, kept answers, the names others use."""

from django.conf import settings
from django.db import models


class Event(models.Model):
    """Something the outside may want to know, numbered in its site's order of commit."""

    site = models.ForeignKey("plant.Site", on_delete=models.PROTECT, related_name="+")
    no = models.BigIntegerField()
    kind = models.CharField(max_length=40)
    lane = models.UUIDField(null=True, help_text="The coupling it speaks of; events of one lane keep their order.")
    payload = models.JSONField(default=dict)
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")

    class Meta:
        ordering = ["site", "no"]
        constraints = [models.UniqueConstraint(fields=["site", "no"], name="event_number_once_per_site")]
        indexes = [models.Index(fields=["lane", "no"], name="event_lane_no")]

    def __str__(self) -> str:
        return f"{self.kind} {self.no}"


class Tombstone(models.Model):
    """A root that is gone, told in delta reads as {"id", "removed": true}."""

    site = models.ForeignKey("plant.Site", on_delete=models.PROTECT, related_name="+")
    no = models.BigIntegerField()
    noun = models.CharField(max_length=40)
    uuid = models.UUIDField()
    at = models.DateTimeField()

    class Meta:
        ordering = ["site", "no"]
        constraints = [models.UniqueConstraint(fields=["site", "no"], name="tombstone_number_once_per_site")]
        indexes = [models.Index(fields=["site", "noun", "no"], name="tombstone_site_noun_no")]

    def __str__(self) -> str:
        return f"{self.noun} {self.uuid} removed"


class IdempotencyKey(models.Model):
    """The answer once given to a POST, so that a repeated one gets the same."""

    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="+")
    key = models.CharField(max_length=255)
    fingerprint = models.CharField(max_length=64)
    status = models.PositiveSmallIntegerField(null=True)
    body = models.JSONField(null=True)
    etag = models.CharField(max_length=40, blank=True)
    location = models.CharField(max_length=400, blank=True)
    at = models.DateTimeField(db_index=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["person", "key"], name="idempotency_key_once_per_person")]

    def __str__(self) -> str:
        return self.key


class ExternalRef(models.Model):
    """The name another system has for one of our roots."""

    site = models.ForeignKey("plant.Site", on_delete=models.CASCADE, related_name="+")
    system = models.CharField(max_length=40)
    noun = models.CharField(max_length=40)
    key = models.CharField(max_length=120)
    subject = models.UUIDField()

    class Meta:
        ordering = ["system", "key"]
        constraints = [
            models.UniqueConstraint(fields=["site", "system", "noun", "key"], name="external_key_once_per_site"),
            models.UniqueConstraint(
                fields=["site", "system", "noun", "subject"], name="external_subject_once_per_site"
            ),
        ]
        indexes = [models.Index(fields=["subject"], name="external_subject")]

    def __str__(self) -> str:
        return f"{self.system}: {self.key}"
