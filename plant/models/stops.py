"""Planned shutdowns: days on which a train, an area or the whole site stands still."""

from django.db import models
from django.db.models import F, Q

from plant.models.history import kept_history
from plant.models.roots import Root
from plant.models.sites import Area
from plant.models.trains import Train


class Stop(Root):
    """Days on which work that needs standing machines fits in. An area takes the areas within it along."""

    name = models.CharField(max_length=80)
    area = models.ForeignKey(Area, on_delete=models.PROTECT, null=True, blank=True, related_name="stops")
    train = models.ForeignKey(Train, on_delete=models.PROTECT, null=True, blank=True, related_name="stops")
    begins_on = models.DateField(help_text="First day, by the site's calendar.")
    ends_on = models.DateField(help_text="Last day; it counts.")
    note = models.CharField(max_length=200, blank=True)
    history = kept_history(excluded_fields=["changed_no"])

    class Meta(Root.Meta):
        ordering = ["begins_on", "id"]
        indexes = [*Root.Meta.indexes, models.Index(fields=["site", "ends_on"], name="stop_site_ends")]
        constraints = [
            models.CheckConstraint(condition=Q(ends_on__gte=F("begins_on")), name="stop_ends_after_it_begins"),
            models.CheckConstraint(
                condition=Q(area__isnull=True) | Q(train__isnull=True), name="stop_of_an_area_or_of_a_train"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.name}, {self.begins_on} to {self.ends_on}"
