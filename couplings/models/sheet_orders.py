"""What a data sheet orders beside sizes and limits: the parts that fit, and where somebody else has to look on."""

from django.db import models
from django.db.models import Q

from couplings.models.sheets import SheetVersion
from plant.models import Membership


class SheetPart(models.Model):
    """A part number that the element of this design can be ordered by; one of them is the standard one."""

    version = models.ForeignKey(SheetVersion, on_delete=models.CASCADE, related_name="element_parts")
    part_number = models.CharField(max_length=60)
    description = models.CharField(max_length=120, blank=True)
    material = models.CharField(max_length=60, blank=True)
    standard = models.BooleanField(default=False, help_text="The one that is fitted unless somebody decides otherwise.")

    class Meta:
        ordering = ["version", "part_number"]
        constraints = [
            models.UniqueConstraint(fields=["version", "part_number"], name="part_number_once_per_version"),
            models.UniqueConstraint(
                fields=["version"], condition=Q(standard=True), name="one_standard_part_per_version"
            ),
        ]

    def __str__(self) -> str:
        return self.part_number


class SheetHoldPoint(models.Model):
    """Something that a second person witnesses in one step of a visit before the next one begins."""

    version = models.ForeignKey(SheetVersion, on_delete=models.CASCADE, related_name="hold_points")
    step = models.SlugField(max_length=40, help_text="Key of the visit's step, such as placement.")
    what = models.CharField(max_length=200, help_text="What is witnessed.")
    role = models.CharField(max_length=20, choices=Membership.Role, help_text="Who may witness it.")

    class Meta:
        ordering = ["version", "step", "what"]
        constraints = [models.UniqueConstraint(fields=["version", "step", "what"], name="hold_point_once_per_version")]

    def __str__(self) -> str:
        return self.what
