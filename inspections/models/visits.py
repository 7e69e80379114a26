"""Visits and their drafts: what was typed, as it was typed, one entry per step."""

import uuid

from django.conf import settings
from django.db import models
from django.db.models import Q

from inspections.models.orders import WorkOrder
from plant.models.roots import Root


class Visit(Root):
    """One time at one coupling."""

    class Kind(models.TextChoices):
        INSTALLATION = "installation", "installation"
        PERIODIC = "periodic", "periodic, stopped"
        ALIGNMENT = "alignment", "alignment only"
        TORQUE = "torque", "torque only"
        ELEMENT = "element", "element change"
        RUNNING = "running", "running check"
        BREAKDOWN = "breakdown", "breakdown"
        LEGACY = "legacy", "old record without readings"

    class State(models.TextChoices):
        DRAFT = "draft", "being written"
        SIGNED = "signed", "signed"
        DROPPED = "dropped", "dropped"

    coupling = models.ForeignKey("couplings.Coupling", on_delete=models.PROTECT, related_name="visits")
    fit = models.ForeignKey("couplings.Fit", on_delete=models.PROTECT, related_name="visits")
    sheet_version = models.ForeignKey("couplings.SheetVersion", on_delete=models.PROTECT, related_name="visits")
    work_order = models.ForeignKey(WorkOrder, on_delete=models.PROTECT, null=True, blank=True, related_name="visits")
    kind = models.CharField(max_length=14, choices=Kind)
    on = models.DateField(help_text="Date at the site.")
    zone = models.CharField(max_length=60)
    state = models.CharField(max_length=8, choices=State, default=State.DRAFT)
    nothing_moved = models.BooleanField(default=False, help_text="As-found is as-left.")
    taken_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="visits_taken")
    taken_at = models.DateTimeField()
    entered_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="visits_entered")
    entered_at = models.DateTimeField()
    in_hand_of = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="visits_taken_over",
        help_text="Who goes on with the draft in place of whoever typed it in and left.",
    )  # fmt: skip
    signed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="visits_signed"
    )
    signed_at = models.DateTimeField(null=True, blank=True)
    from_paper = models.BooleanField(default=False, help_text="Typed in later from a paper.")
    paper_isolation = models.CharField(
        max_length=200, blank=True, help_text="Permit or reason for none, and who tried it, as the paper says."
    )
    left_so_reason = models.TextField(blank=True, help_text="Why it was left out of tolerance.")
    record = models.ForeignKey(
        "inspections.SignedRecord",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="feeds",
        help_text="The text that now feeds the dates: the signature, or its latest amendment.",
    )

    class Meta(Root.Meta):
        ordering = ["-on", "-id"]
        indexes = [
            *Root.Meta.indexes,
            models.Index(fields=["coupling", "-on"], name="visit_coupling_on"),
            models.Index(fields=["site", "id"], name="visit_drafts", condition=Q(state="draft")),
        ]
        constraints = [
            models.CheckConstraint(
                condition=Q(state="signed", signed_at__isnull=False, signed_by__isnull=False)
                | (~Q(state="signed") & Q(signed_at__isnull=True, signed_by__isnull=True)),
                name="signed_exactly_when_signed_at",
            ),
            models.CheckConstraint(
                condition=Q(work_order__isnull=False) | Q(kind__in=("running", "legacy")),
                name="stopped_work_only_with_order",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.coupling} {self.on}"


class Entry(models.Model):
    """One step of a draft: strings as typed, what is wrong with them, and per field who changed it last."""

    uuid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    visit = models.ForeignKey(Visit, on_delete=models.CASCADE, related_name="entries")
    step = models.CharField(max_length=20)
    number = models.PositiveSmallIntegerField(default=0, help_text="Rounds of alignment count from 1.")
    version = models.PositiveIntegerField(default=1)
    typed = models.JSONField(default=dict)
    errors = models.JSONField(default=dict)
    touched = models.JSONField(default=dict, help_text="Field to version, person and time of its last change.")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    at = models.DateTimeField()

    # Not kept: what the last save left to be chosen between two hands.
    clashes: dict[str, dict[str, str]] = {}

    class Meta:
        ordering = ["visit", "step", "number"]
        verbose_name_plural = "entries"
        constraints = [
            models.UniqueConstraint(fields=["visit", "step", "number"], name="one_entry_per_step_and_number")
        ]

    def __str__(self) -> str:
        return f"{self.visit} {self.step} {self.number}"
