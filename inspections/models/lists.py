"""Lists that people keep for themselves: a name and what was asked for."""

from django.conf import settings
from django.db import models


class SavedList(models.Model):
    """What somebody wants to see again: the page, and the part of its address behind the question mark."""

    class Page(models.TextChoices):
        DUE = "due", "due"
        FLAGS = "flags", "flags"

    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="saved_lists")
    page = models.CharField(max_length=8, choices=Page)
    name = models.CharField(max_length=60)
    asked = models.CharField(max_length=500, blank=True)

    class Meta:
        ordering = ["page", "name"]
        constraints = [
            models.UniqueConstraint(fields=["person", "page", "name"], name="saved_list_named_once_per_person_and_page")
        ]

    def __str__(self) -> str:
        return self.name
