"""What is seen of a coupling while it runs: the look in passing, and the readings of a machine around a stop."""

from django.db import models

from inspections.models.findings import Fact
from plant.models.bounds import within


class RunningLook(Fact):
    """A look in passing: strobe, temperature, noise, what lies below the guard."""

    class Strobe(models.TextChoices):
        NONE = "none", "no strobe used"
        WHOLE = "whole", "element looks whole"
        CHANGED = "changed", "element looks changed"
        BROKEN = "broken", "torn, cracked or parts missing"
        HIDDEN = "hidden", "guard hides it"

    class Noise(models.TextChoices):
        USUAL = "usual", "as always"
        LOUDER = "louder", "louder than before"
        KNOCK = "knock", "knocking or rattling"
        SQUEAL = "squeal", "squealing or grinding"

    class Below(models.TextChoices):
        NOTHING = "nothing", "nothing"
        SOME = "some", "some dust"
        MUCH = "much", "much dust, crumbs or shreds"
        METAL = "metal", "metal or rust powder"

    class Leak(models.TextChoices):
        NONE = "none", "none"
        GREASE = "grease", "grease or oil of the coupling"
        OTHER = "other", "something of the machines"

    strobe = models.CharField(max_length=8, choices=Strobe, blank=True)
    noise = models.CharField(max_length=8, choices=Noise, blank=True)
    below = models.CharField(max_length=8, choices=Below, blank=True)
    leak = models.CharField(max_length=8, choices=Leak, blank=True)
    temperature_degc = models.FloatField(null=True, help_text="Of the coupling, or of the guard above it.")
    ambient_degc = models.FloatField(null=True)
    odd = models.CharField(max_length=300, blank=True, help_text="What else was out of the ordinary.")
    ordinary = models.BooleanField(help_text="Nothing of it was out of the ordinary.")
    stop_for = models.CharField(max_length=200, blank=True, help_text="What asks for a stop.")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["record"], name="one_running_look_per_record"),
            within("temperature_degc", -100, 400),
            within("ambient_degc", -100, 100),
        ]

    def __str__(self) -> str:
        return f"{self.visit} running look"


class RunningFigures(Fact):
    """Readings of the running machines, as context: they judge nothing."""

    driver_bearing_degc = models.FloatField(null=True, help_text="At the coupling's end.")
    driven_bearing_degc = models.FloatField(null=True)
    coupling_degc = models.FloatField(null=True, help_text="Of the coupling, or of the guard above it.")
    driver_vibration_mm_s = models.FloatField(null=True, help_text="Largest r.m.s. velocity at the coupling's end.")
    driven_vibration_mm_s = models.FloatField(null=True)
    current_a = models.FloatField(null=True)
    speed_rpm = models.FloatField(null=True)
    noise = models.CharField(max_length=8, choices=RunningLook.Noise, blank=True)

    class Meta:
        abstract = True
        constraints = [
            models.UniqueConstraint(fields=["record"], name="one_%(class)s_per_record"),
            within("driver_bearing_degc", -100, 400),
            within("driven_bearing_degc", -100, 400),
            within("coupling_degc", -100, 400),
            within("driver_vibration_mm_s", 0, 1_000),
            within("driven_vibration_mm_s", 0, 1_000),
            within("current_a", 0, 100_000),
            within("speed_rpm", 0, 200_000),
        ]


class Conditions(RunningFigures):
    """How the machines stood or ran when the crew came: temperatures, hours since stop, readings before the stop."""

    ambient_degc = models.FloatField(null=True)
    driver_casing_degc = models.FloatField(null=True)
    driven_casing_degc = models.FloatField(null=True)
    stopped_hours = models.FloatField(null=True)
    note = models.CharField(max_length=300, blank=True)

    class Meta(RunningFigures.Meta):
        abstract = False
        verbose_name_plural = "conditions"
        constraints = [
            *RunningFigures.Meta.constraints,
            within("ambient_degc", -100, 100),
            within("driver_casing_degc", -100, 400),
            within("driven_casing_degc", -100, 400),
            within("stopped_hours", 0, 1_000_000),
        ]

    def __str__(self) -> str:
        return f"{self.visit} conditions"


class RunUp(RunningFigures):
    """The machine ran up after a visit, looked at by somebody else and accepted: a record of its own in the chain."""

    class Outcome(models.TextChoices):
        ACCEPTED = "accepted", "accepted"
        REMARKS = "remarks", "accepted with remarks"
        REFUSED = "refused", "not accepted"

    outcome = models.CharField(max_length=8, choices=Outcome)
    ran_at = models.DateTimeField(help_text="When the readings were taken.")
    running_hours = models.FloatField(null=True, help_text="Since the start.")
    remarks = models.CharField(max_length=1000, blank=True)

    class Meta(RunningFigures.Meta):
        abstract = False
        constraints = [*RunningFigures.Meta.constraints, within("running_hours", 0, 1_000_000)]

    def __str__(self) -> str:
        return f"{self.visit} run-up {self.outcome}"

    @property
    def settles(self) -> bool:
        """Whether nothing more is waited for: one that was not accepted is tried again."""
        return self.outcome != self.Outcome.REFUSED
