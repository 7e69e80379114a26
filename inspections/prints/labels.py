"""Labels for guards: scan one and the coupling's page opens."""

from collections.abc import Callable, Iterable

from django.utils import timezone
from django.utils.translation import gettext as _

from couplings.models import Coupling
from plant.prints import pdf, qr


def labels(couplings: Iterable[Coupling], *, paper: str, address_of: Callable[[Coupling], str]) -> bytes:
    """A sheet of labels, three across. `address_of` gives the whole address of a coupling's page."""
    rows = [
        {
            "tag": one.tag,
            "name": f"{one.driver_machine.name} {_('to')} {one.driven_machine.name}",
            "place": one.train.area.name,
            "code": qr(address_of(one)),
        }
        for one in couplings
    ]
    content = {"paper": paper, "labels": rows}
    return pdf("plant/prints/labels.typ", content, at=timezone.now(), title=_("Labels"))
