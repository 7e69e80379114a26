"""What is due and why, and the policies behind it."""

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from inspections.models.visits import Visit
from plant.models.bounds import within
from plant.models.history import kept_history
from plant.models.roots import Root
from plant.models.trains import Train


class CheckKind(models.TextChoices):
    ALIGNMENT = "alignment", "Alignment"
    TORQUE = "torque", "Torque re-check"
    WEAR = "wear", "Wear, stopped"
    LOOK = "look", "Running look"
    LUBRICANT = "lubricant", "Lubricant"
    ELEMENT = "element", "Element replacement"
    FOLLOW_UP = "follow-up", "Follow-up"


class Policy(Root):
    """How often one kind of check is wanted, and when the first one after an installation."""

    class Mode(models.TextChoices):
        FIXED = "fixed", "counts from the date it was due"
        FLOATING = "floating", "counts from the day it was done"
        WINDOW = "window", "fixed in window: counts from the due date when done inside the window"

    class Mark(models.TextChoices):
        COMMON = "common practice", "common practice"
        SITE = "site", "the site's own"

    check_kind = models.CharField(max_length=12, choices=CheckKind)
    criticality = models.CharField(max_length=1, choices=Train.Criticality, blank=True, help_text="Empty: every one.")
    every_months = models.PositiveSmallIntegerField(null=True, blank=True, help_text="Empty: no regular interval.")
    mode = models.CharField(max_length=8, choices=Mode, default=Mode.WINDOW)
    window_share = models.FloatField(default=0.1, help_text="Of the interval, before and after the due date.")
    first_days = models.PositiveSmallIntegerField(null=True, blank=True, help_text="After an installation.")
    first_hours = models.FloatField(null=True, blank=True, help_text="Run hours after an installation.")
    every_hours = models.FloatField(null=True, blank=True, help_text="Run hours since it was last done.")
    after_other_work = models.BooleanField(
        default=False, help_text="The first check also after a re-alignment and after work on foundation or pipes."
    )
    defer_days = models.PositiveSmallIntegerField(
        default=90, help_text="A check may be deferred at most so many days beyond its due date; 0: not at all."
    )
    by_drift = models.BooleanField(
        default=True, help_text="Alignment: also by how fast the coupling drifts, where its surveys say so."
    )
    risk = models.FloatField(
        null=True,
        blank=True,
        help_text="Chance of being out of tolerance that is accepted until the check; empty: 1 % for criticality A, "
        "2 % for B, 5 % for C.",
    )
    shortest_days = models.PositiveSmallIntegerField(
        default=30, help_text="A date by drift comes at the earliest so many days after it was left."
    )
    longest_months = models.PositiveSmallIntegerField(
        null=True,
        blank=True,
        help_text="The interval may grow to this where the coupling's own surveys bear it out; empty: it never grows.",
    )
    needs_stop = models.BooleanField(default=True)
    crew_hours = models.FloatField(default=2)
    crew_size = models.PositiveSmallIntegerField(default=2)
    source = models.CharField(max_length=300, blank=True)
    mark = models.CharField(max_length=16, choices=Mark, default=Mark.SITE)
    history = kept_history(excluded_fields=["changed_no"])

    class Meta(Root.Meta):
        ordering = ["check_kind", "criticality"]
        verbose_name_plural = "policies"
        constraints = [
            models.UniqueConstraint(
                fields=["site", "check_kind", "criticality"], name="one_policy_per_kind_and_criticality"
            ),
            within("window_share", 0, 0.5),
            within("first_hours", 1, 100_000),
            within("every_hours", 1, 200_000),
            within("defer_days", 0, 3_650),
            within("crew_hours", 0, 1_000),
            within("risk", 0.001, 0.5),
            within("shortest_days", 1, 3_650),
            within("longest_months", 1, 240),
            models.CheckConstraint(
                condition=Q(every_months__isnull=True) | Q(every_months__gte=1, every_months__lte=240),
                name="policy_interval_1_to_240_months",
            ),
            models.CheckConstraint(
                condition=Q(first_days__isnull=True) | Q(first_days__gte=1, first_days__lte=3650),
                name="policy_first_1_to_3650_days",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_check_kind_display()}, {self.criticality or 'every criticality'}"


class Check(Root):
    """One thing to do at one coupling by one date. The sentence is rendered from code and numbers for the reader."""

    class Outcome(models.TextChoices):
        DONE = "done", "done"
        CANCELLED = "cancelled", "cancelled"

    coupling = models.ForeignKey("couplings.Coupling", on_delete=models.PROTECT, related_name="checks")
    kind = models.CharField(max_length=12, choices=CheckKind)
    opens_on = models.DateField()
    due_on = models.DateField()
    closes_on = models.DateField(help_text="Overdue after this day.")
    winner = models.CharField(max_length=20, help_text="The trigger that set the date.")
    numbers = models.JSONField(default=dict)
    runner_up = models.CharField(max_length=20, blank=True)
    runner_up_on = models.DateField(null=True, blank=True)
    settled_on = models.DateField(null=True, blank=True)
    settled_by = models.ForeignKey(Visit, on_delete=models.PROTECT, null=True, blank=True, related_name="settled")
    outcome = models.CharField(max_length=10, choices=Outcome, blank=True)
    week_on = models.DateField(null=True, blank=True, help_text="Monday of the week it is planned for.")
    cause = models.CharField(max_length=200, blank=True, help_text="Why it was cancelled.")
    skipped = models.BooleanField(default=False, help_text="Somebody cancelled it: this one date is left out.")
    deferred_until = models.DateField(null=True, blank=True)
    deferred_reason = models.CharField(max_length=200, blank=True)
    deferred_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    deferred_at = models.DateTimeField(null=True, blank=True)
    deferred_risk = models.FloatField(
        null=True,
        blank=True,
        help_text="Chance of being out of tolerance by then, as it was shown to who deferred it; empty: no forecast.",
    )
    pinned_on = models.DateField(null=True, blank=True, help_text="The day somebody planned it for; it stays there.")
    ordered_on = models.DateField(null=True, blank=True, help_text="The date the work-order system gave.")
    owner = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="checks"
    )
    announced_for = models.DateField(null=True, blank=True, help_text="The due date last told outside.")
    overdue_told_for = models.DateField(null=True, blank=True)
    needs_stop = models.BooleanField(default=True)
    crew_hours = models.FloatField(default=2)
    crew_size = models.PositiveSmallIntegerField(default=2)

    class Meta(Root.Meta):
        ordering = ["due_on", "id"]
        indexes = [
            *Root.Meta.indexes,
            models.Index(fields=["site", "due_on", "id"], name="check_open_due", condition=Q(settled_on__isnull=True)),
        ]
        constraints = [
            models.UniqueConstraint(
                fields=["coupling", "kind"],
                condition=Q(settled_on__isnull=True),
                name="one_open_check_per_coupling_and_kind",
            ),
            models.CheckConstraint(
                condition=Q(opens_on__lte=F("due_on"), due_on__lte=F("closes_on")),
                name="opens_before_due_before_closes",
            ),
            models.CheckConstraint(
                condition=Q(deferred_until__isnull=True) | ~Q(deferred_reason=""), name="deferred_only_with_a_reason"
            ),
            within("deferred_risk", 0, 1),
            models.CheckConstraint(
                condition=Q(skipped=False) | Q(outcome="cancelled"), name="skipped_only_when_cancelled"
            ),
            within("crew_hours", 0, 1_000),
        ]

    def __str__(self) -> str:
        return f"{self.coupling} {self.get_kind_display()} by {self.due_on}"
