"""What somebody must deal with."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from plant.models.roots import Root


class Flag(Root):
    """One condition that somebody must deal with."""

    class Kind(models.TextChoices):
        OUT = "out-of-tolerance", "out of tolerance"
        OVERDUE = "overdue", "overdue"
        WORN = "worn", "worn out"
        DO_NOT_RUN = "do-not-run", "do not run"
        LEFT_SO = "left-so", "signed with a reason"
        LOOSE = "loose", "loose"
        LOST_TWICE = "lost-twice", "tightened and lost again"
        ELEMENT_AGE = "element-age", "element over age"
        READINGS = "readings", "readings poor"
        INSTRUMENT = "instrument", "instrument out of date"
        HOURS = "hours-estimated", "hours estimated too long"
        NO_SURVEY = "survey-missing", "survey missing"
        ODD_LOOK = "odd-look", "odd at a running check"
        BREAKDOWN = "breakdown", "broke down"
        RUN_UP = "run-up", "run-up not accepted"
        JUMP = "jump", "moved without a known cause"
        FAST = "moving-fast", "moving fast"
        FORECAST_OUT = "forecast-out", "forecast out before the next stop"
        ACCELERATING = "wear-accelerating", "wear accelerating"

    coupling = models.ForeignKey("couplings.Coupling", on_delete=models.PROTECT, related_name="flags")
    kind = models.CharField(max_length=20, choices=Kind)
    evidence = models.JSONField(default=dict)
    opened_at = models.DateTimeField()
    owner = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="flags"
    )
    acknowledged_at = models.DateTimeField(null=True, blank=True)
    acknowledged_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    cleared_at = models.DateTimeField(null=True, blank=True)
    cleared_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    cause = models.CharField(max_length=200, blank=True)
    by_hand = models.BooleanField(
        default=False, help_text="Somebody cleared it with a cause: the same finding opens no other one."
    )
    previous = models.OneToOneField("self", on_delete=models.PROTECT, null=True, blank=True, related_name="next")

    class Meta(Root.Meta):
        ordering = ["-opened_at"]
        indexes = [
            *Root.Meta.indexes,
            models.Index(fields=["site", "kind"], name="flag_open", condition=Q(cleared_at__isnull=True)),
        ]
        constraints = [
            models.UniqueConstraint(
                fields=["coupling", "kind"],
                condition=Q(cleared_at__isnull=True),
                name="one_open_flag_per_coupling_and_kind",
            ),
            models.CheckConstraint(
                condition=Q(acknowledged_by__isnull=True) | Q(acknowledged_at__isnull=False),
                name="flag_acknowledged_by_somebody_at_a_time",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.coupling}: {self.get_kind_display()}"
