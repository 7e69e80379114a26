"""Machines as things with a serial number, and the positions they stood in."""

import uuid

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from plant.models.history import kept_history
from plant.models.roots import Root
from plant.models.trains import Machine


class MachineUnit(Root):
    """One motor, pump or gear unit by its serial number, wherever it stands. A `Machine` is a position in a train."""

    kind = models.CharField(max_length=60, help_text="What it is: motor, pump, gear unit.")
    serial = models.CharField(max_length=60, help_text="Serial number, as on its plate.")
    plate = models.TextField(blank=True, max_length=2000, help_text="What else its plate says.")
    note = models.TextField(blank=True, max_length=2000)
    history = kept_history(excluded_fields=["changed_no"])

    class Meta(Root.Meta):
        ordering = ["kind", "serial"]
        constraints = [
            models.UniqueConstraint(fields=["site", "kind", "serial"], name="unit_serial_once_per_site_and_kind")
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.serial}"


class UnitStay(models.Model):
    """One stretch of time that a unit stood in one machine position. Rides on the unit's version."""

    uuid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    site = models.ForeignKey("plant.Site", on_delete=models.PROTECT, related_name="+")
    unit = models.ForeignKey(MachineUnit, on_delete=models.PROTECT, related_name="stays")
    machine = models.ForeignKey(Machine, on_delete=models.PROTECT, related_name="stays")
    from_at = models.DateTimeField(null=True, blank=True, help_text="Empty: since before the record began.")
    until_at = models.DateTimeField(null=True, blank=True)
    came_with_hub = models.BooleanField(null=True, blank=True, help_text="It arrived with its hub half on.")
    left_with_hub = models.BooleanField(null=True, blank=True, help_text="Its hub half stayed on it when it left.")
    reason = models.CharField(max_length=200, blank=True, help_text="Why it was taken out.")
    went_to = models.CharField(max_length=120, blank=True, help_text="Where it went: workshop, store, scrap.")
    came_told_at = models.DateTimeField(help_text="When it was entered that it came.")
    left_told_at = models.DateTimeField(null=True, blank=True, help_text="When it was entered that it left.")
    installed_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    taken_out_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    history = kept_history()

    class Meta:
        ordering = ["unit", F("from_at").asc(nulls_first=True), "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["machine"], condition=Q(until_at__isnull=True), name="one_unit_per_machine_position"
            ),
            models.UniqueConstraint(
                fields=["unit"], condition=Q(until_at__isnull=True), name="one_machine_position_per_unit"
            ),
            models.CheckConstraint(
                condition=Q(until_at__isnull=True) | Q(from_at__isnull=True) | Q(until_at__gte=F("from_at")),
                name="unit_stay_ends_after_it_began",
            ),
        ]
        indexes = [
            models.Index(fields=["machine", "from_at"], name="unit_stay_machine_from"),
            models.Index(fields=["machine", "until_at"], name="unit_stay_machine_until"),
        ]

    def __str__(self) -> str:
        return f"{self.unit} at {self.machine}"
