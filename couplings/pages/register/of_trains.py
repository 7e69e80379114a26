"""What couplings add to the pages of trains: which stand on it, and where none does."""

from collections.abc import Iterable
from typing import Any

from django.db.models import Q
from django.urls import reverse
from django.utils.translation import ngettext

from couplings.models import Coupling
from plant.models import Person, Train
from plant.pages.register import Part, add_filter, add_missing, add_part, yes_or_no
from plant.pages.register import lazily as _

HAS_COUPLINGS = Q(pk__in=Coupling.objects.filter(retired_on__isnull=True).values("train_id"))


def _couplings(_request: Any, train: Train) -> dict[str, Any]:
    rows = Coupling.objects.filter(train=train).select_related("driver_machine", "driven_machine")
    return {"couplings": [(coupling, reverse("coupling", args=[coupling.uuid])) for coupling in rows]}


def _without_couplings(person: Person) -> Iterable[tuple[str, str]]:
    count = Train.objects.visible_to(person).exclude(HAS_COUPLINGS).count()
    if count:
        said = ngettext("One train has no coupling yet", "%(n)s trains have no coupling yet", count)
        yield said % {"n": count}, reverse("register-trains") + "?couplings=no"


add_part("trains", Part(_("Couplings"), "couplings/register/of_train.html", _couplings))
add_filter(
    "trains",
    yes_or_no("couplings", _("with"), _("couplings or none"), _("a coupling"), _("no coupling yet"), HAS_COUPLINGS),
)
add_missing("trains", _without_couplings)
