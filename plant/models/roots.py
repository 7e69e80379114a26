"""What outsiders address: one row with a UUID, a version (its ETag) and a change number (its place in delta reads)."""

import uuid
from collections.abc import Callable
from typing import TYPE_CHECKING, Any, Self

from django.db import models
from django.db.models import Q

if TYPE_CHECKING:
    from plant.models.people import Person


# Which rows of a model a contractor reads at the site of his orders; apps above this one say so for their nouns too.
# A model that is not here is not his to read.
_on_orders: dict[type[models.Model], Callable[["Person"], Q]] = {}


def narrow(model: type[models.Model], rule: Callable[["Person"], Q]) -> None:
    """Say which rows of this model belong to the work orders that a contractor is on."""
    _on_orders[model] = rule


def reach(model: type[models.Model], person: "Person") -> Q:
    """Rows this person reads, for a model with a column `site`: whole sites, and what his orders open at others."""
    whole = person.whole_site_ids()
    found, partly = Q(site_id__in=whole), person.site_ids() - whole
    if partly and (rule := _on_orders.get(model)) is not None:
        found |= Q(site_id__in=partly) & rule(person)
    return found


class RootQuerySet(models.QuerySet):
    def visible_to(self, person: "Person") -> Self:
        """Rows at the sites this person (narrowed by the token used, if any) may read."""
        if person is not None and person.sees_everything:
            return self
        return self.filter(reach(self.model, person)) if person is not None else self.none()


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
