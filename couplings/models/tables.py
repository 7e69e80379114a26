"""Tables that a site keeps for itself: nut factors, scatter, second screws, fits by class, failure codes.

Published sets differ, and some are for sale only. A site begins with starters, each with its source and mark, and goes
by its own rows from then on.
"""

from django.db import models
from django.db.models import F, Q

from plant.models.bounds import within
from plant.models.history import kept_history
from plant.models.roots import Root


class Mark(models.TextChoices):
    """How a row came by its figures."""

    PUBLISHED = "published", "published"
    QUOTED = "quoted", "as quoted in public"
    COMMON = "common practice", "common practice"
    MEMORY = "from memory", "from memory, compare with your copy"
    SITE = "site", "the site's own"


class TableRow(Root):
    """One row of a table of one site, with whose figures it has."""

    source = models.CharField(max_length=300)
    mark = models.CharField(max_length=16, choices=Mark, default=Mark.SITE, editable=False)

    class Meta(Root.Meta):
        abstract = True


class NutFactor(TableRow):
    """K of torque = K × diameter × preload for one condition of the surfaces, in one named set."""

    of_set = models.SlugField("set", max_length=40, help_text="Which set of figures, such as shigley or ours.")
    condition = models.CharField(max_length=60, help_text="Of thread and seat, such as zinc plated.")
    nut_factor = models.FloatField()
    low = models.FloatField(null=True, blank=True, help_text="Where the source prints a range.")
    high = models.FloatField(null=True, blank=True, help_text="Where the source prints a range.")
    history = kept_history(excluded_fields=["changed_no"])

    class Meta(TableRow.Meta):
        ordering = ["of_set", "condition"]
        constraints = [
            models.UniqueConstraint(fields=["site", "of_set", "condition"], name="nut_factor_once_per_set"),
            within("nut_factor", 0.03, 1),
            within("low", 0.03, 1),
            within("high", 0.03, 1),
        ]

    def __str__(self) -> str:
        return f"{self.condition}, {self.of_set}: {self.nut_factor:g}"


class TighteningScatter(TableRow):
    """Half width of the preload about its nominal value, by the way it is tightened, in one named set."""

    of_set = models.SlugField("set", max_length=40, help_text="Which set of figures, such as mil-hdbk-60 or ours.")
    method = models.CharField(max_length=60, help_text="Way to tighten, such as torque, lubricated.")
    scatter = models.FloatField(help_text="Share of the preload, either way.")
    note = models.CharField(max_length=200, blank=True)
    history = kept_history(excluded_fields=["changed_no"])

    class Meta(TableRow.Meta):
        ordering = ["of_set", "method"]
        verbose_name = "scatter of preload"
        verbose_name_plural = "scatter of preload"
        constraints = [
            models.UniqueConstraint(fields=["site", "of_set", "method"], name="scatter_once_per_set"),
            within("scatter", 0, 0.99),
        ]

    def __str__(self) -> str:
        return f"{self.method}, {self.of_set}: {100 * self.scatter:g} %"


class SecondScrewFactor(TableRow):
    """What two set screws hold over what one holds, where the angle between them lies in this range."""

    from_deg = models.FloatField(help_text="0: both in one axial line.")
    to_deg = models.FloatField(help_text="The same where the row is for one angle.")
    factor = models.FloatField()
    history = kept_history(excluded_fields=["changed_no"])

    class Meta(TableRow.Meta):
        ordering = ["from_deg"]
        constraints = [
            models.UniqueConstraint(fields=["site", "from_deg"], name="second_screw_factor_once_per_angle"),
            models.CheckConstraint(condition=Q(to_deg__gte=F("from_deg")), name="second_screw_from_before_to"),
            within("from_deg", 0, 180),
            within("to_deg", 0, 180),
            within("factor", 1, 2),
        ]

    def __str__(self) -> str:
        return f"{self.from_deg:g} to {self.to_deg:g}°: {self.factor:g}"


class FitClass(TableRow):
    """Deviations of bore and shaft by one class of fits in one band of diameters, from the site's own copy."""

    name = models.CharField("class", max_length=40, help_text="As the site's copy names it.")
    over_mm = models.FloatField()
    up_to_mm = models.FloatField()
    bore_lower_mm = models.FloatField()
    bore_upper_mm = models.FloatField()
    shaft_lower_mm = models.FloatField()
    shaft_upper_mm = models.FloatField()
    history = kept_history(excluded_fields=["changed_no"])

    class Meta(TableRow.Meta):
        ordering = ["name", "over_mm"]
        verbose_name_plural = "fit classes"
        constraints = [
            models.UniqueConstraint(fields=["site", "name", "over_mm"], name="fit_class_band_once"),
            models.CheckConstraint(condition=Q(up_to_mm__gt=F("over_mm")), name="fit_class_band_has_width"),
            models.CheckConstraint(
                condition=Q(bore_upper_mm__gte=F("bore_lower_mm"), shaft_upper_mm__gte=F("shaft_lower_mm")),
                name="fit_class_lower_before_upper",
            ),
            within("over_mm", 0, 2_000),
            within("up_to_mm", 0.1, 2_000),
            *(within(f"{part}_{end}_mm", -5, 5) for part in ("bore", "shaft") for end in ("lower", "upper")),
        ]

    def __str__(self) -> str:
        return f"{self.name}, over {self.over_mm:g} up to {self.up_to_mm:g} mm"


class FailureCode(TableRow):
    """A code by which a breakdown is told: what failed to be done, by which mechanism, or why."""

    class Kind(models.TextChoices):
        MODE = "mode", "failure mode"
        MECHANISM = "mechanism", "failure mechanism"
        CAUSE = "cause", "failure cause"

    kind = models.CharField(max_length=10, choices=Kind)
    code = models.CharField(max_length=12)
    name = models.CharField(max_length=80)
    history = kept_history(excluded_fields=["changed_no"])

    class Meta(TableRow.Meta):
        ordering = ["kind", "code"]
        constraints = [models.UniqueConstraint(fields=["site", "kind", "code"], name="failure_code_once_per_kind")]

    def __str__(self) -> str:
        return f"{self.code} {self.name}"


class WearWording(TableRow):
    """A wear code in the words of one site, and the number it goes by where a data sheet gives none.

    The program's own row of this code says on which families it is looked for, what is measured and what counts as a
    fracture.
    """

    code = models.SlugField("wear code", max_length=40)
    title = models.CharField(max_length=80)
    grade_0 = models.CharField(max_length=120)
    grade_1 = models.CharField(max_length=120, blank=True)
    grade_2 = models.CharField(max_length=120, blank=True)
    grade_3 = models.CharField(max_length=120, blank=True, help_text="Raises a flag.")
    grade_4 = models.CharField(max_length=120, blank=True, help_text="Do not run.")
    limit = models.FloatField(
        null=True, blank=True, help_text="Where the data sheet gives none: mm, degrees, or a share of 1."
    )
    history = kept_history(excluded_fields=["changed_no"])

    class Meta(TableRow.Meta):
        ordering = ["code"]
        constraints = [
            models.UniqueConstraint(fields=["site", "code"], name="wear_wording_once_per_code"),
            within("limit", 1e-6, 10_000),
        ]

    def __str__(self) -> str:
        return self.title
