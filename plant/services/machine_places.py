"""Which given machine is which standing one, and how machines change places."""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from plant.models import Machine, Train
from plant.selectors.links import Link, spoken_of

WAITING = 0


def matched(
    train: Train, given: Sequence[Mapping[str, Any]], standing: Sequence[Machine], links: Sequence[Link]
) -> tuple[list[Machine], list[Machine], dict[str, str]]:
    """(the machine of each row, those that no row is, what is wrong).

    Where a row carries a uuid, machines are known by it and a row without one is a new machine. Where none does, they
    are known by position, and what would put another machine into a row that something speaks of is refused.
    """
    if any("uuid" in row for row in given):
        return _by_identity(train, given, standing)
    by_position = {machine.position: machine for machine in standing}
    found, errors = [], {}
    for number, row in enumerate(given, start=1):
        position = row.get("position", number)
        found.append(by_position.pop(position) if position in by_position else Machine(train=train))
    moved = [
        (number, machine)
        for number, (row, machine) in enumerate(zip(given, found, strict=True))
        if machine.pk and row.get("name") != machine.name and _looks_moved(row, machine, given, standing)
    ]
    held = spoken_of(train, links) if moved else {}
    for number, machine in moved:
        if machine.pk in held:
            errors[f"machines.{number}.name"] = (
                f"Position {machine.position} is the {machine.name}, which {held[machine.pk]} goes by, and this list "
                "has another machine there: give every machine with its id, so that it is plain which one moved."
            )
    return found, list(by_position.values()), errors


def _looks_moved(
    row: Mapping[str, Any], machine: Machine, given: Sequence[Mapping[str, Any]], standing: Sequence[Machine]
) -> bool:
    """Another name is a correction, unless it is the name of another machine, or the name before stands elsewhere."""
    name, before = row.get("name"), machine.name
    another = any(name == other.name for other in standing if other.pk != machine.pk)
    return another or any(before == other.get("name") for other in given if other is not row)


def _by_identity(
    train: Train, given: Sequence[Mapping[str, Any]], standing: Sequence[Machine]
) -> tuple[list[Machine], list[Machine], dict[str, str]]:
    rest = {machine.uuid: machine for machine in standing}
    mine, seen = set(rest), set()
    asked = {row["uuid"] for row in given if row.get("uuid") is not None}
    foreign = set(Machine.objects.filter(uuid__in=asked - mine).values_list("uuid", flat=True))
    found, errors = [], {}
    for number, row in enumerate(given):
        uuid = row.get("uuid")
        if uuid in seen:
            errors[f"machines.{number}.uuid"] = "This machine is given twice."
        elif uuid in foreign:
            errors[f"machines.{number}.uuid"] = "This machine stands in another train."
        known = rest.pop(uuid) if uuid in rest else None
        found.append(known or Machine(train=train, **({"uuid": uuid} if uuid is not None else {})))
        seen |= {uuid} - {None}
    return found, list(rest.values()), errors


def parted(machines: Iterable[Machine], links: Iterable[Link]) -> dict[str, str]:
    """What a new order would tear apart: the two machines of a coupling stay neighbours."""
    places = {machine.pk: machine.position for machine in machines if machine.pk}
    for link in links:
        # One that is taken away is refused where it is taken away.
        both = link.joined and link.driver_id in places and link.driven_id in places
        if both and places[link.driven_id] != places[link.driver_id] + 1:
            said = f"{link.words} joins two machines that would not stay neighbours in this order: retire it first."
            return {"machines": said[0].upper() + said[1:]}
    return {}


def save_in_place(machines: Sequence[Machine], before: Mapping[int, int]) -> None:
    """Save machines of which some change places; `before` has the positions they stood at, by their ids."""
    stands = dict(before)
    moving = [machine for machine in machines if machine.pk and stands[machine.pk] != machine.position]
    while moving:
        taken = {stands[machine.pk] for machine in moving}
        free = next((machine for machine in moving if machine.position not in taken), None)
        if free is None:
            # They go round in a circle: one steps aside, and its history has nothing to say of that.
            _step_aside(moving[0])
            stands[moving[0].pk] = WAITING
            continue
        free.save()
        moving.remove(free)
    for machine in machines:
        if not machine.pk or before[machine.pk] == machine.position:
            machine.save()


def _step_aside(machine: Machine) -> None:
    position, machine.position = machine.position, WAITING
    machine.skip_history_when_saving = True  # type: ignore[attr-defined]
    machine.save(update_fields=["position"])
    del machine.skip_history_when_saving  # type: ignore[attr-defined]
    machine.position = position
