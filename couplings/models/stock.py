"""Why elements come out, and how many lie in store by part number and cure date. Counts, not a warehouse."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from plant.models.history import kept_history
from plant.models.roots import Root

MOST = 100_000


class RemovalReason(Root):
    """One reason for which elements are taken out. A site words its own; `failure` is what lives are learned from."""

    code = models.SlugField(max_length=30)
    title = models.CharField(max_length=80)
    failure = models.BooleanField(
        default=False, help_text="Its life ended by itself. Otherwise it might have run on: its life counts as longer."
    )
    in_use = models.BooleanField(default=True, help_text="Offered in forms.")
    source = models.CharField(max_length=200, blank=True)
    history = kept_history(excluded_fields=["changed_no"])

    class Meta(Root.Meta):
        ordering = ["code"]
        constraints = [models.UniqueConstraint(fields=["site", "code"], name="removal_reason_once_per_site")]

    def __str__(self) -> str:
        return self.title


class StockLot(Root):
    """Elements of one part number, batch and cure date that lie in store. `count` is what its movements add up to."""

    part_number = models.CharField(max_length=60)
    batch = models.CharField(max_length=60, blank=True)
    cured_on = models.DateField(null=True, blank=True)
    polymer = models.CharField(
        max_length=10, blank=True, help_text="ISO 1629 letters. Empty: as the data sheets with this part say."
    )
    place = models.CharField(max_length=80, blank=True, help_text="Where they lie.")
    count = models.PositiveIntegerField(default=0, editable=False)

    class Meta(Root.Meta):
        ordering = ["part_number", "cured_on", "batch"]
        constraints = [
            models.UniqueConstraint(
                fields=["site", "part_number", "batch", "cured_on"],
                condition=Q(cured_on__isnull=False),
                name="one_lot_per_part_batch_and_cure_date",
            ),
            models.UniqueConstraint(
                fields=["site", "part_number", "batch"],
                condition=Q(cured_on__isnull=True),
                name="one_lot_without_cure_date_per_part_and_batch",
            ),
            models.CheckConstraint(condition=Q(count__gte=0, count__lte=MOST), name="stock_never_falls_below_nothing"),
        ]

    def __str__(self) -> str:
        cured = f", cured {self.cured_on}" if self.cured_on is not None else ""
        return f"{self.part_number} {self.batch}".strip() + cured


class StockMovement(models.Model):
    """One change of a lot's count, with the count it left. Never changed: a mistake is mended by a correction."""

    class Kind(models.TextChoices):
        RECEIPT = "receipt", "received"
        ISSUE = "issue", "issued"
        CORRECTION = "correction", "counted"
        SCRAPPED = "scrapped", "scrapped"

    lot = models.ForeignKey(StockLot, on_delete=models.PROTECT, related_name="movements")
    kind = models.CharField(max_length=10, choices=Kind)
    change = models.IntegerField()
    count_after = models.PositiveIntegerField()
    on = models.DateField()
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    element = models.OneToOneField(
        "couplings.Element", on_delete=models.PROTECT, null=True, blank=True, related_name="stock_movement"
    )
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["lot", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(kind="receipt", change__gt=0)
                | Q(kind__in=["issue", "scrapped"], change__lt=0)
                | Q(kind="correction"),
                name="stock_movement_goes_the_way_of_its_kind",
            ),
            models.CheckConstraint(
                condition=Q(count_after__gte=0, count_after__lte=MOST),
                name="stock_movement_leaves_no_less_than_nothing",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.lot}: {self.get_kind_display()} {abs(self.change)}"
