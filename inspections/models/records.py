"""Signed records: the canonical text of a visit, chained per coupling in the order of recording."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from inspections.models.visits import Visit


class SignedRecord(models.Model):
    """Never changes: triggers refuse it in the database, verify_records finds what got past them."""

    class Kind(models.TextChoices):
        VISIT = "visit", "visit"
        AMENDMENT = "amendment", "amendment"
        RUN_UP = "run-up", "run-up"

    site = models.ForeignKey("plant.Site", on_delete=models.PROTECT, related_name="+")
    coupling = models.ForeignKey("couplings.Coupling", on_delete=models.PROTECT, related_name="records")
    number = models.PositiveIntegerField(help_text="Its place in the coupling's chain, from 1.")
    kind = models.CharField(max_length=10, choices=Kind)
    visit = models.ForeignKey(Visit, on_delete=models.PROTECT, related_name="records")
    amends = models.OneToOneField("self", on_delete=models.PROTECT, null=True, blank=True, related_name="amended_by")
    reason = models.TextField(blank=True, help_text="Why it was amended.")
    text = models.TextField(help_text="Canonical JSON: readings as typed, results, rule version, names as they were.")
    previous_digest = models.CharField(max_length=64, blank=True)
    digest = models.CharField(max_length=64, unique=True)
    signed_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    signed_at = models.DateTimeField()

    class Meta:
        ordering = ["coupling", "number"]
        constraints = [
            models.UniqueConstraint(fields=["coupling", "number"], name="one_record_per_number"),
            models.UniqueConstraint(fields=["coupling", "previous_digest"], name="one_successor_per_record"),
            models.CheckConstraint(
                condition=Q(kind__in=("visit", "run-up"), amends__isnull=True)
                | Q(kind="amendment", amends__isnull=False),
                name="amendment_names_what_it_amends",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.coupling} record {self.number}"


class Maintenance(models.Model):
    """The row that opens signed records and results for a restore, a move or a test's flush; see the triggers."""

    open = models.BooleanField(default=False)
    reason = models.CharField(max_length=200, blank=True)
    since = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [models.CheckConstraint(condition=Q(pk=1), name="one_maintenance_row")]

    def __str__(self) -> str:
        return "open" if self.open else "closed"
