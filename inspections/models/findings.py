"""The other facts of a visit, by step: placement, set screws, torques, the element."""

from django.db import models
from django.db.models import Q

from couplings.models import Element
from inspections.models.records import SignedRecord
from inspections.models.visits import Visit
from plant.models.bounds import within

SIDES = [("driver", "driver side"), ("driven", "driven side")]
ORIENTATIONS = [("in", "flange towards the other hub"), ("reversed", "flange away from the other hub")]


class Fact(models.Model):
    """A measurement row below a signed record; an amendment writes rows of its own."""

    visit = models.ForeignKey(Visit, on_delete=models.PROTECT, related_name="%(class)ss")
    record = models.ForeignKey(SignedRecord, on_delete=models.PROTECT, related_name="%(class)ss")

    class Meta:
        abstract = True


class Placement(Fact):
    dbse_mm = models.FloatField(null=True, help_text="Distance between shaft ends with the rotor in place.")
    driver_engagement_mm = models.FloatField(null=True, help_text="Bore length on the shaft.")
    driven_engagement_mm = models.FloatField(null=True)
    driver_share = models.FloatField(null=True)
    driven_share = models.FloatField(null=True)
    driver_orientation = models.CharField(max_length=8, choices=ORIENTATIONS, blank=True)
    driven_orientation = models.CharField(max_length=8, choices=ORIENTATIONS, blank=True)
    hub_face_gap_mm = models.FloatField(
        null=True, help_text="Between the hubs' faces, from the figures above; empty where they only say a least."
    )

    gaps = models.JSONField(null=True, blank=True, help_text="Gaps round the coupling: where, as typed, mm.")
    gap_between = models.CharField(
        max_length=10, blank=True, choices=[("shaft-ends", "shaft ends"), ("hub-faces", "hub faces")]
    )
    rotor_from_place_mm = models.FloatField(null=True, help_text="From its place towards the coupling.")
    rotor_float_mm = models.FloatField(null=True, help_text="Total float of the rotor.")
    axial_growth_mm = models.FloatField(null=True, help_text="Both shafts towards each other when hot.")
    gap_in_place_mm = models.FloatField(null=True, help_text="Mean gap with the rotor in its place, cold.")
    gap_hot_mm = models.FloatField(null=True, help_text="The same less the growth: as it runs.")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["record"], name="one_placement_per_record"),
            within("rotor_from_place_mm", -500, 500),
            within("rotor_float_mm", 0, 500),
            within("axial_growth_mm", -50, 50),
            within("gap_in_place_mm", -500, 21_000),
            within("gap_hot_mm", -600, 21_000),
            within("dbse_mm", 0, 20_000),
            within("driver_engagement_mm", 0, 5_000),
            within("driven_engagement_mm", 0, 5_000),
            within("driver_share", 0, 1),
            within("driven_share", 0, 1),
            within("hub_face_gap_mm", 0, 20_000),
        ]

    def __str__(self) -> str:
        return f"{self.visit} placement"


class SetScrew(Fact):
    side = models.CharField(max_length=6, choices=SIDES)
    count = models.PositiveSmallIntegerField()
    torque_nm = models.FloatField(null=True)
    instrument = models.ForeignKey("couplings.Instrument", on_delete=models.PROTECT, null=True, related_name="+")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["record", "side"], name="one_set_screw_fact_per_side"),
            within("torque_nm", 0, 1e5),
        ]

    def __str__(self) -> str:
        return f"{self.visit} set screws {self.side}"


class Torque(Fact):
    """A torque a click wrench was set to (one fact for the pattern), or one read at one position."""

    class How(models.TextChoices):
        SET = "set", "set on a click wrench"
        READ = "read", "read on a dial or electronic wrench"

    class Found(models.TextChoices):
        MOVED = "moved", "moved before the click"
        TURNED_OUT = "turned-out", "found turned out, tightened anew"

    joint = models.CharField(max_length=60)
    how = models.CharField(max_length=4, choices=How)
    position = models.PositiveSmallIntegerField(null=True, help_text="Empty: the whole pattern.")
    torque_nm = models.FloatField()
    instrument = models.ForeignKey("couplings.Instrument", on_delete=models.PROTECT, null=True, related_name="+")
    out_of_calibration = models.BooleanField(default=False)
    found = models.CharField(max_length=10, choices=Found, blank=True)
    specified_nm = models.FloatField(null=True, help_text="At the wrench, by the data sheet.")
    first_nm = models.FloatField(null=True, help_text="This position's own first re-check since it was tightened anew.")
    u_nm = models.FloatField(null=True, help_text="Standard uncertainty of the wrench at this torque.")
    verdict = models.CharField(max_length=18, blank=True)
    reason = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["record", "joint", "position"]
        constraints = [
            models.UniqueConstraint(
                fields=["record", "joint", "position"],
                condition=Q(position__isnull=False),
                name="one_torque_per_joint_and_position",
            ),
            # By a condition, because SQLite knows no unique constraint in which nulls are alike.
            models.UniqueConstraint(
                fields=["record", "joint"], condition=Q(position__isnull=True), name="one_pattern_torque_per_joint"
            ),
            models.CheckConstraint(
                condition=~Q(how="read") | Q(position__isnull=False), name="read_torque_names_its_position"
            ),
            models.CheckConstraint(
                condition=Q(found="") | Q(position__isnull=False), name="screw_that_moved_names_its_position"
            ),
            within("torque_nm", 0, 1e6),
        ]

    def __str__(self) -> str:
        return f"{self.joint} {self.torque_nm:g} N·m"


class JointLook(Fact):
    """A joint that must not be tightened again was looked at: what its witness lines and screws showed."""

    class Seen(models.TextChoices):
        UNDISTURBED = "undisturbed", "undisturbed, every witness line meets"
        MOVED = "moved", "a witness line has moved"
        LOOSE = "loose", "found loose"

    joint = models.CharField(max_length=60)
    seen = models.CharField(max_length=11, choices=Seen)
    positions = models.JSONField(default=list, help_text="Where it was moved or loose.")
    verdict = models.CharField(max_length=18)
    rule = models.CharField(max_length=400, blank=True, help_text="Why it must not be checked by a wrench.")

    class Meta:
        ordering = ["record", "joint"]
        constraints = [models.UniqueConstraint(fields=["record", "joint"], name="one_look_per_joint")]

    def __str__(self) -> str:
        return f"{self.joint}: {self.get_seen_display()}"


class ElementFact(Fact):
    class Act(models.TextChoices):
        FITTED = "fitted", "new element fitted"
        KEPT = "kept", "element kept"

    act = models.CharField(max_length=6, choices=Act)
    part_number = models.CharField(max_length=60, blank=True)
    batch = models.CharField(max_length=60, blank=True)
    cured_on = models.DateField(null=True)
    removal_reason = models.CharField(max_length=200, blank=True)
    went_to = models.CharField(max_length=120, blank=True)
    removal_code = models.CharField(max_length=30, blank=True, help_text="The site's reason for it.")
    removal_finding = models.CharField(max_length=300, blank=True)
    went = models.CharField(max_length=8, choices=Element.Went, blank=True)
    lot = models.CharField(max_length=36, blank=True, help_text="Of the stores, by its id outside.")

    class Meta:
        constraints = [models.UniqueConstraint(fields=["record"], name="one_element_fact_per_record")]

    def __str__(self) -> str:
        return f"{self.visit} element {self.act}"
