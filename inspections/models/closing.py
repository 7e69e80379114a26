"""What surrounds the measuring: cleaning, hold-down bolts, rotation and solo run, guard; breakdowns; old cards."""

from django.db import models
from django.db.models import Q

from couplings.models import Element
from inspections.models.findings import SIDES, Fact
from plant.models.bounds import within


class Cleaning(Fact):
    """One side's shaft and hub made clean before they are measured and mounted."""

    class State(models.TextChoices):
        CLEAN = "clean", "clean and free of burrs"
        MARKED = "marked", "clean, with marks left"
        NOT_DONE = "not-done", "not cleaned"

    side = models.CharField(max_length=6, choices=SIDES)
    state = models.CharField(max_length=8, choices=State)
    agent = models.CharField(max_length=80, blank=True, help_text="What it was cleaned with.")
    found = models.CharField(max_length=300, blank=True, help_text="What was found under it.")

    class Meta:
        ordering = ["record", "side"]
        constraints = [models.UniqueConstraint(fields=["record", "side"], name="one_cleaning_per_side")]

    def __str__(self) -> str:
        return f"{self.visit} cleaning {self.side}"


class HoldDown(Fact):
    """Hold-down bolts of one machine, or of one of its feet, and its jack bolts, as left."""

    class How(models.TextChoices):
        SET = "set", "set on a click wrench"
        READ = "read", "read on a dial or electronic wrench"

    class Jacks(models.TextChoices):
        BACKED = "backed", "backed off and locked"
        TOUCHING = "touching", "left in contact"
        NONE = "none", "there are none"

    side = models.CharField(max_length=6, choices=SIDES)
    foot = models.CharField(max_length=60, blank=True, help_text="Empty: every foot of this machine.")
    torque_nm = models.FloatField(null=True)
    how = models.CharField(max_length=4, choices=How, blank=True)
    instrument = models.ForeignKey("couplings.Instrument", on_delete=models.PROTECT, null=True, related_name="+")
    out_of_calibration = models.BooleanField(default=False)
    jacks = models.CharField(max_length=8, choices=Jacks, blank=True)

    class Meta:
        ordering = ["record", "side", "foot"]
        constraints = [
            models.UniqueConstraint(fields=["record", "side", "foot"], name="one_hold_down_per_foot"),
            models.CheckConstraint(condition=Q(torque_nm__isnull=True) | ~Q(how=""), name="hold_down_torque_says_how"),
            within("torque_nm", 0, 1e6),
        ]

    def __str__(self) -> str:
        return f"{self.visit} hold-down {self.side} {self.foot}"


class Rotation(Fact):
    """Direction of rotation proved before the coupling is made up, and a driver that ran alone."""

    class Proved(models.TextChoices):
        UNCOUPLED = "uncoupled", "driver run up uncoupled"
        KNOWN = "known", "not run: nothing electrical was touched"
        NOT_YET = "not-yet", "not proved yet"

    proved = models.CharField(max_length=10, choices=Proved)
    right = models.BooleanField(null=True, help_text="It turned the way it should.")
    solo_from = models.DateTimeField(null=True)
    solo_until = models.DateTimeField(null=True)
    vibration_mm_s = models.FloatField(null=True)
    bearing_degc = models.FloatField(null=True)
    note = models.CharField(max_length=300, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["record"], name="one_rotation_per_record"),
            models.CheckConstraint(
                condition=Q(solo_until__isnull=True)
                | Q(solo_from__isnull=True)
                | Q(solo_until__gte=models.F("solo_from")),
                name="solo_run_ends_after_it_began",
            ),
            within("vibration_mm_s", 0, 1_000),
            within("bearing_degc", -100, 400),
        ]

    def __str__(self) -> str:
        return f"{self.visit} rotation {self.proved}"


class GuardState(Fact):
    """The guard as it was left."""

    class State(models.TextChoices):
        ON = "on", "on, every fastener in"
        PARTLY = "partly", "on, with parts or fasteners missing"
        OFF = "off", "not on"

    state = models.CharField(max_length=6, choices=State)
    why = models.CharField(max_length=300, blank=True, help_text="Why it is not whole, and who knows of it.")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["record"], name="one_guard_per_record"),
            models.CheckConstraint(condition=Q(state="on") | ~Q(why=""), name="guard_not_on_says_why"),
        ]

    def __str__(self) -> str:
        return f"{self.visit} guard {self.state}"


class Breakdown(Fact):
    """A coupling that failed: what a crew can know of it, and where the evidence is."""

    class Photos(models.TextChoices):
        BEFORE = "before", "taken before anything was cleaned"
        AFTER = "after", "taken, after something was cleaned or moved"
        NONE = "none", "none"

    noticed = models.CharField(max_length=500, help_text="What was noticed.")
    failed_at = models.DateTimeField(null=True)
    hours_down = models.FloatField(null=True)
    photos = models.CharField(max_length=6, choices=Photos, blank=True)
    part = models.CharField(max_length=200, blank=True, help_text="What broke.")
    went = models.CharField(max_length=8, choices=Element.Went, blank=True)
    went_to = models.CharField(max_length=120, blank=True)
    mode = models.CharField(max_length=12, blank=True, help_text="The site's codes, with their names as they were.")
    mode_name = models.CharField(max_length=80, blank=True)
    mechanism = models.CharField(max_length=12, blank=True)
    mechanism_name = models.CharField(max_length=80, blank=True)
    cause = models.CharField(max_length=12, blank=True)
    cause_name = models.CharField(max_length=80, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["record"], name="one_breakdown_per_record"),
            within("hours_down", 0, 1_000_000),
        ]

    def __str__(self) -> str:
        return f"{self.visit} breakdown"


class StatedValues(Fact):
    """What an old card says, without the readings behind it: kept as stated, never judged."""

    source = models.CharField(max_length=200, help_text="Which card, book or file, and where it lies.")
    done = models.CharField(max_length=500, blank=True, help_text="What was done, in the card's words.")
    said_verdict = models.CharField(max_length=120, blank=True, help_text="What the card itself says of the result.")
    offset_mm = models.FloatField(null=True, help_text="As the card states it.")
    slope_mrad = models.FloatField(null=True)
    gap_mm = models.FloatField(null=True)
    part_number = models.CharField(max_length=60, blank=True, help_text="Of an element fitted that day.")

    class Meta:
        verbose_name_plural = "stated values"
        constraints = [
            models.UniqueConstraint(fields=["record"], name="one_stated_values_per_record"),
            within("offset_mm", -100, 100),
            within("slope_mrad", -1_000, 1_000),
            within("gap_mm", -100, 20_000),
        ]

    def __str__(self) -> str:
        return f"{self.visit} as stated"
