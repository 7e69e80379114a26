"""Trains of machines on feet, and the meters that count their running."""

import uuid

from django.conf import settings
from django.db import models

from plant.models.bounds import within
from plant.models.history import kept_history
from plant.models.roots import Root
from plant.models.sites import Site


class Train(Root):
    class Criticality(models.TextChoices):
        A = "A", "A: stops the plant"
        B = "B", "B: costs output"
        C = "C", "C: can wait"

    class Service(models.TextChoices):
        IN = "in", "in service"
        OUT = "out", "out of service"
        UNCOUPLED = "uncoupled", "uncoupled"

    area = models.ForeignKey("plant.Area", on_delete=models.PROTECT, related_name="trains")
    tag = models.CharField(max_length=40)
    name = models.CharField(max_length=120, blank=True)
    criticality = models.CharField(max_length=1, choices=Criticality, default=Criticality.B)
    service = models.CharField(max_length=10, choices=Service, default=Service.IN)
    cautions = models.TextField(blank=True, help_text="What can hurt somebody here: heat, pressure, stored energy.")
    history = kept_history(excluded_fields=["changed_no"])

    class Meta(Root.Meta):
        ordering = ["tag"]
        constraints = [models.UniqueConstraint(fields=["site", "tag"], name="train_tag_once_per_site")]

    def __str__(self) -> str:
        return self.tag


class Machine(models.Model):
    """One machine position in a train, counted from the driver end. Rides on the train's version."""

    class Role(models.TextChoices):
        DRIVER = "driver", "driver"
        DRIVEN = "driven", "driven"
        GEAR = "gear", "gear unit"

    class Mounting(models.TextChoices):
        FEET = "feet", "horizontal, on feet"
        VERTICAL = "vertical", "vertical"
        FLANGE = "flange", "flange-mounted"

    uuid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    train = models.ForeignKey(Train, on_delete=models.CASCADE, related_name="machines")
    position = models.PositiveSmallIntegerField(help_text="1 is the driver end.")
    name = models.CharField(max_length=60, help_text="What the crew calls it: motor, pump, gear unit, fan.")
    role = models.CharField(max_length=8, choices=Role, default=Role.DRIVEN)
    mounting = models.CharField(max_length=8, choices=Mounting, default=Mounting.FEET)
    movable = models.BooleanField(default=False)
    shaft_length_mm = models.FloatField(
        null=True, blank=True, help_text="From the driver-side shaft end to the driven-side shaft end."
    )
    rpm = models.FloatField(
        null=True, blank=True, help_text="Highest speed; of a gear unit that of its driver-side shaft."
    )
    lowest_rpm = models.FloatField(null=True, blank=True, help_text="Only where the speed varies.")
    power_kw = models.FloatField(null=True, blank=True, help_text="On its driver-side shaft, or of a driver.")
    driven_rpm = models.FloatField(null=True, blank=True, help_text="Of a gear unit only: that of its driven side.")
    driven_lowest_rpm = models.FloatField(null=True, blank=True, help_text="Only where the speed varies.")
    driven_power_kw = models.FloatField(null=True, blank=True, help_text="What goes on; left empty: all of it.")
    support_material = models.CharField(
        max_length=40,
        blank=True,
        choices=Site.SupportMaterial,
        help_text="Of its frame and pedestals; left blank: the site's.",
    )
    history = kept_history()

    class Meta:
        ordering = ["train", "position"]
        constraints = [
            models.UniqueConstraint(fields=["train", "position"], name="machine_position_once_per_train"),
            # 0 is where a machine waits while others change places: no column can hold two at one position.
            models.CheckConstraint(condition=models.Q(position__gte=0, position__lte=6), name="machine_position_to_6"),
            within("shaft_length_mm", 1, 50_000),
            within("rpm", 1, 200_000),
            within("lowest_rpm", 0, 200_000),
            within("power_kw", 0.001, 1e6),
            within("driven_rpm", 1, 200_000),
            within("driven_lowest_rpm", 0, 200_000),
            within("driven_power_kw", 0.001, 1e6),
        ]

    def __str__(self) -> str:
        return f"{self.train} {self.position} {self.name}"


class FootPlane(models.Model):
    """A pair of feet at one distance along the machine."""

    machine = models.ForeignKey(Machine, on_delete=models.CASCADE, related_name="foot_planes")
    name = models.CharField(max_length=40)
    distance_mm = models.FloatField(help_text="From the machine's driver-side shaft end, along the shaft.")
    support_height_mm = models.FloatField(null=True, blank=True, help_text="From the base to the shaft's centreline.")

    class Meta:
        ordering = ["machine", "distance_mm"]
        constraints = [
            models.UniqueConstraint(fields=["machine", "name"], name="foot_plane_name_once_per_machine"),
            models.UniqueConstraint(fields=["machine", "distance_mm"], name="foot_plane_distance_once_per_machine"),
            within("distance_mm", -5_000, 50_000),
            within("support_height_mm", 1, 20_000),
        ]

    def __str__(self) -> str:
        return f"{self.machine} {self.name}"


class Meter(Root):
    """The hour meter of a train."""

    train = models.OneToOneField(Train, on_delete=models.PROTECT, related_name="meter")

    class Meta(Root.Meta):
        pass

    def __str__(self) -> str:
        return f"hour meter of {self.train}"


class MeterReadingQuerySet(models.QuerySet):
    def counted(self) -> "MeterReadingQuerySet":
        """Readings that stand; struck ones are kept and shown, and count for nothing."""
        return self.filter(struck_at__isnull=True)


class MeterReading(models.Model):
    meter = models.ForeignKey(Meter, on_delete=models.CASCADE, related_name="readings")
    at = models.DateTimeField()
    hours = models.FloatField(help_text="As shown on the meter.")
    offset_hours = models.FloatField(default=0, help_text="Added since the meter was replaced.")
    struck_at = models.DateTimeField(null=True, blank=True, help_text="When it was struck as a mistake.")
    struck_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    struck_reason = models.CharField(max_length=200, blank=True)

    objects = MeterReadingQuerySet.as_manager()

    class Meta:
        ordering = ["meter", "at"]
        constraints = [
            models.UniqueConstraint(
                fields=["meter", "at"],
                condition=models.Q(struck_at__isnull=True),
                name="meter_reading_once_per_time_unless_struck",
            ),
            models.CheckConstraint(
                condition=models.Q(struck_at__isnull=True) | ~models.Q(struck_reason=""),
                name="meter_reading_struck_with_reason",
            ),
            within("hours", 0, 2_000_000),
            within("offset_hours", -2_000_000, 2_000_000),
        ]

    def __str__(self) -> str:
        return f"{self.hours:g} h"
