"""The seven methods as rows, so that a page can build its form and a reader its checks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from couplings.engineering.alignment.readings import AlignmentError, ReadingSet


@dataclass(frozen=True)
class MethodSet:
    """One set of readings a method asks for.

    `geometry` names the fields of `ReadingSet` that must be given with it; `carried_by` is the usual carrier of the
    dial (None: no dial, or it makes no difference).
    """

    kind: str
    label: str
    carried_by: str | None = None
    plane: str | None = None
    geometry: tuple[str, ...] = ()


@dataclass(frozen=True)
class Method:
    """A way to survey a coupling."""

    name: str
    title: str
    summary: str
    sets: tuple[MethodSet, ...]
    needs_flex_planes: bool = False
    has_sag: bool = True

    @property
    def kinds(self) -> frozenset[str]:
        """Kinds of reading sets that belong to the method."""
        return frozenset(row.kind for row in self.sets)


_ROWS = (
    Method(
        "rim-and-face",
        "Rim and face",
        "One dial on the rim, one on the face, turned together.",
        (
            MethodSet("rim", "Rim", "stationary", geometry=("x_mm",)),
            MethodSet("face", "Face", "stationary", geometry=("swing_radius_mm",)),
        ),
    ),
    Method(
        "reverse-rim",
        "Reverse rim",
        "Each shaft carries a dial that sweeps the other's rim.",
        (
            MethodSet("rim", "Dial on the movable rim", "stationary", geometry=("x_mm",)),
            MethodSet("rim", "Dial on the stationary rim", "movable", geometry=("x_mm",)),
        ),
    ),
    Method(
        "double-radial",
        "Double radial",
        "One shaft carries both dials; they sweep the other shaft at two planes.",
        (
            MethodSet("rim", "Nearer plane", "stationary", geometry=("x_mm",)),
            MethodSet("rim", "Farther plane", "stationary", geometry=("x_mm",)),
        ),
    ),
    Method(
        "face-face",
        "Face to face over a spacer",
        "A face dial across each flex plane.",
        (
            MethodSet("flex-angle", "Flex plane A", plane="A", geometry=("swing_radius_mm",)),
            MethodSet("flex-angle", "Flex plane B", plane="B", geometry=("swing_radius_mm",)),
        ),
        needs_flex_planes=True,
    ),
    Method(
        "shaft-to-spool",
        "Shaft to spool",
        "A rim dial on the spool from each shaft.",
        (
            MethodSet("flex-angle", "Flex plane A", plane="A", geometry=("distance_mm",)),
            MethodSet("flex-angle", "Flex plane B", plane="B", geometry=("distance_mm",)),
        ),
        needs_flex_planes=True,
    ),
    Method(
        "straightedge",
        "Straightedge and feeler",
        "Step across the rims and gap between the hub faces; rough.",
        (
            MethodSet("step", "Step, movable hub higher is +", geometry=("x_mm",)),
            MethodSet("gap", "Gap between the faces", geometry=("swing_radius_mm",)),
        ),
        has_sag=False,
    ),
    Method(
        "direct",
        "Typed from an instrument",
        "Offset and angularity, or the two flex angles, as an instrument shows them.",
        (),
        has_sag=False,
    ),
)

METHODS: dict[str, Method] = {row.name: row for row in _ROWS}


def check_method(name: str, sets: Sequence[ReadingSet]) -> Method:
    """The method of that name, once the kinds of its reading sets fit it.

    Parameters
    ----------
    name : str
        A key of METHODS.
    sets : sequence of ReadingSet
        As read, in any order.

    Returns
    -------
    Method
        The row of that name.

    Raises
    ------
    AlignmentError
        Unknown method, a set of a kind that does not belong to it, or a kind the method needs that is not there.

    References
    ----------
    Common practice: the trade's names for which dial sits where.
    """
    method = METHODS.get(name)
    if method is None:
        raise AlignmentError("method", f"Not a method here. Choose one of: {', '.join(METHODS)}.")
    errors = {
        f"reading_sets.{place}.kind": f"{method.title} takes {_listed(method.kinds)}."
        for place, item in enumerate(sets)
        if item.kind not in method.kinds
    }
    missing = method.kinds - {item.kind for item in sets}
    if method.sets and missing and not errors:
        errors["reading_sets"] = f"{method.title} also needs a set of {_listed(missing)} readings."
    if errors:
        raise AlignmentError(errors)
    return method


def _listed(kinds: frozenset[str]) -> str:
    return " and ".join(sorted(kinds)) or "no reading sets"
