"""Alignment as taken: surveys, their sets of readings, each reading, and what was computed from them."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from inspections.models.records import SignedRecord
from inspections.models.visits import Visit
from plant.models.bounds import within


class Survey(models.Model):
    """One set of alignment readings. As-found and as-left are roles; all others are rounds, and all are kept."""

    site = models.ForeignKey("plant.Site", on_delete=models.PROTECT, related_name="+")
    visit = models.ForeignKey(Visit, on_delete=models.PROTECT, related_name="surveys")
    record = models.ForeignKey(SignedRecord, on_delete=models.PROTECT, related_name="surveys")
    number = models.PositiveSmallIntegerField(help_text="Round, from 1.")
    as_found = models.BooleanField(default=False)
    as_left = models.BooleanField(default=False)
    method = models.CharField(max_length=20)
    stationary = models.CharField(max_length=6, choices=[("driver", "driver side"), ("driven", "driven side")])
    viewed_from = models.CharField(max_length=10, choices=[("movable", "movable"), ("stationary", "stationary")])
    positions = models.CharField(
        max_length=7,
        blank=True,
        choices=[("", "clock"), ("compass", "compass points")],
        help_text="Compass points on upright and flange-mounted machines: N at 0, E at 90 degrees. Vertical figures "
        "are then those towards north, horizontal ones towards east.",
    )
    north_is = models.CharField(max_length=60, blank=True, help_text="What N stands for, where not the plant's north.")
    taken_at = models.DateTimeField(null=True)
    loosened_at = models.DateTimeField(null=True, help_text="When the first foot, element or pipe was loosened.")
    driver_support_degc = models.FloatField(null=True)
    driven_support_degc = models.FloatField(null=True)
    stopped_hours = models.FloatField(null=True)
    observer = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    read_by = models.CharField(max_length=80, blank=True, help_text="Who took these readings, where it is said.")

    class Meta:
        ordering = ["record", "number"]
        constraints = [
            models.UniqueConstraint(fields=["record", "number"], name="one_survey_per_round"),
            models.UniqueConstraint(fields=["record"], condition=Q(as_found=True), name="one_as_found_per_record"),
            models.UniqueConstraint(fields=["record"], condition=Q(as_left=True), name="one_as_left_per_record"),
            within("driver_support_degc", -80, 400),
            within("driven_support_degc", -80, 400),
            within("stopped_hours", 0, 1e6),
        ]

    def __str__(self) -> str:
        return f"{self.visit} round {self.number}"


class ReadingSet(models.Model):
    survey = models.ForeignKey(Survey, on_delete=models.PROTECT, related_name="sets")
    number = models.PositiveSmallIntegerField()
    kind = models.CharField(max_length=12)
    carried_by = models.CharField(max_length=10, blank=True)
    plane = models.CharField(max_length=1, blank=True)
    surface = models.CharField(max_length=4, blank=True)
    x_mm = models.FloatField(null=True)
    swing_radius_mm = models.FloatField(null=True)
    distance_mm = models.FloatField(null=True)
    sag_mm = models.FloatField(default=0)
    sag_u_mm = models.FloatField(default=0)
    u_mm = models.FloatField(null=True, help_text="Standard uncertainty of one reading.")
    half = models.BooleanField(default=False)
    return_to_zero_mm = models.FloatField(null=True)
    bracket = models.CharField(max_length=80, blank=True, help_text="Sets on one bracket share the error of its sag.")
    instrument = models.ForeignKey("couplings.Instrument", on_delete=models.PROTECT, null=True, related_name="+")

    class Meta:
        ordering = ["survey", "number"]
        constraints = [
            models.UniqueConstraint(fields=["survey", "number"], name="one_reading_set_per_number"),
            within("x_mm", -20_000, 20_000),
            within("swing_radius_mm", 1, 10_000),
            within("distance_mm", -20_000, 20_000),
            within("sag_mm", -25, 25),
            within("sag_u_mm", 0, 5),
            within("u_mm", 0.00001, 5),
            within("return_to_zero_mm", -25, 25),
        ]

    def __str__(self) -> str:
        return f"{self.survey} set {self.number}"


class Reading(models.Model):
    set = models.ForeignKey(ReadingSet, on_delete=models.PROTECT, related_name="readings")
    angle_deg = models.FloatField(help_text="Clockwise from 12 as the movable machine's observer sees it.")
    turned = models.BooleanField(default=False)
    typed = models.CharField(max_length=40)
    mm = models.FloatField()
    opposed_typed = models.CharField(max_length=40, blank=True)
    opposed_mm = models.FloatField(null=True, help_text="A second face dial half a turn away, read with the first.")

    class Meta:
        ordering = ["set", "angle_deg"]
        constraints = [
            models.UniqueConstraint(fields=["set", "angle_deg", "turned"], name="one_reading_per_position"),
            within("angle_deg", 0, 360),
            within("mm", -100, 100),
            within("opposed_mm", -100, 100),
        ]

    def __str__(self) -> str:
        return f"{self.angle_deg:g}°: {self.mm:g} mm"


class SurveyResult(models.Model):
    """What the readings gave, in the record's frame: the driver-side shaft relative to the driven-side shaft, seen from
    the driver end. A plane that was not read stays empty. Only inserted, never changed. Where `correction` was applied
    the four numbers are at its reference temperature: less what it added they are as read."""

    class Verdict(models.TextChoices):
        IN = "in tolerance", "in tolerance"
        CLOSE = "too close to call", "too close to call"
        OUT = "out of tolerance", "out of tolerance"
        UNKNOWN = "not known", "not known"

    survey = models.OneToOneField(Survey, on_delete=models.PROTECT, related_name="result")
    rule_version = models.CharField(max_length=20)
    offset_v_mm = models.FloatField(null=True)
    offset_h_mm = models.FloatField(null=True)
    slope_v_mrad = models.FloatField(null=True)
    slope_h_mrad = models.FloatField(null=True)
    covariance = models.JSONField(
        help_text="Ten numbers, upper triangle by rows of (offset v, offset h, slope v, slope h); null where not known."
    )
    target_offset_v_mm = models.FloatField(default=0)
    target_offset_h_mm = models.FloatField(default=0)
    target_slope_v_mrad = models.FloatField(default=0)
    target_slope_h_mrad = models.FloatField(default=0)
    tolerance_used = models.FloatField(null=True)
    probability = models.FloatField(null=True)
    confidence = models.FloatField()
    decision = models.CharField(max_length=8, choices=[("guarded", "guarded"), ("simple", "simple")])
    verdict = models.CharField(max_length=18, choices=Verdict)
    sheet_verdict = models.CharField(max_length=18, choices=Verdict)
    grade_verdict = models.CharField(max_length=18, choices=Verdict)
    reason = models.CharField(max_length=300, blank=True)
    lines = models.JSONField(default=list, help_text="Every limit judged: quantity, family, value, u, limit, verdict.")
    quality = models.JSONField(default=list, help_text="Per set: closure, return to zero, residual, arc, warnings.")
    correction = models.JSONField(
        null=True,
        blank=True,
        help_text="What was added for temperature, with its covariance and what it rests on, or why nothing was. "
        "Empty in results of the rule alignment-1.",
    )

    class Meta:
        constraints = [
            within("offset_v_mm", -1_000, 1_000),
            within("offset_h_mm", -1_000, 1_000),
            within("slope_v_mrad", -1_000, 1_000),
            within("slope_h_mrad", -1_000, 1_000),
            within("target_offset_v_mm", -100, 100),
            within("target_offset_h_mm", -100, 100),
            within("target_slope_v_mrad", -400, 400),
            within("target_slope_h_mrad", -400, 400),
            within("tolerance_used", 0, 1e6),
            within("probability", 0, 1),
            within("confidence", 0.5, 0.999),
        ]

    def __str__(self) -> str:
        return f"{self.survey}: {self.verdict}"
