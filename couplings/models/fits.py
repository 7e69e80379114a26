"""Couplings as places, what is physically fitted there, its wearing elements, and the instruments that measured it."""

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from couplings.models.grades import Grade
from couplings.models.sheets import SheetVersion
from plant.models.bounds import within
from plant.models.history import kept_history
from plant.models.roots import Root


class Coupling(Root):
    """The place between two neighbouring shafts of a train."""

    train = models.ForeignKey("plant.Train", on_delete=models.PROTECT, related_name="couplings")
    driver_machine = models.ForeignKey("plant.Machine", on_delete=models.PROTECT, related_name="couplings_as_driver")
    driven_machine = models.ForeignKey("plant.Machine", on_delete=models.PROTECT, related_name="couplings_as_driven")
    tag = models.CharField(max_length=40)
    name = models.CharField(max_length=120, blank=True)
    lowest_rpm = models.FloatField(null=True, blank=True, help_text="Only where the speed varies.")
    rpm = models.FloatField(help_text="The highest speed of its shafts.")
    power_kw = models.FloatField(null=True, blank=True)
    grade = models.ForeignKey(Grade, on_delete=models.PROTECT, null=True, blank=True, related_name="couplings")
    grade_reason = models.CharField(max_length=200, blank=True, help_text="Why not the grade of its criticality.")
    retired_on = models.DateField(null=True, blank=True)
    successor = models.ForeignKey("self", on_delete=models.PROTECT, null=True, blank=True, related_name="predecessors")
    history = kept_history(excluded_fields=["changed_no"])

    class Meta(Root.Meta):
        ordering = ["tag"]
        indexes = [*Root.Meta.indexes, models.Index(fields=["site", "train"], name="coupling_site_train")]
        constraints = [
            models.UniqueConstraint(fields=["site", "tag"], name="coupling_tag_once_per_site"),
            models.UniqueConstraint(
                fields=["driver_machine", "driven_machine"],
                condition=Q(retired_on__isnull=True),
                name="one_unretired_coupling_per_place",
            ),
            models.CheckConstraint(
                condition=~Q(driver_machine=F("driven_machine")), name="coupling_joins_two_machines"
            ),
            within("rpm", 1, 200_000),
            within("lowest_rpm", 0, 200_000),
            within("power_kw", 0.001, 1e6),
        ]

    def __str__(self) -> str:
        return self.tag


class TargetPart(models.Model):
    """One part of the cold position wanted, in the record's frame, with its author and date."""

    class Kind(models.TextChoices):
        THERMAL = "thermal", "thermal growth"
        GEAR_LIFT = "gear-lift", "gear lift"
        OIL_FILM = "oil-film", "oil film"
        MEASURED = "measured", "measured running movement"
        GIVEN = "given", "given by the maker or the site"

    coupling = models.ForeignKey(Coupling, on_delete=models.CASCADE, related_name="target_parts")
    kind = models.CharField(max_length=10, choices=Kind, default=Kind.GIVEN)
    offset_v_mm = models.FloatField(default=0)
    offset_h_mm = models.FloatField(default=0)
    slope_v_mrad = models.FloatField(default=0)
    slope_h_mrad = models.FloatField(default=0)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    on = models.DateField()
    note = models.CharField(max_length=200, blank=True)
    history = kept_history()

    class Meta:
        ordering = ["coupling", "kind"]
        constraints = [
            models.UniqueConstraint(fields=["coupling", "kind"], name="one_target_part_per_kind"),
            within("offset_v_mm", -25, 25),
            within("offset_h_mm", -25, 25),
            within("slope_v_mrad", -100, 100),
            within("slope_h_mrad", -100, 100),
        ]

    def __str__(self) -> str:
        return f"{self.coupling}: {self.get_kind_display()}"


