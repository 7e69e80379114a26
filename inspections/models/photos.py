"""Photos of a visit: the files lie in the data folder, their digests in the signed text."""

from typing import Any

from django.conf import settings
from django.db import models

from inspections.models.visits import Visit
from plant.models.roots import Root


def place_of(photo: Any, name: str) -> str:
    """Where the file lies below the media folder: by site and by the photo's own id, whatever it was called."""
    return f"photos/{photo.site.uuid}/{photo.uuid}.jpg"


class Photo(Root):
    """One photo, as it was written anew from what was sent."""

    visit = models.ForeignKey(Visit, on_delete=models.PROTECT, related_name="photos")
    step = models.CharField(max_length=20, blank=True, help_text="Empty: of the whole visit.")
    caption = models.CharField(max_length=200, blank=True)
    file = models.FileField(upload_to=place_of, max_length=200)
    digest = models.CharField(max_length=64, help_text="SHA-256 of the file as it is kept.")
    width = models.PositiveIntegerField()
    height = models.PositiveIntegerField()
    weight = models.PositiveIntegerField(help_text="Bytes.")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    after_signing = models.BooleanField(
        default=False, help_text="Added beside a text that was signed before, which does not name it."
    )

    class Meta(Root.Meta):
        ordering = ["visit", "id"]

    def __str__(self) -> str:
        return self.caption or f"photo {self.digest[:8]}"
