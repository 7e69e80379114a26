"""What stands between the machines of a train or speaks of one, asked of every app that knows of such things."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any

from plant.models import Train, UnitStay


@dataclass(frozen=True)
class Link:
    """A root that joins two machines of a train; with `joined` they have to stay neighbours, in this order."""

    root: Any
    words: str
    driver_id: int
    driven_id: int
    joined: bool


Asked = Callable[[Train], Iterable[Link]]
_asked: list[Asked] = []


def ask_for_links(asked: Asked) -> None:
    """Called by the app whose roots join machines."""
    if asked not in _asked:
        _asked.append(asked)


def links_of(train: Train) -> list[Link]:
    """Everything that joins machines of this train, what is retired included."""
    return [link for asked in _asked for link in asked(train)]


def spoken_of(train: Train, links: Iterable[Link]) -> dict[int, str]:
    """What goes by a machine, in words, by the machine's id: another machine must not slip into its row."""
    stays = UnitStay.objects.filter(machine__train=train).select_related("unit")
    found = {stay.machine_id: str(stay.unit) for stay in stays}
    for link in links:
        found |= dict.fromkeys((link.driver_id, link.driven_id), link.words)
    return found
