"""What an instrument reported: offset and angularity at the coupling's centre, or the angles at both flex planes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from couplings.calculations.alignment_sets import TRAVEL
from couplings.calculations.request import Request

STEEP = (100.0, "This is more than 100 mm/m: is the unit right?")

# Starters where no standard uncertainty is given, named in the answer. Common practice: an instrument is taken to be
# no better than dials that repeat to 0.01 mm and stand 200 mm apart.
STARTER_OFFSET_U_MM = 0.01
STARTER_SLOPE_U_MRAD = 0.05

Pair = tuple[float | None, float | None]


@dataclass(frozen=True)
class Direct:
    """(vertical, horizontal) of offset [mm] and slope [mrad], or of the angles at flex planes A and B [mrad].

    None where a plane was not measured. Right is as the observer of `viewed_from` sees it.
    """

    first: Pair
    second: Pair
    first_u: Pair
    second_u: Pair
    flex_angles: bool


def read_direct(request: Request, starters: set[str]) -> Direct | None:
    """The components, each {"value", "unit", "standard_uncertainty"}; None after an error."""
    before = len(request.errors)
    if request.has("flex_angles"):
        for key in ("offset", "angularity"):
            if request.has(key):
                request.refuse(key, "Give offset and angularity, or the flex angles, not both.")
        parts = list(request.rows("flex_angles", 2))
        if len(parts) != 2 and len(request.errors) == before:
            request.refuse("flex_angles", "Two angles are expected: that at flex plane A, then that at B.")
        for part, name in zip(parts, ("A", "B"), strict=False):
            part.choice("plane", (name,))
        vectors = [_vector(part, "slope", STEEP, STARTER_SLOPE_U_MRAD, starters) for part in parts]
    else:
        vectors = []
        for key, kind, within, starter in (
            ("offset", "gap", TRAVEL, STARTER_OFFSET_U_MM),
            ("angularity", "slope", STEEP, STARTER_SLOPE_U_MRAD),
        ):
            found = request.part(key, "Its vertical and horizontal values are missing.")
            if found is not None:
                vectors.append(_vector(found, kind, within, starter, starters))
    if len(vectors) != 2 or len(request.errors) > before:
        return None
    (first, first_u), (second, second_u) = vectors
    return Direct(first, second, first_u, second_u, request.has("flex_angles"))


def _vector(
    part: Request, kind: str, within: tuple[float, str], starter: float, starters: set[str]
) -> tuple[Pair, Pair]:
    vertical, vertical_u = _component(part, "vertical", kind, within, starter, starters)
    horizontal, horizontal_u = _component(part, "horizontal", kind, within, starter, starters)
    part.given("magnitude")  # an answer may be sent back as it came; its magnitude follows from the components
    part.finish()
    return (vertical, horizontal), (vertical_u, horizontal_u)


def _component(
    part: Request, word: str, kind: str, within: tuple[float, str], starter: float, starters: set[str]
) -> tuple[float | None, float | None]:
    given = part.given(word)
    if given is None:
        return None, None
    stated = given.get("standard_uncertainty") if isinstance(given, Mapping) else None
    if isinstance(given, Mapping):
        given = {key: item for key, item in given.items() if key != "standard_uncertainty"}
    value = Request({word: given}, part.path, part.errors).quantity(word, kind, within=within)
    if stated is None:
        starters.add(f"{part.at(word)}.standard_uncertainty")
        return value, starter
    about = Request({"standard_uncertainty": stated}, part.at(word), part.errors)
    return value, about.quantity("standard_uncertainty", kind, above=0, within=within)
