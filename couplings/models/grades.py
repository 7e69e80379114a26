"""Speed grades: what a site allows at a speed to protect bearings and seals."""

from django.db import models
from django.db.models import F, Q

from couplings.models.sheets import Family, SheetVersion
from plant.models.bounds import within
from plant.models.history import kept_history
from plant.models.roots import Root


class Grade(Root):
    name = models.CharField(max_length=60)
    criticalities = models.CharField(
        max_length=3, blank=True, help_text="Trains it is for where nothing else is chosen, such as AB."
    )
    note = models.TextField(blank=True)
    history = kept_history(excluded_fields=["changed_no"])

    class Meta(Root.Meta):
        ordering = ["name"]
        constraints = [models.UniqueConstraint(fields=["site", "name"], name="grade_name_once_per_site")]

    def __str__(self) -> str:
        return self.name


class GradeRow(models.Model):
    """Limits of one grade in one band of speed for one kind of coupling."""

    class Mark(models.TextChoices):
        PUBLISHED = "published", "published"
        QUOTED = "quoted", "as quoted in public"
        TEXTBOOK = "textbook", "textbook"
        SITE = "site", "the site's own copy"

    grade = models.ForeignKey(Grade, on_delete=models.CASCADE, related_name="rows")
    kind = models.CharField(max_length=8, choices=Family.Kind, default=Family.Kind.SHORT)
    over_rpm = models.FloatField(default=0)
    up_to_rpm = models.FloatField()
    offset_mm = models.FloatField(null=True, blank=True)
    angularity_mrad = models.FloatField(null=True, blank=True)
    flex_angle_mrad = models.FloatField(null=True, blank=True)
    rule = models.CharField(max_length=10, choices=SheetVersion.Rule, default=SheetVersion.Rule.VECTOR)
    source = models.CharField(max_length=300)
    mark = models.CharField(max_length=10, choices=Mark, default=Mark.SITE)
    history = kept_history()

    class Meta:
        ordering = ["grade", "kind", "over_rpm"]
        constraints = [
            models.UniqueConstraint(fields=["grade", "kind", "over_rpm"], name="grade_band_once"),
            models.CheckConstraint(condition=Q(up_to_rpm__gt=F("over_rpm")), name="grade_band_has_width"),
            within("over_rpm", 0, 200_000),
            within("up_to_rpm", 1, 200_000),
            within("offset_mm", 0.0001, 100),
            within("angularity_mrad", 0.0001, 100),
            within("flex_angle_mrad", 0.0001, 100),
        ]

    def __str__(self) -> str:
        return f"{self.grade} {self.over_rpm:g} to {self.up_to_rpm:g} rpm"
