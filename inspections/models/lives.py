"""What the records say of the lives of elements, as one weekly fit found it."""

from django.db import models
from django.db.models import Q

from plant.models.bounds import within
from plant.models.roots import Root


class LifeFit(Root):
    """The law of one part number at one site, or as much of it as its failures allow; all fits are kept.

    Ages are in hours of running where `by_hours`, else in days. `b10` and `eta` of a bound are the least they may be.
    `curve` has rows of age, under watch, failed, survival, low, high; `covariance` (var log eta, cov, var log beta).
    """

    class Level(models.TextChoices):
        SITE = "site", "the site's own records"
        ALL = "all", "the records of all sites"

    class Basis(models.TextChoices):
        OWN = "own", "its own failures"
        FAMILY = "family", "its own failures, the shape of its family"
        BOUND = "bound", "no failure yet: a bound by the shape of its family"
        COUNTS = "counts", "too few failures: counts and a curve"

    family = models.CharField(max_length=40)
    part_number = models.CharField(max_length=60)
    level = models.CharField(max_length=4, choices=Level)
    basis = models.CharField(max_length=6, choices=Basis)
    by_hours = models.BooleanField(default=False, help_text="Ages are run hours, not days of the calendar.")
    elements = models.PositiveIntegerField()
    failures = models.PositiveIntegerField()
    family_failures = models.PositiveIntegerField()
    observed = models.FloatField(help_text="All elements together, in the unit of the ages.")
    eta = models.FloatField(null=True)
    beta = models.FloatField(null=True)
    b10 = models.FloatField(null=True)
    b10_limits = models.JSONField(default=list, help_text="Of nine in ten; null has no end.")
    beta_limits = models.JSONField(default=list)
    covariance = models.JSONField(default=list)
    limits_by = models.CharField(max_length=10, blank=True)
    left_open = models.BooleanField(default=False, help_text="A law was tried; the failures leave it open.")
    curve = models.JSONField(default=list)
    fitted_on = models.DateField()
    current = models.BooleanField(default=True)

    class Meta(Root.Meta):
        ordering = ["site", "family", "part_number", "-fitted_on", "-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["site", "family", "part_number"], condition=Q(current=True), name="one_current_life_per_part"
            ),
            within("observed", 0, 1e12),
            within("eta", 0, 1e12),
            within("beta", 0, 100),
            within("b10", 0, 1e12),
        ]

    def __str__(self) -> str:
        return f"life of {self.part_number}, {self.fitted_on}"
