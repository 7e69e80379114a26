"""Couplings as what joins two machines of a train, for whoever changes the machines."""

from collections.abc import Iterator

from couplings.models import Coupling
from plant.models import Train
from plant.selectors.links import Link, ask_for_links


def couplings_between(train: Train) -> Iterator[Link]:
    """Every coupling of the train; one that is retired joins nothing any more, and its record goes by its machines."""
    for coupling in Coupling.objects.filter(train=train):
        yield Link(
            root=coupling,
            words=f"coupling {coupling.tag}",
            driver_id=coupling.driver_machine_id,
            driven_id=coupling.driven_machine_id,
            joined=coupling.retired_on is None,
        )


ask_for_links(couplings_between)
