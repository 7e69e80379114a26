"""Background work as rows: what is due, who holds it, how it ended."""

from django.db import models


class JobRun(models.Model):
    """One run of one kind of job for one scope and date. The row is the truth; queues and loops only wake us."""

    class State(models.TextChoices):
        WAITING = "waiting", "waiting"
        RUNNING = "running", "running"
        DONE = "done", "done"
        FAILED = "failed", "failed"

    kind = models.CharField(max_length=40)
    scope = models.CharField(max_length=80, help_text="What the run is about, such as site:12.")
    for_date = models.DateField()
    state = models.CharField(max_length=8, choices=State, default=State.WAITING)
    not_before = models.DateTimeField()
    attempts = models.PositiveSmallIntegerField(default=0)
    lease = models.UUIDField(null=True)
    leased_until = models.DateTimeField(null=True)
    progress = models.CharField(max_length=200, blank=True)
    error = models.TextField(blank=True)
    started_at = models.DateTimeField(null=True)
    finished_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["-for_date", "kind", "scope"]
        constraints = [
            models.UniqueConstraint(fields=["kind", "scope", "for_date"], name="run_once_per_kind_scope_date")
        ]
        indexes = [
            models.Index(
                fields=["not_before", "id"],
                name="run_waiting",
                condition=models.Q(state__in=["waiting", "running"]),
            )
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.scope} {self.for_date}"
