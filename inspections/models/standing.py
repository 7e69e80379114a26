"""How an area stood at the end of each month, kept so that a year is read without asking every record again."""

from django.db import models
from django.db.models import F, Q


class StandingMonth(models.Model):
    """One area at the end of one month; the current month is to date and counted again every night.

    Counted are couplings that had been fitted by then and were not retired. What is not known is counted too, so that
    it weighs against the area. A row can be counted again from the signed records at any time.
    """

    site = models.ForeignKey("plant.Site", on_delete=models.CASCADE, related_name="+")
    area = models.ForeignKey("plant.Area", on_delete=models.CASCADE, related_name="+")
    month_on = models.DateField(help_text="First day of the month.")
    until_on = models.DateField(help_text="The day at whose end it was counted, the site's own.")
    fitted = models.PositiveIntegerField(help_text="All couplings counted: the denominator.")
    in_tolerance = models.PositiveIntegerField()
    too_close = models.PositiveIntegerField()
    out = models.PositiveIntegerField()
    not_known = models.PositiveIntegerField()
    why_not = models.JSONField(default=dict, help_text="Reason to number, of those not known.")
    overdue = models.PositiveIntegerField(help_text="Checks past the last day of their window.")
    changes = models.JSONField(default=list, help_text="Couplings that stand otherwise than a month before.")
    counted_at = models.DateTimeField()

    class Meta:
        ordering = ["month_on", "site", "area"]
        indexes = [models.Index(fields=["site", "month_on"], name="standing_site_month")]
        constraints = [
            models.UniqueConstraint(fields=["area", "month_on"], name="standing_once_per_area_and_month"),
            models.CheckConstraint(
                condition=Q(fitted=F("in_tolerance") + F("too_close") + F("out") + F("not_known")),
                name="standing_parts_make_the_whole",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.area} {self.month_on:%Y-%m}"
