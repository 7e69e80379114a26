"""What couplings add to the pages of trains: which stand on it, and where none does."""

from collections.abc import Iterable
from typing import Any

from django.urls import reverse
from django.utils.translation import ngettext

from couplings.models import Coupling
from plant.models import Person, Train
from plant.pages.register import Part, add_missing, add_part
from plant.pages.register import lazily as _


def _couplings(_request: Any, train: Train) -> dict[str, Any]:
    rows = Coupling.objects.filter(train=train).select_related("driver_machine", "driven_machine")
    return {"couplings": [(coupling, reverse("coupling", args=[coupling.uuid])) for coupling in rows]}


def _without_couplings(person: Person) -> Iterable[tuple[str, str]]:
    bare = Train.objects.visible_to(person).exclude(
        pk__in=Coupling.objects.filter(retired_on__isnull=True).values("train_id")
    )
    count = bare.count()
    if count:
        said = ngettext("One train has no coupling yet", "%(n)s trains have no coupling yet", count)
        first = bare.order_by("tag").first()
        assert first is not None
        one = reverse("register-trains-one", args=[first.uuid]) if count == 1 else reverse("register-trains")
        yield said % {"n": count}, one


add_part("trains", Part(_("Couplings"), "couplings/register/of_train.html", _couplings))
add_missing("trains", _without_couplings)
