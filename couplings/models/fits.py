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
    spacer_serial = models.CharField(max_length=60, blank=True)
    spacer_position = models.CharField(
        max_length=40, blank=True, help_text="Which of its mounting holes or shims the spacer stands on."
    )
    bolt_set = models.CharField(max_length=60, blank=True, help_text="Mark of the numbered or weighed set.")
    bolt_batch = models.CharField(max_length=60, blank=True)
    bolts_fitted_on = models.DateField(null=True, blank=True)
    bolts_reused = models.PositiveSmallIntegerField(
        null=True, blank=True, help_text="How often the set was loosened and used again; 0 is new."
    )
    fitted_on = models.DateField()
    removed_on = models.DateField(null=True, blank=True)
    removal_reason = models.CharField(max_length=200, blank=True)
    went_to = models.CharField(max_length=120, blank=True)
    moved_from = models.OneToOneField("self", on_delete=models.PROTECT, null=True, blank=True, related_name="moved_to")
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

    @property
    def hubs_in_place(self) -> list["HubHalf"]:
        """Its hub halves: those in it now, of a fit that was removed those it left with."""
        return [half for half in self.hubs.all() if half.removed_on == self.removed_on]


class HubHalf(models.Model):
    """A hub half while it was in a fit: serial number, key, bore, how it is held. Rides on the fit's version."""

    class Side(models.TextChoices):
        DRIVER = "driver", "driver side"
        DRIVEN = "driven", "driven side"

    class Orientation(models.TextChoices):
        IN = "in", "flange towards the other hub"
        REVERSED = "reversed", "flange away from the other hub"

    class Convention(models.TextChoices):
        HALF = "half", "balanced with a half key"
        FULL = "full", "balanced with a full key"

    fit = models.ForeignKey(Fit, on_delete=models.PROTECT, related_name="hubs")
    side = models.CharField(max_length=6, choices=Side)
    serial = models.CharField(max_length=60, blank=True)
    came_with = models.CharField(max_length=60, blank=True, help_text="Serial number of the machine it came with.")
    unit = models.ForeignKey(
        "plant.MachineUnit", on_delete=models.PROTECT, null=True, blank=True, related_name="hub_halves",
        help_text="The machine on whose shaft it sat here, where that is known by its serial number.",
    )  # fmt: skip
    went_with_unit = models.BooleanField(
        default=False, help_text="It stayed on that machine's shaft when the machine left."
    )
    orientation = models.CharField(max_length=8, choices=Orientation, blank=True)
    bore_mm = models.FloatField(null=True, blank=True, help_text="As measured.")
    key_width_mm = models.FloatField(null=True, blank=True)
    key_height_mm = models.FloatField(null=True, blank=True)
    key_length_mm = models.FloatField(null=True, blank=True)
    key_convention = models.CharField(max_length=4, choices=Convention, blank=True)
    mounting_kind = models.CharField(max_length=12, choices=SheetVersion.Mounting, blank=True)
    advance_mm = models.FloatField(null=True, blank=True, help_text="Along its taper, from hand-tight.")
    pressure_mpa = models.FloatField(null=True, blank=True, help_text="Oil pressure that widened the hub.")
    fitted_on = models.DateField()
    removed_on = models.DateField(null=True, blank=True)
    removal_reason = models.CharField(max_length=200, blank=True)
    went_to = models.CharField(max_length=120, blank=True)
    history = kept_history()

    class Meta:
        ordering = ["fit", "side", "fitted_on"]
        verbose_name_plural = "hub halves"
        constraints = [
            models.UniqueConstraint(
                fields=["fit", "side"], condition=Q(removed_on__isnull=True), name="one_hub_half_in_place_per_side"
            ),
            models.CheckConstraint(
                condition=Q(removed_on__isnull=True) | Q(removed_on__gte=F("fitted_on")),
                name="hub_half_removed_after_fitted",
            ),
            models.CheckConstraint(
                condition=Q(went_with_unit=False) | Q(unit__isnull=False, removed_on__isnull=False),
                name="hub_half_went_with_a_machine",
            ),
            within("bore_mm", 1, 2_000),
            within("key_width_mm", 0.5, 500),
            within("key_height_mm", 0.5, 500),
            within("key_length_mm", 1, 5_000),
            within("advance_mm", 0, 500),
            within("pressure_mpa", 0, 1_000),
        ]

    def __str__(self) -> str:
        return f"hub half {self.serial}".strip() + f", {self.get_side_display()}"


class Element(Root):
    """The wearing part in a fit: from which day to which, and why it went."""

    class Went(models.TextChoices):
        STORES = "stores", "back to stores"
        SCRAPPED = "scrapped", "scrapped"
        MAKER = "maker", "sent to the maker"
        EVIDENCE = "evidence", "kept as evidence"

    fit = models.ForeignKey(Fit, on_delete=models.PROTECT, related_name="elements")
    part_number = models.CharField(max_length=60)
    batch = models.CharField(max_length=60, blank=True)
    cured_on = models.DateField(null=True, blank=True)
    fitted_on = models.DateField()
    removed_on = models.DateField(null=True, blank=True)
    removal_code = models.ForeignKey(
        "couplings.RemovalReason", on_delete=models.PROTECT, null=True, blank=True, related_name="elements"
    )
    removal_reason = models.CharField(max_length=200, blank=True)
    removal_finding = models.CharField(max_length=300, blank=True, help_text="What was seen on it once it was out.")
    went = models.CharField(max_length=8, choices=Went, blank=True)
    went_to = models.CharField(max_length=120, blank=True)
    lot = models.ForeignKey(
        "couplings.StockLot", on_delete=models.PROTECT, null=True, blank=True, related_name="elements"
    )
    continues = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="continued_by",
        help_text="The same part in the fit it was moved from.",
    )  # fmt: skip

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
    """What measured, how well, and until when its calibration holds."""

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
    operations = models.PositiveIntegerField(
        null=True, blank=True, help_text="Of a torque tool, counted from new; as last known."
    )
    operations_limit = models.PositiveIntegerField(
        null=True, blank=True, help_text="How many operations a calibration of it holds."
    )
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


class Calibration(models.Model):
    """One calibration of an instrument as its certificate states it. Rides on the instrument's version."""

    class Result(models.TextChoices):
        WITHIN = "within", "found within its limits"
        ADJUSTED = "adjusted", "found outside, adjusted"
        REFUSED = "refused", "found outside, not to be used"

    instrument = models.ForeignKey(Instrument, on_delete=models.PROTECT, related_name="calibrations")
    on = models.DateField()
    laboratory = models.CharField(max_length=120)
    certificate = models.CharField(max_length=60)
    result = models.CharField(max_length=8, choices=Result)
    standard_u_mm = models.FloatField(null=True, blank=True)
    standard_u_share = models.FloatField(null=True, blank=True)
    due_on = models.DateField(null=True, blank=True, help_text="Last day it holds.")
    operations = models.PositiveIntegerField(null=True, blank=True, help_text="Counted from new, on that day.")
    note = models.CharField(max_length=200, blank=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["instrument", "-on", "-pk"]
        constraints = [
            models.UniqueConstraint(fields=["instrument", "certificate"], name="certificate_once_per_instrument"),
            models.CheckConstraint(
                condition=Q(due_on__isnull=True) | Q(due_on__gte=F("on")), name="calibration_holds_from_its_day"
            ),
            within("standard_u_mm", 0.00001, 5),
            within("standard_u_share", 0.0001, 0.5),
        ]

    def __str__(self) -> str:
        return f"{self.instrument}, {self.on}"
