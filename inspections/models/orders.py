"""Work orders: one outing at one train, with its isolation and its crew."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from plant.models.roots import Root


class WorkOrder(Root):
    class State(models.TextChoices):
        OPEN = "open", "open"
        CLOSED = "closed", "closed"

    train = models.ForeignKey("plant.Train", on_delete=models.PROTECT, related_name="work_orders")
    number = models.CharField(max_length=40)
    title = models.CharField(max_length=120, blank=True)
    state = models.CharField(max_length=8, choices=State, default=State.OPEN)
    planned_on = models.DateField(null=True, blank=True)
    permit = models.CharField(max_length=60, blank=True)
    no_permit_reason = models.CharField(
        max_length=200, blank=True, help_text="Bench work, plant never energised, test under the site's rules."
    )
    isolated_at = models.DateTimeField(null=True, blank=True)
    isolated_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    verified_at = models.DateTimeField(
        null=True, blank=True, help_text="Tried and verified dead, stored energy released."
    )
    verified_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    removed_at = models.DateTimeField(null=True, blank=True, help_text="Isolation taken off again.")
    removed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )

    class Meta(Root.Meta):
        ordering = ["-id"]
        indexes = [*Root.Meta.indexes, models.Index(fields=["site", "state"], name="order_site_state")]
        constraints = [
            models.UniqueConstraint(fields=["site", "number"], name="order_number_once_per_site"),
            models.CheckConstraint(
                condition=Q(isolated_at__isnull=True) | ~Q(permit="") | ~Q(no_permit_reason=""),
                name="isolated_only_with_permit_or_reason",
            ),
            models.CheckConstraint(
                condition=Q(verified_at__isnull=True) | Q(isolated_at__isnull=False),
                name="verified_only_when_isolated",
            ),
        ]

    def __str__(self) -> str:
        return self.number

    @property
    def isolation_stands(self) -> bool:
        return self.verified_at is not None and self.removed_at is None


class CrewMember(models.Model):
    order = models.ForeignKey(WorkOrder, on_delete=models.CASCADE, related_name="crew")
    person = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="outings"
    )
    name = models.CharField(max_length=80)
    employer = models.CharField(max_length=80, blank=True)

    class Meta:
        ordering = ["order", "name"]
        constraints = [models.UniqueConstraint(fields=["order", "name"], name="crew_member_once_per_order")]

    def __str__(self) -> str:
        return self.name
