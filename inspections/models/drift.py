"""What couplings did between two visits, what is believed of each from that, and what a group has in common.

All three are computed from signed records and can be computed again at any time. What a person said of a leg stands:
that it is left out, and why it moved. Components are vertical and horizontal offset [mm], vertical and horizontal
slope [mrad], of the driver-side shaft relative to the driven-side shaft.
"""

from django.conf import settings
from django.db import models
from django.db.models import Q

from inspections.models.readings import Survey
from inspections.models.visits import Visit
from plant.models.bounds import within
from plant.models.roots import Root

PERSON = settings.AUTH_USER_MODEL


class JumpCause(models.TextChoices):
    """Why a leg moved more than its history explains; common practice."""

    PIPE = "pipe-strain", "pipe strain"
    BOLT = "foundation-bolt", "foundation bolt"
    BASE = "base", "base or grout"
    BEARING = "bearing", "bearing"
    THERMAL = "thermal-state", "thermal state not as written down"
    READING = "reading", "reading wrong"
    OTHER = "other", "something else"


class Leg(Root):
    """From one survey a coupling was left with to the next it was found with: one row per such end.

    `start` and `end` are positions less the target in force, the two variances those of the readings with what the
    temperature correction adds; all four are lists of four, null where a plane was not read. [mm, mm, mrad, mrad] and
    squares. `days` and `hours` say how long it lasted by calendar and meter; hours are empty where no meter says.
    """

    class WhyNot(models.TextChoices):
        USED = "", "used"
        NO_AS_LEFT = "no-as-left", "how it was left before is not known"
        LOOSENED = "loosened", "read after the first foot, element or pipe was loosened"
        SPELL = "spell", "uncoupled, opened, or another machine or coupling in between"
        SAME_TIME = "same-time", "no time in between"
        NOT_READ = "not-read", "no plane was read at both ends"
        LEFT_OUT = "left-out", "left out by a person"

    coupling = models.ForeignKey("couplings.Coupling", on_delete=models.PROTECT, related_name="legs")
    from_visit = models.ForeignKey(Visit, on_delete=models.PROTECT, null=True, related_name="legs_from")
    from_survey = models.ForeignKey(
        Survey, on_delete=models.PROTECT, null=True, related_name="+", help_text="Empty where an old card says it."
    )
    to_visit = models.ForeignKey(Visit, on_delete=models.PROTECT, related_name="legs_to")
    to_survey = models.ForeignKey(Survey, on_delete=models.PROTECT, related_name="+")
    from_on = models.DateField(null=True)
    to_on = models.DateField()
    days = models.FloatField(null=True)
    hours = models.FloatField(null=True, help_text="Run hours in between.")
    move_offset_v_mm = models.FloatField(null=True)
    move_offset_h_mm = models.FloatField(null=True)
    move_slope_v_mrad = models.FloatField(null=True)
    move_slope_h_mrad = models.FloatField(null=True)
    start = models.JSONField(default=list)
    end = models.JSONField(default=list)
    start_variance = models.JSONField(default=list)
    end_variance = models.JSONField(default=list)
    reset = models.BooleanField(
        default=True, help_text="It starts from a new reading, not from the one in which the leg before ended."
    )
    from_corrected = models.BooleanField(default=False, help_text="Brought to the reference temperature.")
    to_corrected = models.BooleanField(default=False)
    legacy = models.BooleanField(default=False, help_text="One end is an old figure without its readings.")
    why_not = models.CharField(max_length=12, blank=True, choices=WhyNot)
    distance = models.FloatField(null=True, help_text="Squared standard deviations it misses its prediction by.")
    probability = models.FloatField(null=True, help_text="Of a miss as large or larger.")
    moved_share = models.FloatField(null=True, help_text="Of the tolerance.")
    z = models.JSONField(default=list, help_text="Standard deviations per component.")
    jump = models.BooleanField(default=False)
    cause = models.CharField(max_length=16, blank=True, choices=JumpCause)
    cause_note = models.CharField(max_length=200, blank=True)
    cause_by = models.ForeignKey(PERSON, on_delete=models.PROTECT, null=True, related_name="+")
    cause_at = models.DateTimeField(null=True)
    left_out_reason = models.CharField(max_length=200, blank=True)
    left_out_by = models.ForeignKey(PERSON, on_delete=models.PROTECT, null=True, related_name="+")
    left_out_at = models.DateTimeField(null=True)

    class Meta(Root.Meta):
        ordering = ["coupling", "to_on", "id"]
        constraints = [
            models.UniqueConstraint(fields=["to_visit"], name="one_leg_per_end"),
            models.CheckConstraint(
                condition=Q(left_out_at__isnull=True) | ~Q(left_out_reason=""), name="leg_left_out_with_a_reason"
            ),
            models.CheckConstraint(condition=Q(cause_at__isnull=True) | ~Q(cause=""), name="leg_cause_is_named"),
            within("days", 0, 100_000),
            within("hours", 0, 2_000_000),
            within("move_offset_v_mm", -2_000, 2_000),
            within("move_offset_h_mm", -2_000, 2_000),
            within("move_slope_v_mrad", -2_000, 2_000),
            within("move_slope_h_mrad", -2_000, 2_000),
            within("distance", 0, 1e12),
            within("probability", 0, 1),
            within("moved_share", 0, 1e6),
        ]

    def __str__(self) -> str:
        return f"{self.coupling} {self.from_on} to {self.to_on}"

    @property
    def used(self) -> bool:
        return self.why_not == ""


