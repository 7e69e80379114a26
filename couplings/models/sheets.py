"""Data sheets: the limits and sizes of one coupling design as the site entered them, in versions."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from plant.models.bounds import within
from plant.models.history import kept_history
from plant.models.roots import Root


class Family(models.Model):
    """A way of building a coupling. Global rows, loaded from fixtures/starters."""

    class Kind(models.TextChoices):
        SHORT = "short", "short flexible"
        SPACER = "spacer", "with a spacer"
        RIGID = "rigid", "rigid"
        OTHER = "other", "other"

    code = models.SlugField(max_length=40, unique=True)
    name = models.CharField(max_length=80)
    kind = models.CharField(max_length=8, choices=Kind, default=Kind.SHORT)
    element_name = models.CharField(max_length=60, blank=True, help_text="What its wearing part is called.")
    ages = models.BooleanField(default=False, help_text="Its element has a cure date and a shelf life.")
    lubricated = models.BooleanField(default=False, help_text="It is filled with grease or oil.")
    note = models.TextField(blank=True)
    source = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["name"]
        verbose_name_plural = "families"

    def __str__(self) -> str:
        return self.name


class DataSheet(Root):
    family = models.ForeignKey(Family, on_delete=models.PROTECT, related_name="sheets")
    designation = models.CharField(max_length=80)
    note = models.TextField(blank=True)
    history = kept_history(excluded_fields=["changed_no"])

    class Meta(Root.Meta):
        ordering = ["designation"]
        constraints = [models.UniqueConstraint(fields=["site", "designation"], name="sheet_designation_once_per_site")]

    def __str__(self) -> str:
        return self.designation


class SheetVersion(models.Model):
    """One version of a data sheet: written while unpublished, frozen once published. Rides on the sheet's version."""

    class Rule(models.TextChoices):
        VECTOR = "vector", "on the vector of both planes"
        PER_PLANE = "per-plane", "on each plane by itself"

    class Shore(models.TextChoices):
        A = "A", "Shore A"
        D = "D", "Shore D"
        AO = "AO", "Shore AO"
        AM = "AM", "Shore AM"

    class Recheck(models.TextChoices):
        ALLOWED = "allowed", "may be re-checked"
        NOT_ALLOWED = "not-allowed", "must not be re-checked"

    class KeyStandard(models.TextChoices):
        DIN_6885 = "din-6885", "DIN 6885-1"
        ASME_B17_1 = "asme-b17-1", "ASME B17.1"
        NONE = "none", "no key"

    class Mounting(models.TextChoices):
        CLEARANCE = "clearance", "clearance with set screws"
        CLAMP = "clamp", "clamp"
        TAPERED_BUSH = "tapered-bush", "tapered bush"
        TAPERED_BORE = "tapered-bore", "tapered bore"
        HEATED = "heated", "heated, interference"
        HYDRAULIC = "hydraulic", "hydraulic, keyless"
        SHRINK_DISC = "shrink-disc", "shrink disc"

    sheet = models.ForeignKey(DataSheet, on_delete=models.PROTECT, related_name="versions")
    number = models.PositiveIntegerField()
    published_at = models.DateTimeField(null=True, blank=True)
    published_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    digest = models.CharField(max_length=64, blank=True)
    rule = models.CharField(max_length=10, choices=Rule, default=Rule.VECTOR)
    combined = models.BooleanField(default=False, help_text="Sum of value/limit at most 1. Common practice.")
    dbse_mm = models.FloatField(null=True, blank=True, help_text="Distance between shaft ends, nominal.")
    dbse_tolerance_mm = models.FloatField(null=True, blank=True)
    flex_distance_mm = models.FloatField(null=True, blank=True, help_text="Between the flex planes; spacer couplings.")
    hub_length_mm = models.FloatField(null=True, blank=True, help_text="Bore length of one hub.")
    hub_diameter_mm = models.FloatField(null=True, blank=True)
    max_rpm = models.FloatField(null=True, blank=True)
    torque_rating_nm = models.FloatField(null=True, blank=True)
    set_screw_count = models.PositiveSmallIntegerField(default=0, help_text="Per hub.")
    set_screw_size = models.CharField(max_length=20, blank=True)
    set_screw_torque_nm = models.FloatField(null=True, blank=True)
    set_screw_angle_deg = models.FloatField(
        null=True, blank=True, help_text="Between the two screws of a row about the shaft; four are two such rows."
    )
    set_screw_holding_n = models.FloatField(null=True, blank=True, help_text="Axial holding power of one screw, N.")
    set_screw_holding_source = models.CharField(max_length=200, blank=True, help_text="Where that figure is from.")
    bore_mm = models.FloatField(null=True, blank=True, help_text="Bore of the hubs; the smaller where they differ.")
    fit_hole = models.CharField(max_length=4, blank=True, help_text="Class of the bore, such as H7; with the shaft's.")
    fit_shaft = models.CharField(max_length=4, blank=True, help_text="Class of the shaft, such as m6.")
    key_standard = models.CharField(max_length=10, choices=KeyStandard, blank=True)
    mounting_kind = models.CharField(max_length=12, choices=Mounting, blank=True, help_text="How the hubs are held.")
    element_part = models.CharField(max_length=60, blank=True, help_text="Part number of the wearing element.")
    element_shelf_years = models.FloatField(null=True, blank=True, help_text="From the cure date.")
    element_polymer = models.CharField(max_length=10, blank=True, help_text="ISO 1629 letters, such as NBR.")
    hardness_scale = models.CharField(max_length=2, choices=Shore, blank=True)
    hardness_change = models.FloatField(null=True, blank=True, help_text="Points from its own first reading, at most.")
    lubricant = models.CharField(max_length=80, blank=True, help_text="By its name.")
    lubricant_g = models.FloatField(null=True, blank=True, help_text="Of one fill.")
    lubricant_months = models.PositiveSmallIntegerField(null=True, blank=True, help_text="Between fills.")
    note = models.TextField(blank=True)
    history = kept_history()

    class Meta:
        ordering = ["sheet", "number"]
        constraints = [
            models.UniqueConstraint(fields=["sheet", "number"], name="sheet_version_number_once"),
            models.UniqueConstraint(
                fields=["sheet"], condition=Q(published_at__isnull=True), name="one_unpublished_version_per_sheet"
            ),
            models.CheckConstraint(
                condition=Q(published_at__isnull=True) | ~Q(digest=""), name="published_version_has_digest"
            ),
            within("dbse_mm", 0, 20_000),
            within("dbse_tolerance_mm", 0, 1_000),
            within("flex_distance_mm", 1, 20_000),
            within("hub_length_mm", 1, 5_000),
            within("hub_diameter_mm", 1, 10_000),
            within("max_rpm", 1, 200_000),
            within("torque_rating_nm", 0.01, 1e9),
            within("set_screw_torque_nm", 0.01, 1e5),
            within("set_screw_angle_deg", 0, 180),
            within("set_screw_holding_n", 1, 1e7),
            within("bore_mm", 1, 2_000),
            models.CheckConstraint(
                condition=Q(set_screw_holding_n__isnull=True, set_screw_holding_source="")
                | (Q(set_screw_holding_n__isnull=False) & ~Q(set_screw_holding_source="")),
                name="set_screw_holding_names_its_source",
                violation_error_message="A holding power and its source go together: give both, or neither.",
            ),
            models.CheckConstraint(
                condition=Q(fit_hole="", fit_shaft="") | (~Q(fit_hole="") & ~Q(fit_shaft="")),
                name="fit_classes_go_together",
                violation_error_message="The classes of bore and shaft go together: give both, or neither.",
            ),
            within("element_shelf_years", 0.1, 100),
            within("hardness_change", 0.5, 100),
            within("lubricant_g", 0.1, 1e6),
            within("lubricant_months", 1, 600),
        ]

    def __str__(self) -> str:
        return f"{self.sheet} version {self.number}"


