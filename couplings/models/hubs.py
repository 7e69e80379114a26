"""The hubs of a design, the positions of its spacer or element, and what a screw is tightened to at which bore."""

from django.db import models
from django.db.models import F, Q

from couplings.models.sheets import SheetVersion
from plant.models.bounds import within


class SheetHub(models.Model):
    """One hub of the design: of both sides where the hubs are alike, else one row for each side."""

    class Side(models.TextChoices):
        BOTH = "both", "both sides"
        DRIVER = "driver", "driver side"
        DRIVEN = "driven", "driven side"

    class Way(models.TextChoices):
        EITHER = "either", "either way round"
        IN = "in", "flange side to the gap"
        OUT = "out", "flange side to the machine"

    version = models.ForeignKey(SheetVersion, on_delete=models.CASCADE, related_name="hubs")
    side = models.CharField(max_length=6, choices=Side, default=Side.BOTH)
    bore_length_mm = models.FloatField(help_text="Length of the bore.")
    flange_mm = models.FloatField(default=0, help_text="The flange plane behind the face on the flange's side.")
    overhang_mm = models.FloatField(
        null=True, blank=True, help_text="How far its gap face stands past the shaft's end; negative: shaft proud."
    )
    protrusion_mm = models.FloatField(
        null=True, blank=True, help_text="How far the shaft may stand proud of the hub's face, at most."
    )
    orientation = models.CharField(max_length=6, choices=Way, default=Way.EITHER)
    mounting_kind = models.CharField(
        max_length=12, choices=SheetVersion.Mounting, blank=True, help_text="Where it is not that of the whole sheet."
    )

    class Meta:
        ordering = ["version", "side"]
        constraints = [
            models.UniqueConstraint(fields=["version", "side"], name="one_hub_per_version_and_side"),
            within("bore_length_mm", 1, 5_000),
            within("flange_mm", -5_000, 5_000),
            within("overhang_mm", -5_000, 5_000),
            within("protrusion_mm", 0, 5_000),
        ]

    def __str__(self) -> str:
        return self.get_side_display()


class SheetSpacer(models.Model):
    """A length that the element or spacer can have between the flange planes; one per row of holes of a spacer."""

    version = models.ForeignKey(SheetVersion, on_delete=models.CASCADE, related_name="spacers")
    name = models.CharField(max_length=60)
    length_mm = models.FloatField(help_text="From flange plane to flange plane.")

    class Meta:
        ordering = ["version", "length_mm", "name"]
        constraints = [
            models.UniqueConstraint(fields=["version", "name"], name="spacer_name_once_per_version"),
            within("length_mm", 0, 20_000),
        ]

    def __str__(self) -> str:
        return self.name


class SheetScrew(models.Model):
    """The set screw or clamp screw of a hub by its bore, as the sheet's table gives it."""

    class Kind(models.TextChoices):
        SET = "set", "set screw"
        CLAMP = "clamp", "clamp screw"

    version = models.ForeignKey(SheetVersion, on_delete=models.CASCADE, related_name="screws")
    kind = models.CharField(max_length=6, choices=Kind, default=Kind.SET)
    over_bore_mm = models.FloatField(default=0, help_text="The row holds for bores above this ...")
    up_to_bore_mm = models.FloatField(help_text="... up to and including this.")
    size = models.CharField(max_length=30, help_text="Thread of the screw, such as M10 or 3/8.")
    torque_nm = models.FloatField()
    source = models.CharField(max_length=200, help_text="Where the row is from.")

    class Meta:
        ordering = ["version", "kind", "over_bore_mm"]
        constraints = [
            models.UniqueConstraint(fields=["version", "kind", "over_bore_mm"], name="one_screw_per_bore_band"),
            models.CheckConstraint(condition=Q(up_to_bore_mm__gt=F("over_bore_mm")), name="screw_bore_band_has_width"),
            models.CheckConstraint(condition=~Q(source=""), name="screw_row_names_its_source"),
            within("over_bore_mm", 0, 2_000),
            within("up_to_bore_mm", 1, 2_000),
            within("torque_nm", 0.01, 1e5),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} {self.size}"
