"""Limits that change from one version of a data sheet to the next: who wanted it, who approved it, from when."""

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from couplings.models.sheets import SheetVersion
from plant.models.history import kept_history
from plant.models.roots import Root


class LimitChange(Root):
    """One version whose limits are not those before it. Nobody goes by it before its day and another's approval."""

    class Decision(models.TextChoices):
        WAITING = "waiting", "waiting for approval"
        APPROVED = "approved", "approved"
        TURNED_DOWN = "turned-down", "turned down"

    sheet_version = models.OneToOneField(SheetVersion, on_delete=models.PROTECT, related_name="limit_change")
    before = models.ForeignKey(SheetVersion, on_delete=models.PROTECT, related_name="+", help_text="Compared with.")
    reason = models.CharField(max_length=400)
    change_number = models.CharField(max_length=40, help_text="The site's own number for this change.")
    from_on = models.DateField(help_text="Nothing is held to it before this day.")
    proposed_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    proposed_at = models.DateTimeField()
    decision = models.CharField(max_length=12, choices=Decision, default=Decision.WAITING)
    decided_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    decided_at = models.DateTimeField(null=True, blank=True)
    decision_reason = models.CharField(max_length=400, blank=True)
    history = kept_history(excluded_fields=["changed_no"])

    class Meta(Root.Meta):
        ordering = ["-proposed_at", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["site", "change_number"], name="limit_change_number_once_per_site"),
            models.CheckConstraint(condition=~Q(change_number=""), name="limit_change_has_a_number"),
            models.CheckConstraint(condition=~Q(reason=""), name="limit_change_has_a_reason"),
            models.CheckConstraint(
                condition=Q(decided_by__isnull=True) | ~Q(decided_by=F("proposed_by")),
                name="nobody_decides_on_his_own_limit_change",
            ),
            models.CheckConstraint(
                condition=Q(decision="waiting", decided_by__isnull=True, decided_at__isnull=True)
                | (~Q(decision="waiting") & Q(decided_by__isnull=False, decided_at__isnull=False)),
                name="limit_change_decided_by_somebody",
            ),
            models.CheckConstraint(
                condition=~Q(sheet_version=F("before")), name="limit_change_is_between_two_versions"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.change_number}: {self.sheet_version}"
