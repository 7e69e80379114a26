"""Where other programs want to be told what happened, and what was sent to them."""

from django.db import models
from django.db.models import F, Q

from plant.models.history import kept_history
from plant.models.journal import Event
from plant.models.roots import Root


class Webhook(Root):
    """One address that is told a site's events. Its secret signs what is sent and never leaves by a list."""

    name = models.CharField(max_length=80)
    url = models.CharField(max_length=500)
    kinds = models.JSONField(default=list, blank=True, help_text="Kinds of event it is told; empty: all.")
    active = models.BooleanField(default=True)
    secret = models.CharField(max_length=120, editable=False)
    old_secret = models.CharField(max_length=120, blank=True, editable=False)
    old_secret_until = models.DateTimeField(
        null=True, blank=True, editable=False, help_text="Until then both secrets sign."
    )
    failures = models.PositiveIntegerField(default=0, editable=False, help_text="In a row, of the address itself.")
    rests_until = models.DateTimeField(null=True, blank=True, editable=False)
    stopped_why = models.CharField(max_length=200, blank=True, editable=False)
    history = kept_history(
        excluded_fields=["changed_no", "secret", "old_secret", "old_secret_until", "failures", "rests_until"]
    )

    class Meta(Root.Meta):
        ordering = ["name"]
        constraints = [models.UniqueConstraint(fields=["site", "name"], name="webhook_name_once_per_site")]

    def __str__(self) -> str:
        return self.name

    def wants(self, kind: str) -> bool:
        """Whether it is told events of this kind."""
        return self.active and (not self.kinds or kind in self.kinds)


class AllowedHost(models.Model):
    """A host inside the plant's own network that webhooks of this site may reach; others inside are refused."""

    site = models.ForeignKey("plant.Site", on_delete=models.CASCADE, related_name="allowed_hosts")
    host = models.CharField(max_length=253)
    reason = models.CharField(max_length=200)
    history = kept_history()

    class Meta:
        ordering = ["site", "host"]
        constraints = [models.UniqueConstraint(fields=["site", "host"], name="allowed_host_once_per_site")]

    def __str__(self) -> str:
        return self.host


class Delivery(models.Model):
    """One event on its way to one address. Those of one lane go one after the other, in the order of their numbers."""

    class State(models.TextChoices):
        WAITING = "waiting", "waiting"
        SENT = "sent", "sent"
        ASIDE = "aside", "set aside"

    webhook = models.ForeignKey(Webhook, on_delete=models.CASCADE, related_name="deliveries")
    event = models.ForeignKey(Event, on_delete=models.CASCADE, null=True, related_name="deliveries")
    lane = models.CharField(max_length=40, help_text="The coupling's UUID; events about the site share one lane.")
    no = models.BigIntegerField(help_text="The event's number: its place in the lane.")
    state = models.CharField(max_length=8, choices=State, default=State.WAITING)
    next_at = models.DateTimeField()
    attempts = models.PositiveIntegerField(default=0)
    refused_since = models.DateTimeField(null=True, help_text="Since when the address refuses just this event.")
    lease = models.UUIDField(null=True)
    leased_until = models.DateTimeField(null=True)
    settled_at = models.DateTimeField(null=True)
    replayed = models.PositiveSmallIntegerField(default=0)

    class Meta:
        ordering = ["-id"]
        constraints = [
            models.UniqueConstraint(fields=["webhook", "event"], name="delivery_once_per_event"),
            models.CheckConstraint(
                condition=Q(state="waiting", settled_at__isnull=True)
                | (~Q(state="waiting") & Q(settled_at__isnull=False)),
                name="delivery_settled_when_not_waiting",
            ),
        ]
        indexes = [
            models.Index(fields=["webhook", "lane", "no", "id"], name="delivery_waiting", condition=Q(state="waiting")),
            models.Index(fields=["next_at"], name="delivery_next", condition=Q(state="waiting")),
            models.Index(F("webhook"), F("id").desc(), name="delivery_log"),
        ]

    def __str__(self) -> str:
        return f"{self.event or 'test'} to {self.webhook}"


class Attempt(models.Model):
    """One time something was sent: what the address answered, or why it could not be reached."""

    delivery = models.ForeignKey(Delivery, on_delete=models.CASCADE, related_name="tries")
    at = models.DateTimeField()
    status = models.PositiveSmallIntegerField(null=True)
    said = models.CharField(max_length=300, blank=True)
    milliseconds = models.PositiveIntegerField(default=0)

    class Meta:
        ordering = ["-at", "-id"]

    def __str__(self) -> str:
        return f"{self.status or self.said}"