class SheetLimit(models.Model):
    """One limit, kept as the sheet states it and as the number judged by."""

    class Quantity(models.TextChoices):
        OFFSET = "offset", "offset at the coupling's centre"
        ANGULARITY = "angularity", "angularity"
        FLEX_ANGLE = "flex-angle", "angle at a flex plane"
        AXIAL = "axial", "axial"

    class Stated(models.TextChoices):
        LENGTH = "length", "as a length"
        SLOPE = "slope", "as a slope"
        DEGREES = "degrees", "in degrees"
        GAP_DIFFERENCE = "gap-difference", "as a gap difference over a diameter"

    version = models.ForeignKey(SheetVersion, on_delete=models.CASCADE, related_name="limits")
    quantity = models.CharField(max_length=12, choices=Quantity)
    stated_as = models.CharField(max_length=16, choices=Stated)
    stated_value = models.FloatField(help_text="mm for a length or gap difference, mrad for a slope, degrees.")
    over_diameter_mm = models.FloatField(null=True, blank=True)
    value = models.FloatField(help_text="What is judged by: mm, or mrad for angles.")

    class Meta:
        ordering = ["version", "quantity"]
        constraints = [
            models.UniqueConstraint(fields=["version", "quantity"], name="one_limit_per_version_and_quantity"),
            within("stated_value", 1e-6, 1_000),
            within("over_diameter_mm", 1, 10_000),
            within("value", 1e-6, 1_000),
            models.CheckConstraint(
                condition=~Q(stated_as="gap-difference") | Q(over_diameter_mm__isnull=False),
                name="gap_difference_names_its_diameter",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_quantity_display()}"


class SheetJoint(models.Model):
    """A set of fasteners with one torque: how many, how tight, in which order, and whether it may be checked again."""

    class Order(models.TextChoices):
        OPPOSITE = "opposite", "opposite pairs"
        ROUND = "round", "round"
        SEGMENT = "segment", "from the middle of a segment outward"

    class Feature(models.TextChoices):
        """What decides whether and how a re-check may be done; rows of couplings/engineering/torquecheck.py."""

        LOCKING_COMPOUND = "locking-compound", "thread-locking compound"
        LOCKING_PATCH = "locking-patch", "thread-locking patch"
        PREVAILING_TORQUE = "prevailing-torque", "prevailing-torque nut"
        TAPERED_BUSH = "tapered-bush", "tapered bush"
        SINGLE_USE = "single-use", "single-use screw"
        STRETCH_SET = "stretch-set", "screw tightened by angle or into yield"

    version = models.ForeignKey(SheetVersion, on_delete=models.CASCADE, related_name="joints")
    name = models.CharField(max_length=60)
    thread = models.CharField(max_length=30, blank=True)
    positions = models.PositiveSmallIntegerField()
    torque_nm = models.FloatField()
    strength_standard = models.CharField(max_length=40, blank=True, help_text="Such as ISO 898-1 or SAE J429.")
    strength_class = models.CharField(max_length=20, blank=True, help_text="Property class or grade: 8.8, 5.")
    nut_factor = models.FloatField(null=True, blank=True, help_text="K of torque = K × diameter × preload.")
    nut_factor_source = models.CharField(max_length=200, blank=True, help_text="Where K is from; never assumed.")
    order = models.CharField(max_length=10, choices=Order, default=Order.OPPOSITE)
    segments = models.PositiveSmallIntegerField(default=1, help_text="How many equal segments the positions lie on.")
    pass_shares = models.JSONField(
        default=list, blank=True, help_text="Of the torque, pass by pass, the last 1: [0.3, 0.7, 1]. Empty: those."
    )
    feature = models.CharField(max_length=20, choices=Feature, blank=True, help_text="What a re-check has to heed.")
    prevailing_nm = models.FloatField(
        null=True, blank=True, help_text="The nut's own running torque; it comes on top of the torque at the wrench."
    )
    recheck = models.CharField(max_length=12, choices=SheetVersion.Recheck, default=SheetVersion.Recheck.ALLOWED)
    recheck_reason = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["version", "name"]
        constraints = [
            models.UniqueConstraint(fields=["version", "name"], name="joint_name_once_per_version"),
            models.CheckConstraint(
                condition=Q(positions__gte=1, positions__lte=64), name="joint_has_1_to_64_positions"
            ),
            models.CheckConstraint(condition=Q(segments__gte=1, segments__lte=64), name="joint_has_1_to_64_segments"),
            models.CheckConstraint(
                condition=Q(nut_factor__isnull=True, nut_factor_source="")
                | (Q(nut_factor__isnull=False) & ~Q(nut_factor_source="")),
                name="nut_factor_names_its_source",
                violation_error_message="A nut factor and its source go together: give both, or neither.",
            ),
            within("torque_nm", 0.01, 1e6),
            within("nut_factor", 0.03, 1),
            within("prevailing_nm", 0, 1e5),
        ]

    def __str__(self) -> str:
        return self.name
