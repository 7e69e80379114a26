"""Sites and their areas: where things stand, in which time zone and units, and the settings a site may choose."""

from django.db import models

from plant.models.bounds import within
from plant.models.history import kept_history
from plant.models.roots import Root, RootQuerySet, Versioned


class SiteQuerySet(RootQuerySet):
    def visible_to(self, person):
        if person is not None and person.sees_everything:
            return self
        return self.filter(pk__in=person.site_ids()) if person is not None else self.none()


class Site(Versioned):
    class Units(models.TextChoices):
        METRIC = "metric", "millimetres, newton metres, °C"
        US = "us", "inches, pound-feet, °F"

    class DatesOwner(models.TextChoices):
        HERE = "here", "Asleft"
        ORDERS = "orders", "the work-order system"

    class RunOutTable(models.TextChoices):
        """Starter tables of limits by diameter; their rows and sources stand with the calculation of run-out."""

        IEC = "iec", "shaft extension of an IEC motor"
        NEMA = "nema", "shaft extension of a NEMA motor"
        PUMP_SHAFT = "pump-shaft", "pump shaft"
        PUMP_HUB = "pump-hub", "coupling hub of a pump"

    class SupportMaterial(models.TextChoices):
        """Rows of the starter table of thermal expansion, by name."""

        CARBON_STEEL = "carbon steel", "carbon steel"
        CARBON_STEEL_1040 = "carbon steel 1040", "carbon steel 1040"
        GRAY_IRON = "gray iron", "gray iron"
        DUCTILE_IRON = "ductile iron", "ductile iron"
        CAST_IRON_LOW = "cast iron, low value", "cast iron, low value"
        CAST_IRON_HANDBOOK = "cast iron, handbook value", "cast iron, handbook value"
        STAINLESS_304 = "stainless steel 304", "stainless steel 304"
        STAINLESS_405 = "stainless steel 405", "stainless steel 405"
        ALUMINIUM_6061 = "aluminium 6061", "aluminium 6061"
        ALUMINIUM_CAST = "aluminium 356.0, cast", "aluminium 356.0, cast"

    name = models.CharField(max_length=80, unique=True)
    zone = models.CharField(max_length=60, default="UTC", help_text="Time zone name, such as Europe/Oslo.")
    units = models.CharField(max_length=8, choices=Units, default=Units.METRIC)
    currency = models.CharField(max_length=3, default="EUR")
    labour_rate = models.FloatField(null=True, blank=True, help_text="Cost of one crew hour in the site's currency.")
    element_cost = models.FloatField(null=True, blank=True, help_text="Usual price of one element, the part alone.")
    failure_cost = models.FloatField(
        null=True, blank=True,
        help_text="What one failure of an element in service costs beside the element and the hours to fit it.",
    )  # fmt: skip
    down_cost = models.FloatField(null=True, blank=True, help_text="What a train that stands costs in an hour.")
    crew_hours_week = models.FloatField(
        null=True, blank=True, help_text="Crew hours there are for checks in a week, all hands together."
    )
    dates_owner = models.CharField(max_length=8, choices=DatesOwner, default=DatesOwner.HERE)
    epoch = models.PositiveIntegerField(default=1, editable=False, help_text="Rises after a restore or move.")
    confidence = models.FloatField(default=0.95, help_text="Probability asked for before 'in tolerance' is said.")
    closure_limit_mm = models.FloatField(
        default=0.05,
        help_text="Closure of four dial readings beyond which they are doubted (0.002 in: FIST 2-1 p. 22).",
    )
    reading_u_mm = models.FloatField(
        default=0.01, help_text="Standard uncertainty of one dial reading where none is given. Common practice."
    )
    engagement_share = models.FloatField(
        default=0.8, help_text="Least share of the bore on the shaft. Common practice."
    )
    shim_stock_mm = models.FloatField(default=0.05, help_text="Thinnest shim in stock; advice is rounded to it.")
    shims_most = models.PositiveSmallIntegerField(
        default=4, help_text="Shims under one foot, at most. Published: 3 to 5."
    )
    soft_foot_limit_mm = models.FloatField(
        default=0.05, help_text="Rise of a foot or gap under it. Common practice; published 0.025 to 0.05 mm."
    )
    pipe_strain_limit_mm = models.FloatField(
        default=0.0508,
        help_text="Movement of the shaft at the coupling (0.002 in, API RP 686 from memory: compare with your copy).",
    )
    shaft_run_out_table = models.CharField(max_length=10, choices=RunOutTable, default=RunOutTable.IEC)
    hub_run_out_table = models.CharField(max_length=10, choices=RunOutTable, default=RunOutTable.PUMP_HUB)
    reference_degc = models.FloatField(
        default=20.0, help_text="Temperature of all supports to which surveys are corrected."
    )
    support_material = models.CharField(
        max_length=40,
        choices=SupportMaterial,
        default=SupportMaterial.GRAY_IRON,
        help_text="Of frames and pedestals, for the correction of surveys to the reference temperature.",
    )
    changed_no = models.BigIntegerField(default=0, editable=False)
    history = kept_history(excluded_fields=["changed_no"])

    objects = SiteQuerySet.as_manager()

    class Meta:
        ordering = ["name"]
        constraints = [
            within("labour_rate", 0, 1e6),
            within("element_cost", 0, 1e9),
            within("failure_cost", 0, 1e9),
            within("down_cost", 0, 1e9),
            within("crew_hours_week", 0, 1e5),
            within("confidence", 0.5, 0.999),
            within("closure_limit_mm", 0.001, 1),
            within("reading_u_mm", 0.0001, 1),
            within("engagement_share", 0.1, 1),
            within("shim_stock_mm", 0.001, 1),
            within("shims_most", 1, 12),
            within("soft_foot_limit_mm", 0.001, 1),
            within("pipe_strain_limit_mm", 0.001, 1),
            within("reference_degc", -60, 100),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def site_id(self) -> int:
        """A site is at itself, so that rules written for roots hold for sites too."""
        return self.pk


class SiteNumber(models.Model):
    """The running number of one site, taken last before commit, so that readers by number miss nothing."""

    site = models.OneToOneField(Site, on_delete=models.CASCADE, related_name="number")
    last = models.BigIntegerField(default=0)
    marked_at = models.DateTimeField(null=True, help_text="When the last mark of number and time was written.")

    def __str__(self) -> str:
        return f"{self.site}: {self.last}"


class SiteMark(models.Model):
    """A number, and an instant before which it and all lower ones were committed; for `updated_since`."""

    site = models.ForeignKey(Site, on_delete=models.CASCADE, related_name="+")
    no = models.BigIntegerField()
    at = models.DateTimeField()

    class Meta:
        indexes = [models.Index(fields=["site", "at", "no"], name="site_mark_at")]

    def __str__(self) -> str:
        return f"{self.no} before {self.at}"


class Area(Root):
    name = models.CharField(max_length=80)
    parent = models.ForeignKey("self", on_delete=models.PROTECT, null=True, blank=True, related_name="parts")
    history = kept_history(excluded_fields=["changed_no"])

    class Meta(Root.Meta):
        ordering = ["name"]
        constraints = [models.UniqueConstraint(fields=["site", "name"], name="area_name_once_per_site")]

    def __str__(self) -> str:
        return self.name