class GroupFit(Root):
    """What couplings of one group have in common, as one weekly fit found it; all fits are kept.

    `site` is whose couplings go by it. Lists have one number per component: `rate` m and `rate_error` the variance of
    that mean, `rate_variance` tau^2 among couplings, `diffusion` q, `jump_variance` of one jump, `left_variance` of
    how far from the target couplings are left; in mm or mrad per year of the clock, and squares.
    """

    class Level(models.TextChoices):
        KIND = "kind", "supports and machines of one kind"
        SITE = "site", "the site"
        ALL = "all", "all sites"

    level = models.CharField(max_length=4, choices=Level)
    key = models.CharField(max_length=300, blank=True, help_text="Which kind; empty for site and all.")
    by_hours = models.BooleanField(default=False, help_text="Years are of 8766 run hours, not of the calendar.")
    rate = models.JSONField()
    rate_error = models.JSONField()
    rate_variance = models.JSONField()
    diffusion = models.JSONField()
    jump_variance = models.JSONField()
    left_variance = models.JSONField()
    jumps_per_year = models.FloatField()
    couplings = models.PositiveIntegerField(help_text="That have a leg.")
    legs = models.PositiveIntegerField()
    flagged = models.PositiveIntegerField(help_text="Legs set down as jumps.")
    log_likelihood = models.FloatField()
    fitted_on = models.DateField()
    fitted_at = models.DateTimeField()
    current = models.BooleanField(default=True)

    class Meta(Root.Meta):
        ordering = ["site", "level", "key", "-fitted_at"]
        constraints = [
            models.UniqueConstraint(
                fields=["site", "level", "key"], condition=Q(current=True), name="one_current_fit_per_group"
            ),
            within("jumps_per_year", 0, 1_000),
            within("log_likelihood", -1e12, 1e12),
        ]

    def __str__(self) -> str:
        return f"{self.get_level_display()} {self.key}, {self.fitted_on}".strip()


class DriftState(Root):
    """What is believed of one coupling as it was last left, and what follows from it; one row per coupling.

    Nothing in it changes by the day alone: times count from `left_on`. `limits` has the rows of
    `inspections.forecasting.envelope.Envelope`, `kept` the sums of the filter and `belief` the normal law of position
    and rate (inspections/forecasting/posterior.py), lists of one number per component. `curve` has pairs of days since
    `left_on` and the chance of having been out of tolerance by then.
    """

    class Why(models.TextChoices):
        KNOWN = "", "forecast"
        NO_SURVEY = "no-survey", "how it stands now was not measured"
        NO_LIMITS = "no-limits", "no limits are set"
        NO_FIT = "no-fit", "no group was fitted yet"

    coupling = models.OneToOneField("couplings.Coupling", on_delete=models.PROTECT, related_name="drift_state")
    why_not = models.CharField(max_length=12, blank=True, choices=Why)
    fit = models.ForeignKey(
        GroupFit, on_delete=models.PROTECT, null=True, related_name="+", help_text="Whose parameters were used."
    )
    of_fit = models.ForeignKey(
        "couplings.Fit", on_delete=models.PROTECT, null=True, related_name="+", help_text="What is fitted there."
    )
    sheet_version = models.ForeignKey("couplings.SheetVersion", on_delete=models.PROTECT, null=True, related_name="+")
    legs = models.PositiveIntegerField(default=0, help_text="Legs used.")
    longest_days = models.FloatField(default=0, help_text="Longest leg used.")
    left_on = models.DateField(null=True)
    left_survey = models.ForeignKey(Survey, on_delete=models.PROTECT, null=True, related_name="+")
    limits = models.JSONField(default=dict)
    kept = models.JSONField(default=dict)
    belief = models.JSONField(default=dict)
    own_share = models.FloatField(null=True, help_text="Weight of its own legs in its rate, 0 to 1.")
    pace_share = models.FloatField(null=True, help_text="Of the tolerance that its mean rate uses in a year.")
    pace_chance = models.FloatField(null=True, help_text="Of rates as large or larger where it did not drift at all.")
    hours_per_day = models.FloatField(null=True, help_text="By which run hours became dates; empty: calendar.")
    hours_guessed = models.BooleanField(default=False, help_text="A leg's run hours were not known.")
    used_left = models.JSONField(default=list, help_text="Tolerance used as left: middle, low, high of 90 %.")
    used_due = models.JSONField(default=list, help_text="The same on the drift due date.")
    curve = models.JSONField(default=list)
    risk = models.FloatField(null=True, help_text="Chance of being out of tolerance that is accepted.")
    due_on = models.DateField(null=True)
    due_by = models.CharField(max_length=8, blank=True, help_text="risk, shortest or longest.")
    straight_on = models.DateField(null=True, help_text="When a straight line reaches 70 % of the tolerance.")
    extrapolated = models.BooleanField(default=False, help_text="Due lies past twice the longest leg.")
    jumps = models.JSONField(default=list, help_text="Legs not explained and without a cause yet, with evidence.")
    crosses_on = models.DateField(null=True, help_text="When something about it changes with the day alone.")

    class Meta(Root.Meta):
        ordering = ["coupling"]
        indexes = [*Root.Meta.indexes, models.Index(fields=["site", "crosses_on"], name="drift_site_crosses")]
        constraints = [
            within("longest_days", 0, 100_000),
            within("own_share", 0, 1),
            within("pace_share", 0, 1e6),
            within("pace_chance", 0, 1),
            within("hours_per_day", 0, 24),
            within("risk", 0, 1),
        ]

    def __str__(self) -> str:
        return f"{self.coupling}: {self.legs} legs"
