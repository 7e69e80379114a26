"""What a placement says: the answer to a program, the rows of the page, and the drawing of the best one."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from django.utils.safestring import SafeString, mark_safe

from couplings.engineering.orientations import DUST_MM, Placement, Range, Seat
from plant import units
from plant.drawings import HubPicture, HubSide, hubs_picture

if TYPE_CHECKING:
    from couplings.calculations.placement import PlacementRequest, PlacementResult


@dataclass(frozen=True)
class Shown:
    """One ranked placement as a row of the page."""

    rank: int
    placed: Placement
    ways: str
    reasons: tuple[str, ...]
    warnings: tuple[str, ...]


@dataclass(frozen=True)
class Served:
    """One row of the DBSE table; "" where nothing can be served."""

    element: str
    ways: str
    gap_mm: float
    range: str


def answer_placement(result: PlacementResult, system: str) -> dict[str, Any]:
    """The answer of `POST /api/v1/calculations/placement/`."""
    request = result.request
    rules, running = request.rules, request.running
    return {
        "dbse": units.quantity(request.dbse_mm, "size", system),
        "rules": {
            "engagement_share": units.quantity(rules.share, "share", system),
            "one_diameter": rules.one_diameter,
            "clearance": units.quantity(rules.clearance_mm, "gap", system),
            "gap": units.quantity(rules.gap_mm, "size", system),
        },
        "shaft_end_clearance": units.quantity(request.dbse_mm - running.total_mm, "gap", system),
        "placements": [_placement(rank, one, request, system) for rank, one in enumerate(result.found, 1)],
        "dbse_ranges": [_range(one, system) for one in result.served],
    }


def drawn(result: PlacementResult, system: str) -> dict[str, Any]:
    """The ranked rows, the table of the data sheet and the drawing of the first row."""
    request = result.request
    return {
        "rows": [
            Shown(rank, one, _ways(_turned(one)), _reasons(one, request, system), _warnings(one, request, system))
            for rank, one in enumerate(result.found, 1)
        ],
        "served": [
            Served(one.element.name, _ways(one.reversed), one.gap_mm, _span(one, system)) for one in result.served
        ],
        "picture": _picture(result.found[0], request, system),
        "names": request.names,
        "clearance_mm": result.found[0].clearance_mm,
    }


def _placement(rank: int, one: Placement, request: PlacementRequest, system: str) -> dict[str, Any]:
    reasons = _reasons(one, request, system)
    return {
        "rank": rank,
        "element": one.element.name,
        "length": units.quantity(one.element.length_mm, "size", system),
        "hubs": [_seat(name, seat, system) for name, seat in zip(request.names, one.seats, strict=True)],
        "overhangs": units.quantity(one.overhangs_mm, "size", system),
        "hub_face_gap": units.quantity(one.gap_mm, "size", system),
        "running_hub_face_gap": units.quantity(one.running_gap_mm, "size", system),
        "every_rule_holds": one.holds,
        "broken": [{"rule": rule, "reason": reason} for rule, reason in zip(one.broken, reasons, strict=True)],
        "warnings": list(_warnings(one, request, system)),
    }


def _seat(name: str, seat: Seat, system: str) -> dict[str, Any]:
    return {
        "name": name,
        "flange": "reversed" if seat.reversed else "in",
        "overhang": units.quantity(seat.overhang_mm, "size", system),
        "engagement": units.quantity(seat.engagement_mm, "size", system),
        "engaged_share": units.quantity(seat.share, "share", system),
        "beyond_straight_length": units.quantity(seat.beyond_mm, "size", system),
    }


def _range(one: Range, system: str) -> dict[str, Any]:
    return {
        "element": one.element.name,
        "flanges": ["reversed" if way else "in" for way in one.reversed],
        "hub_face_gap": units.quantity(one.gap_mm, "size", system),
        "from": units.quantity(one.from_mm, "size", system),
        "to": units.quantity(one.to_mm, "size", system),
        "above_from_only": one.touching,
    }


def _turned(one: Placement) -> tuple[bool, bool]:
    return one.seats[0].reversed, one.seats[1].reversed


def _ways(turned: tuple[bool, bool]) -> str:
    if turned[0] == turned[1]:
        return "both reversed" if turned[0] else "both facing in"
    return "side 1 reversed, side 2 facing in" if turned[0] else "side 1 facing in, side 2 reversed"


def _span(one: Range, system: str) -> str:
    if one.from_mm is None or one.to_mm is None:
        return ""
    start = units.written(one.from_mm, "size", system)
    return f"{'above ' if one.touching else ''}{start} to {units.written(one.to_mm, 'size', system)}"


def _reasons(one: Placement, request: PlacementRequest, system: str) -> tuple[str, ...]:
    """A sentence for each broken rule, in the order of `broken`."""
    rules = request.rules

    def size(mm: float) -> str:
        return units.written(mm, "size", system)

    def least(mm: float | None, kind: str) -> str:
        return "they must not touch" if mm is None else f"at least {units.written(mm, kind, system)} is asked for"

    said = {
        "engagement": lambda: (
            "Engaged too little: "
            + " and ".join(
                f"{name} {units.written(seat.share, 'share', system)}"
                for name, seat in zip(request.names, one.seats, strict=True)
                if seat.share < rules.share - DUST_MM
            )
            + f" of the bore, at least {units.written(rules.share, 'share', system)} is asked for."
        ),
        "diameter": lambda: "Engaged less than one shaft diameter.",
        "protrusion": lambda: (
            "A shaft would stand proud of its hub's face by more than it may: "
            + " and ".join(
                f"{name} {size(-seat.overhang_mm)}"
                for name, seat in zip(request.names, one.seats, strict=True)
                if seat.overhang_mm < 0
            )
            + "."
        ),
        "clearance": lambda: (
            f"Running clearance of the shaft ends {units.written(one.clearance_mm, 'gap', system)}: "
            f"{least(rules.clearance_mm, 'gap')}."
        ),
        "gap": lambda: (
            f"The hubs' faces would overlap by {size(-one.gap_mm)}."
            if one.gap_mm < 0
            else f"Gap between the hubs' faces {size(one.gap_mm)}: {least(rules.gap_mm, 'size')}."
        ),
        "running-gap": lambda: "Hot and floated inward the hubs' faces would touch.",
    }
    return tuple(said[rule]() for rule in one.broken)


def _warnings(one: Placement, request: PlacementRequest, system: str) -> tuple[str, ...]:
    return tuple(
        f"{name}: the hub reaches {units.written(seat.beyond_mm, 'size', system)} past the straight length of the "
        "shaft; see that no shoulder stands there."
        for name, seat in zip(request.names, one.seats, strict=True)
        if seat.beyond_mm > 1e-6
    )


def _picture(one: Placement, request: PlacementRequest, system: str) -> SafeString:
    sides = [
        HubSide(
            name=name,
            bore_mm=hub.bore_length_mm,
            overhang_mm=seat.overhang_mm,
            behind_mm=seat.behind_mm,
            engagement_mm=seat.engagement_mm,
            reversed=seat.reversed,
            shaft_mm=hub.shaft_length_mm,
        )
        for name, hub, seat in zip(request.names, request.hubs, one.seats, strict=True)
    ]
    # Every text in it was escaped where it was drawn.
    return mark_safe(
        hubs_picture(HubPicture((sides[0], sides[1]), request.dbse_mm, one.element.length_mm, one.gap_mm, system))
    )
