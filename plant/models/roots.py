"""What outsiders address: one row with a UUID, a version (its ETag) and a change number (its place in delta reads)."""

import uuid
from typing import TYPE_CHECKING, Any, Self

from django.db import models

if TYPE_CHECKING:
    from plant.models.people import Person


class RootQuerySet(models.QuerySet):
    def visible_to(self, person: "Person") -> Self:
        """Rows at the sites this person (narrowed by the token used, if any) may read."""
        if person is not None and person.sees_everything:
            return self
        return self.filter(site_id__in=person.site_ids()) if person is not None else self.none()


class Versioned(models.Model):
    uuid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    version = models.PositiveIntegerField(default=1, editable=False)

    class Meta:
        abstract = True


class Root(Versioned):
    """A row outsiders address. The rows below it ride on its version."""

    site = models.ForeignKey("plant.Site", on_delete=models.PROTECT, related_name="+")
    changed_no = models.BigIntegerField(default=0, editable=False)

    objects: Any = RootQuerySet.as_manager()

    class Meta:
        abstract = True
        indexes = [models.Index(fields=["site", "changed_no"], name="%(class)s_site_changed")]
