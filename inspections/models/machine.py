"""Facts about the machines on either side: run-out of shafts and hubs, pipe strain, soft foot, shims."""

from django.db import models

from inspections.models.findings import SIDES, Fact
from inspections.models.readings import SurveyResult
from plant.models.bounds import within

VERDICTS = SurveyResult.Verdict.choices


class JudgedFact(Fact):
    """A figure held against a limit, by its value alone; `probability` is that of keeping the limit."""

    limit_mm = models.FloatField(null=True)
    verdict = models.CharField(max_length=18, choices=VERDICTS)
    probability = models.FloatField(null=True)
    instrument = models.ForeignKey("couplings.Instrument", on_delete=models.PROTECT, null=True, related_name="+")

    class Meta:
        abstract = True


class RunOut(JudgedFact):
    """Total reading of a dial over one turn, typed as such or from readings round the clock."""

    class Part(models.TextChoices):
        SHAFT = "shaft", "shaft"
        HUB = "hub", "hub"

    side = models.CharField(max_length=6, choices=SIDES)
    part = models.CharField(max_length=5, choices=Part)
    run_out_mm = models.FloatField()
    diameter_mm = models.FloatField(null=True)
    readings = models.JSONField(default=list, help_text="Position in degrees, text as typed and mm of each reading.")
    limit_table = models.CharField(max_length=20, blank=True, help_text="Table the limit was read from.")

    class Meta:
        ordering = ["record", "side", "-part"]
        constraints = [
            models.UniqueConstraint(fields=["record", "side", "part"], name="one_run_out_per_side_and_part"),
            within("run_out_mm", 0, 100),
            within("diameter_mm", 1, 10_000),
            within("limit_mm", 0.0001, 100),
            within("probability", 0, 1),
        ]

    def __str__(self) -> str:
        return f"{self.visit} run-out {self.side} {self.part}"


class PipeStrain(JudgedFact):
    """Movement of one machine's shaft at the coupling while its piping was made up, seen from the driver end.

    Where `positions` says compass (upright and flange-mounted machines), vertical is north and horizontal is east.
    """

    side = models.CharField(max_length=6, choices=SIDES)
    positions = models.CharField(max_length=7, choices=[("", "clock"), ("compass", "compass")], blank=True, default="")
    north_is = models.CharField(max_length=60, blank=True, help_text="What N stands for, where not the plant's north.")
    vertical_mm = models.FloatField(help_text="Up is positive; north on an upright machine.")
    horizontal_mm = models.FloatField(
        help_text="Right is positive, seen from the driver end; east on an upright machine."
    )

    class Meta:
        ordering = ["record", "side"]
        constraints = [
            models.UniqueConstraint(fields=["record", "side"], name="one_pipe_strain_per_side"),
            within("vertical_mm", -100, 100),
            within("horizontal_mm", -100, 100),
            within("limit_mm", 0.0001, 100),
            within("probability", 0, 1),
        ]

    def __str__(self) -> str:
        return f"{self.visit} pipe strain {self.side}"


class SoftFoot(JudgedFact):
    """One foot: its rise when its bolt alone was loosened, or the gap at each of its corners."""

    class Kind(models.TextChoices):
        RISE = "rise", "rise"
        NONE = "none", "no gap"
        PARALLEL = "parallel", "parallel gap"
        ANGULAR = "angular", "angular gap"

    side = models.CharField(max_length=6, choices=SIDES)
    foot = models.CharField(max_length=60)
    kind = models.CharField(max_length=8, choices=Kind)
    size_mm = models.FloatField(help_text="Rise, or the widest corner's gap.")
    corners_mm = models.JSONField(
        default=list, help_text="Gaps inboard left, inboard right, outboard right, outboard left; empty for a rise."
    )
    softest = models.BooleanField(default=False, help_text="The foot of its machine that moves most.")
    shim_mm = models.FloatField(null=True, help_text="What fills it, where one flat shim does.")

    class Meta:
        ordering = ["record", "side", "foot"]
        constraints = [
            models.UniqueConstraint(fields=["record", "side", "foot"], name="one_soft_foot_per_foot"),
            within("size_mm", 0, 100),
            within("shim_mm", 0, 100),
            within("limit_mm", 0.0001, 100),
            within("probability", 0, 1),
        ]

    def __str__(self) -> str:
        return f"{self.visit} {self.side} {self.foot}"


class ShimPack(Fact):
    """The shims under one foot as they were left; from the base up, as typed."""

    side = models.CharField(max_length=6, choices=SIDES)
    foot = models.CharField(max_length=60)
    typed = models.CharField(max_length=120)
    shims_mm = models.JSONField(help_text="Thickness of each.")
    count = models.PositiveSmallIntegerField()
    total_mm = models.FloatField()

    class Meta:
        ordering = ["record", "side", "foot"]
        constraints = [
            models.UniqueConstraint(fields=["record", "side", "foot"], name="one_shim_pack_per_foot"),
            within("total_mm", 0, 500),
        ]

    def __str__(self) -> str:
        return f"{self.visit} shims {self.side} {self.foot}"