class Fit(Root):
    """What is physically at a coupling: data-sheet version, hubs, distance between shaft ends, serial number."""

    coupling = models.ForeignKey(Coupling, on_delete=models.PROTECT, related_name="fits")
    sheet_version = models.ForeignKey(SheetVersion, on_delete=models.PROTECT, related_name="fits")
    serial = models.CharField(max_length=60, blank=True)
    match_marks = models.CharField(max_length=120, blank=True)
    dbse_mm = models.FloatField(null=True, blank=True, help_text="As last left; the data sheet's until measured.")
    fitted_on = models.DateField()
    removed_on = models.DateField(null=True, blank=True)
    history = kept_history(excluded_fields=["changed_no"])

    class Meta(Root.Meta):
        ordering = ["coupling", "fitted_on"]
        constraints = [
            models.UniqueConstraint(
                fields=["coupling"], condition=Q(removed_on__isnull=True), name="one_open_fit_per_coupling"
            ),
            models.UniqueConstraint(
                fields=["site", "serial"],
                condition=Q(removed_on__isnull=True) & ~Q(serial=""),
                name="one_open_fit_per_serial_number",
            ),
            models.CheckConstraint(
                condition=Q(removed_on__isnull=True) | Q(removed_on__gte=F("fitted_on")),
                name="fit_removed_after_fitted",
            ),
            within("dbse_mm", 0, 20_000),
        ]

    def __str__(self) -> str:
        return f"{self.sheet_version} at {self.coupling}"


class Element(Root):
    """The wearing part in a fit: from which day to which, and why it went."""

    fit = models.ForeignKey(Fit, on_delete=models.PROTECT, related_name="elements")
    part_number = models.CharField(max_length=60)
    batch = models.CharField(max_length=60, blank=True)
    cured_on = models.DateField(null=True, blank=True)
    fitted_on = models.DateField()
    removed_on = models.DateField(null=True, blank=True)
    removal_reason = models.CharField(max_length=200, blank=True)
    went_to = models.CharField(max_length=120, blank=True)

    class Meta(Root.Meta):
        ordering = ["fit", "fitted_on"]
        constraints = [
            models.UniqueConstraint(
                fields=["fit"], condition=Q(removed_on__isnull=True), name="one_open_element_per_fit"
            ),
            models.CheckConstraint(
                condition=Q(removed_on__isnull=True) | Q(removed_on__gte=F("fitted_on")),
                name="element_removed_after_fitted",
            ),
            models.CheckConstraint(
                condition=Q(cured_on__isnull=True) | Q(cured_on__lte=F("fitted_on")), name="element_cured_before_fitted"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.part_number} from {self.fitted_on}"


class Instrument(Root):
    class Kind(models.TextChoices):
        DIAL = "dial", "dial indicator"
        FEELER = "feeler", "feeler gauges"
        STRAIGHTEDGE = "straightedge", "straightedge"
        CALIPER = "caliper", "caliper or micrometer"
        ALIGNMENT = "alignment", "alignment instrument"
        TORQUE_SET = "torque-set", "click torque wrench"
        TORQUE_READ = "torque-read", "dial or electronic torque wrench"
        THERMOMETER = "thermometer", "thermometer"

    kind = models.CharField(max_length=12, choices=Kind)
    name = models.CharField(max_length=80)
    serial = models.CharField(max_length=60)
    standard_u_mm = models.FloatField(null=True, blank=True, help_text="Standard uncertainty of one reading.")
    standard_u_share = models.FloatField(null=True, blank=True, help_text="Of torque, as a share of the reading.")
    calibrated_on = models.DateField(null=True, blank=True)
    calibration_days = models.PositiveIntegerField(null=True, blank=True)
    retired_on = models.DateField(null=True, blank=True)
    history = kept_history(excluded_fields=["changed_no"])

    class Meta(Root.Meta):
        ordering = ["kind", "name"]
        constraints = [
            models.UniqueConstraint(fields=["site", "kind", "serial"], name="instrument_serial_once_per_site_and_kind"),
            within("standard_u_mm", 0.00001, 5),
            within("standard_u_share", 0.0001, 0.5),
        ]

    def __str__(self) -> str:
        return f"{self.name} {self.serial}"
