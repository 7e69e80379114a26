"""What to look for on a coupling, the numbers a data sheet sets on it, and how long elements may lie in store."""

from django.db import models
from django.db.models import Q

from couplings.models.sheets import Family, SheetVersion
from plant.models.bounds import within
from plant.models.history import kept_history
from plant.models.roots import Root


class WearCode(models.Model):
    """One thing to look for on some families, with a sentence for each grade. Global rows, from fixtures/starters."""

    class Kind(models.TextChoices):
        GAP = "gap", "gap or depth, mm"
        SIZE = "size", "length, mm"
        ANGLE = "angle", "angle, degrees"
        SHARE = "share", "share of the whole"

    code = models.SlugField(max_length=40, unique=True)
    families = models.ManyToManyField(Family, related_name="wear_codes")
    title = models.CharField(max_length=80)
    grade_0 = models.CharField(max_length=120)
    grade_1 = models.CharField(max_length=120, blank=True)
    grade_2 = models.CharField(max_length=120, blank=True)
    grade_3 = models.CharField(max_length=120, blank=True, help_text="Raises a flag.")
    grade_4 = models.CharField(max_length=120, blank=True, help_text="Do not run.")
    number = models.CharField(max_length=60, blank=True, help_text="What may be measured; more is worse.")
    kind = models.CharField(max_length=6, choices=Kind, blank=True)
    fracture = models.BooleanField(default=False, help_text="Any grade above 0 is grade 4.")
    of_element = models.BooleanField(default=False, help_text="Goes with the element when a new one is fitted.")
    source = models.CharField(max_length=300)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(number="", kind="") | (~Q(number="") & ~Q(kind="")), name="wear_number_has_its_kind"
            )
        ]

    def __str__(self) -> str:
        return self.title

    @property
    def words(self) -> tuple[str | None, ...]:
        """The sentence of each grade; None is a grade it does not have."""
        return tuple(text or None for text in (self.grade_0, self.grade_1, self.grade_2, self.grade_3, self.grade_4))


class SheetWearLimit(models.Model):
    """The number from which a design counts as worn out under one code. No public source has one: it is the sheet's."""

    version = models.ForeignKey(SheetVersion, on_delete=models.CASCADE, related_name="wear_limits")
    code = models.ForeignKey(WearCode, on_delete=models.PROTECT, related_name="+")
    limit = models.FloatField(help_text="mm, degrees, or a share of 1, as the code has it.")

    class Meta:
        ordering = ["version", "code"]
        constraints = [
            models.UniqueConstraint(fields=["version", "code"], name="one_wear_limit_per_version_and_code"),
            within("limit", 1e-6, 10_000),
        ]

    def __str__(self) -> str:
        return f"{self.limit:g}"


class StorageRule(Root):
    """How long parts of one polymer may lie in store by one policy. Policies differ; the site says which is in use."""

    class Mark(models.TextChoices):
        PUBLISHED = "published", "published"
        SITE = "site", "the site's own"

    polymer = models.CharField(max_length=10, help_text="ISO 1629 letters, such as NBR.")
    policy = models.SlugField(max_length=40, help_text="Such as iso-2230.")
    group = models.CharField(max_length=10, blank=True)
    initial_years = models.FloatField(null=True, blank=True, help_text="From the cure date. Empty: without limit.")
    extension_years = models.FloatField(default=0, help_text="After an inspection.")
    in_use = models.BooleanField(default=False, help_text="The one this site goes by for the polymer.")
    source = models.CharField(max_length=300)
    mark = models.CharField(max_length=10, choices=Mark, default=Mark.SITE)
    history = kept_history(excluded_fields=["changed_no"])

    class Meta(Root.Meta):
        ordering = ["polymer", "policy"]
        constraints = [
            models.UniqueConstraint(fields=["site", "polymer", "policy"], name="storage_rule_once_per_policy"),
            models.UniqueConstraint(
                fields=["site", "polymer"], condition=Q(in_use=True), name="one_storage_rule_in_use_per_polymer"
            ),
            within("initial_years", 0.1, 100),
            within("extension_years", 0, 100),
        ]

    def __str__(self) -> str:
        return f"{self.polymer}, {self.policy}"
