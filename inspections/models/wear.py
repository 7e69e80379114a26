"""What a look at a coupling found: grades and numbers by code, hardness, and its lubricant."""

from django.db import models

from couplings.models import SheetVersion
from inspections.models.findings import Fact
from plant.models.bounds import within


class Wear(Fact):
    """One code as it was graded or measured, with the words as they were then."""

    code = models.SlugField(max_length=40)
    title = models.CharField(max_length=80)
    of_element = models.BooleanField(default=False, help_text="Goes with the element when a new one is fitted.")
    stated = models.PositiveSmallIntegerField(null=True, help_text="The grade that was chosen.")
    grade = models.PositiveSmallIntegerField(null=True, help_text="What counts, which may be more than was chosen.")
    words = models.CharField(max_length=120, blank=True)
    number = models.CharField(max_length=60, blank=True, help_text="What was measured.")
    kind = models.CharField(max_length=6, blank=True)
    value = models.FloatField(null=True, help_text="mm, degrees, or a share of 1.")
    limit = models.FloatField(null=True, help_text="The data sheet's, in the same unit.")
    instrument = models.ForeignKey("couplings.Instrument", on_delete=models.PROTECT, null=True, related_name="+")
    u = models.FloatField(null=True, help_text="Standard uncertainty of the number, in its own unit.")
    verdict = models.CharField(max_length=20)

    class Meta:
        ordering = ["record", "id"]
        constraints = [
            models.UniqueConstraint(fields=["record", "code"], name="one_wear_fact_per_code"),
            within("stated", 0, 4),
            within("grade", 0, 4),
            within("value", 0, 10_000),
            within("limit", 1e-6, 10_000),
            within("u", 0, 100),
        ]

    def __str__(self) -> str:
        return f"{self.visit} {self.code}"


class Hardness(Fact):
    """Shore hardness of the element left in place, against its own first reading."""

    scale = models.CharField(max_length=2, choices=SheetVersion.Shore)
    readings = models.JSONField(default=list)
    median = models.FloatField()
    first_median = models.FloatField(null=True, help_text="Of this element's first reading; empty: this is the first.")
    first_on = models.DateField(null=True)
    limit_points = models.FloatField(null=True, help_text="Largest change in either direction, the data sheet's.")
    grade = models.PositiveSmallIntegerField(null=True, help_text="3 beyond the limit.")
    verdict = models.CharField(max_length=20)

    class Meta:
        verbose_name_plural = "hardness"
        constraints = [
            models.UniqueConstraint(fields=["record"], name="one_hardness_per_record"),
            within("median", 0, 100),
            within("first_median", 0, 100),
            within("limit_points", 0.5, 100),
            within("grade", 0, 4),
        ]

    def __str__(self) -> str:
        return f"{self.visit} Shore {self.scale} {self.median:g}"


class WearNote(Fact):
    """What the crew wrote beside the grades."""

    text = models.CharField(max_length=500)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["record"], name="one_wear_note_per_record")]

    def __str__(self) -> str:
        return self.text[:40]


class Lubrication(Fact):
    """The lubricant: what was found, and what was filled in by name and quantity."""

    class Act(models.TextChoices):
        LOOKED = "looked", "looked at, none added"
        ADDED = "added", "topped up"
        RENEWED = "renewed", "old out, new in"

    act = models.CharField(max_length=8, choices=Act)
    name = models.CharField(max_length=80, blank=True)
    quantity_g = models.FloatField(null=True)
    consistency = models.CharField(max_length=3, blank=True, help_text="Consistency grade of the grease: 000 to 6.")
    every_months = models.PositiveSmallIntegerField(null=True, help_text="Until the next fill.")
    state = models.CharField(max_length=20, blank=True, help_text="Of the grease as it was found.")
    state_grade = models.PositiveSmallIntegerField(null=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["record"], name="one_lubrication_per_record"),
            within("quantity_g", 0.1, 1e6),
            within("every_months", 1, 600),
            within("state_grade", 0, 4),
        ]

    def __str__(self) -> str:
        return f"{self.visit} lubricant {self.act}"
