"""How one hub was mounted: what was measured before, the key found, and the facts of its kind of mounting."""

from django.db import models

from couplings.models import SheetVersion
from inspections.models.findings import SIDES, Fact
from inspections.models.readings import SurveyResult
from plant.models.bounds import within


class Mounting(Fact):
    side = models.CharField(max_length=6, choices=SIDES)
    cleaned = models.BooleanField(null=True)
    kind = models.CharField(max_length=12, choices=SheetVersion.Mounting, blank=True)
    nominal_mm = models.FloatField(null=True, help_text="Nominal size of bore and shaft that the fit was judged at.")
    fit_hole = models.CharField(max_length=4, blank=True)
    fit_shaft = models.CharField(max_length=4, blank=True)
    bore_mm = models.FloatField(null=True)
    bore_instrument = models.ForeignKey("couplings.Instrument", on_delete=models.PROTECT, null=True, related_name="+")
    bore_u_mm = models.FloatField(null=True, help_text="Standard uncertainty.")
    shaft_mm = models.FloatField(null=True)
    shaft_instrument = models.ForeignKey("couplings.Instrument", on_delete=models.PROTECT, null=True, related_name="+")
    shaft_u_mm = models.FloatField(null=True)
    clearance_mm = models.FloatField(null=True, help_text="Bore less shaft; negative is interference.")
    fit_verdict = models.CharField(max_length=18, choices=SurveyResult.Verdict, blank=True)
    probability = models.FloatField(null=True, help_text="That the pair is the fit specified.")
    key_width_mm = models.FloatField(null=True)
    key_height_mm = models.FloatField(null=True)
    key_standard = models.CharField(max_length=10, choices=SheetVersion.KeyStandard, blank=True)
    key_verdict = models.CharField(max_length=18, choices=SurveyResult.Verdict, blank=True)
    clearance_wanted_mm = models.FloatField(null=True, help_text="While the hot hub slides on.")
    shaft_temperature_c = models.FloatField(null=True)
    hub_temperature_c = models.FloatField(null=True)
    taper = models.PositiveSmallIntegerField(null=True, help_text="Length to one unit of diameter: 16 for 1:16.")
    advance_mm = models.FloatField(null=True, help_text="From hand-tight to the final place.")
    contact_share = models.FloatField(null=True)
    expansion_pressure_mpa = models.FloatField(null=True)
    push_pressure_mpa = models.FloatField(null=True)
    screw_torque_nm = models.FloatField(null=True)
    advance_verdict = models.CharField(max_length=18, choices=SurveyResult.Verdict, blank=True)
    pressure_verdict = models.CharField(max_length=18, choices=SurveyResult.Verdict, blank=True)
    screw_verdict = models.CharField(max_length=18, choices=SurveyResult.Verdict, blank=True)
    wrench_instrument = models.ForeignKey("couplings.Instrument", on_delete=models.PROTECT, null=True, related_name="+")

    class Meta:
        ordering = ["record", "side"]
        constraints = [
            models.UniqueConstraint(fields=["record", "side"], name="one_mounting_per_side"),
            within("nominal_mm", 1, 2_000),
            within("bore_mm", 1, 2_000),
            within("shaft_mm", 1, 2_000),
            within("probability", 0, 1),
            within("key_width_mm", 0.5, 500),
            within("key_height_mm", 0.5, 500),
            within("clearance_wanted_mm", 0, 10),
            within("shaft_temperature_c", -80, 400),
            within("hub_temperature_c", -80, 600),
            within("advance_mm", 0, 500),
            within("contact_share", 0, 1),
            within("expansion_pressure_mpa", 0, 1_000),
            within("push_pressure_mpa", 0, 1_000),
            within("screw_torque_nm", 0, 1e5),
        ]

    def __str__(self) -> str:
        return f"{self.visit} mounting {self.side}"
