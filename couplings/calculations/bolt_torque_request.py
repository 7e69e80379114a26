"""The `bolt-torque` request: from JSON to the numbers of couplings.engineering, with the path of every refused field.

thread                      "M12x1.75", "1/2-13": always with its pitch
strength                    a class or grade of STRENGTHS, or proof_strength with yield_strength of one's own
torque, preload or share_of_proof   one of them: what is wanted
method nut-factor           nut_factor: {set, condition} of the site's table, or {value, source}
method friction             friction: {form, thread, bearing, bearing_diameter}
scatter                     {set, method} of the site's table, or {value, source}; left out, no range is told
torque_tolerance            of the tool, a share
relaxation                  a share; left out, a starter that is named
embedment                   {depth, bolt_resilience, joint_resilience}, resilience in thousandths of a mm per kN
share_at_most               of the proof load, above which a word is said
pattern                     {positions, order, segments, shares}
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from couplings.calculations.request import Request
from couplings.engineering.bolts import SHARE_AT_MOST, strength_of
from couplings.engineering.friction import FORMS
from couplings.engineering.tables.bolt_strengths import STARTER_STRENGTHS, StrengthRow
from couplings.engineering.tables.nut_factors import (
    NUT_FACTORS,
    SCATTER,
    STARTER_LOSS,
    STARTER_LOSS_SOURCE,
    NutFactorRow,
    ScatterRow,
)
from couplings.engineering.threads import FastenerError, Thread, parse_thread
from couplings.engineering.tightening import MOST_POSITIONS, ORDERS, STARTER_SHARES

METHODS = ("nut-factor", "friction")
# Rows by the short name of their set.
NutFactors = Mapping[str, Sequence[NutFactorRow]]
Scatters = Mapping[str, Sequence[ScatterRow]]
STRENGTHS = {
    (row.name if row.standard == "ISO 898-1" else f"SAE {row.name}"): (row.standard, row.name)
    for row in STARTER_STRENGTHS
}
LARGE_TORQUE = (1e6, "This is more than any screw takes: is the unit right?")
LARGE_FORCE = (1e8, "This is more than any screw carries: is the unit right?")
LARGE_STRESS = (5000.0, "No screw is so strong: is the unit right?")
LEAST_AND_LARGEST = (0.03, 1.0)
MOST_PASSES = 8


@dataclass(frozen=True)
class Sourced:
    """A number with where it is from; `detail` says which row of the source, `mark` how that came by its figure."""

    value: float
    source: str
    detail: str = ""
    mark: str = ""


@dataclass(frozen=True)
class Friction:
    form: str
    mu_thread: float
    mu_bearing: float
    bearing_diameter_mm: float | None


@dataclass(frozen=True)
class Embedment:
    depth_mm: float
    bolt_mm_per_n: float
    joint_mm_per_n: float


@dataclass(frozen=True)
class Pattern:
    positions: int
    order: str
    segments: int = 1
    shares: tuple[float, ...] = STARTER_SHARES
    starter: bool = True


@dataclass(frozen=True)
class BoltTorqueRequest:
    """Everything a torque or preload is computed from: mm, N, N*m, MPa, shares. One of the three targets is given."""

    thread: Thread
    strength: StrengthRow
    torque_nm: float | None
    preload_n: float | None
    share_of_proof: float | None
    nut_factor: Sourced | None
    friction: Friction | None
    scatter: Sourced | None
    torque_tolerance: float
    relaxation: Sourced
    embedment: Embedment | None
    share_at_most: float
    pattern: Pattern | None


def read_bolt_torque(
    payload: Mapping[str, Any], nut_factors: NutFactors = NUT_FACTORS, scatters: Scatters = SCATTER
) -> BoltTorqueRequest:
    """Read the request by tables, a site's or the starters; raises Refused with every error by field path."""
    request = Request(payload)
    method = request.choice("method", METHODS, "nut-factor") or "nut-factor"
    thread = _thread(request)
    strength = _strength(request, thread)
    torque = request.quantity("torque", "torque", above=0, within=LARGE_TORQUE)
    preload = request.quantity("preload", "force", above=0, within=LARGE_FORCE)
    share = read_share(request, "share_of_proof", above=0, at_most=1.2)
    _one_target(request)
    nut_factor = friction = None
    if method == "friction":
        friction = _friction(request)
        _not_both(request, "nut_factor")
    else:
        nut_factor = _nut_factor(request, nut_factors)
        _not_both(request, "friction")
    scatter = _scatter(request, scatters)
    tolerance = read_share(request, "torque_tolerance", at_most=0.5) or 0.0
    relaxation = read_share(request, "relaxation", at_most=0.9)
    embedment = _embedment(request)
    at_most = read_share(request, "share_at_most", above=0, at_most=1)
    pattern = _pattern(request)
    request.finish()
    request.raise_errors()
    assert thread is not None  # what is missing has been refused
    assert strength is not None
    return BoltTorqueRequest(
        thread=thread,
        strength=strength,
        torque_nm=torque,
        preload_n=preload,
        share_of_proof=share,
        nut_factor=nut_factor,
        friction=friction,
        scatter=scatter,
        torque_tolerance=tolerance,
        relaxation=Sourced(STARTER_LOSS, f"starter: {STARTER_LOSS_SOURCE}")
        if relaxation is None
        else Sourced(relaxation, "as given"),
        embedment=embedment,
        share_at_most=SHARE_AT_MOST if at_most is None else at_most,
        pattern=pattern,
    )


def read_share(
    request: Request, key: str, missing: str = "", *, above: float | None = None, at_most: float
) -> float | None:
    """A share with its unit, {"value": 75, "unit": "%"}, not negative and at most as large as said."""
    return request.quantity(
        key, "share", missing, above=above, at_least=0, within=(at_most, f"At most {100 * at_most:.0f} % is taken.")
    )


def read_whole(request: Request, key: str, missing: str, least: int, most: int) -> int | None:
    """A whole number in a range."""
    number = request.number(key, missing)
    if number is None:
        return None
    if number != int(number) or not least <= number <= most:
        request.refuse(key, f"A whole number from {least} to {most} is expected.")
        return None
    return int(number)


def _thread(request: Request) -> Thread | None:
    text = request.text("thread", "Say which thread, with its pitch, as in M12x1.75 or 1/2-13.")
    if text is None:
        return None
    try:
        return parse_thread(text)
    except FastenerError as error:
        request.refuse("thread", error.message)
        return None


def _strength(request: Request, thread: Thread | None) -> StrengthRow | None:
    proof = request.quantity("proof_strength", "pressure", at_least=1, within=LARGE_STRESS)
    own_yield = request.quantity("yield_strength", "pressure", at_least=1, within=LARGE_STRESS)
    if request.has("proof_strength"):
        if request.has("strength"):
            request.refuse("strength", "Give a class, or a proof strength of your own, not both.")
        if proof is not None and own_yield is not None and own_yield < proof:
            request.refuse("yield_strength", "The yield strength is not below the proof strength.")
        if proof is None:
            return None
        return StrengthRow("as given", "", 0.0, 1e9, proof, own_yield, None, "MPa", "as given", "as given")
    if request.has("yield_strength"):
        request.refuse("yield_strength", "Beside a class its own yield strength is taken: leave this out.")
    name = request.choice("strength", tuple(STRENGTHS), missing="Say which property class or grade the screw has.")
    if name is None or thread is None:
        return None
    try:
        return strength_of(*STRENGTHS[name], thread.diameter_mm)
    except FastenerError as error:
        request.refuse("strength", error.message)
        return None


def _one_target(request: Request) -> None:
    given = [key for key in ("torque", "preload", "share_of_proof") if request.has(key)]
    if not given:
        request.refuse("torque", "Give the torque, or the preload or share of the proof load that is wanted.")
    for key in given[1:]:
        request.refuse(key, f"Give one of torque, preload and share of proof load; {given[0]} is given already.")


def _not_both(request: Request, key: str) -> None:
    if request.has(key):
        request.refuse(key, "A nut factor or friction, not both: the other one is worked out.")


def _source(part: Request) -> str | None:
    return part.text("source", "Say where this number is from: it stays with the result.")


def _nut_factor(request: Request, sets: NutFactors) -> Sourced | None:
    part = request.part("nut_factor", "Name a nut factor with its source: none is assumed.")
    if part is None:
        return None
    if part.has("value"):
        value, source = part.number("value"), _source(part)
        least, largest = LEAST_AND_LARGEST
        if value is not None and not least <= value <= largest:
            part.refuse("value", f"A nut factor lies between {least:g} and {largest:g}.")
        _no_set(part, "condition")
        return None if value is None or source is None else Sourced(value, source)
    rows = {
        (key, row.condition): Sourced(row.nut_factor, row.source, row.condition, row.mark)
        for key, of_set in sets.items()
        for row in of_set
    }
    return _chosen(part, tuple(sets), "condition", rows)


def _scatter(request: Request, sets: Scatters) -> Sourced | None:
    part = request.part("scatter")
    if part is None:
        return None
    if part.has("value"):
        value, source = read_share(part, "value", at_most=0.99), _source(part)
        _no_set(part, "method")
        return None if value is None or source is None else Sourced(value, source)
    rows = {
        (key, row.method): Sourced(row.scatter, row.source, row.method, row.mark)
        for key, of_set in sets.items()
        for row in of_set
    }
    return _chosen(part, tuple(sets), "method", rows)


def _no_set(part: Request, word: str) -> None:
    for key in ("set", word):
        if part.has(key):
            part.refuse("value", "Give a row of a published table, or a value of your own, not both.")
    part.finish()


def _chosen(part: Request, sets: Sequence[str], word: str, rows: Mapping[tuple[str, str], Sourced]) -> Sourced | None:
    chosen = part.choice("set", tuple(sets), missing="Name the table, or give a value with its source.")
    if chosen is None:
        part.given(word)
        part.given("source")
        part.finish()
        return None
    of_set = tuple(name for key, name in rows if key == chosen)
    name = part.choice(word, of_set, missing=f"Choose one of: {', '.join(of_set)}.")
    part.finish()
    return None if name is None else rows[chosen, name]


def _friction(request: Request) -> Friction | None:
    part = request.part("friction", "Friction in the thread and under the head or nut is missing.")
    if part is None:
        return None
    form = part.choice("form", tuple(FORMS), missing="Name the long form.")
    mu = [part.number(key, "This coefficient of friction is missing.") for key in ("thread", "bearing")]
    for key, value in zip(("thread", "bearing"), mu, strict=True):
        if value is not None and not 0.01 <= value <= 1:
            part.refuse(key, "A coefficient of friction lies between 0.01 and 1.")
    across = part.quantity("bearing_diameter", "size", above=0, within=(1000.0, "This is more than a head is wide."))
    part.finish()
    if form is None or mu[0] is None or mu[1] is None:
        return None
    return Friction(form, mu[0], mu[1], across)


def _embedment(request: Request) -> Embedment | None:
    part = request.part("embedment")
    if part is None:
        return None
    depth = part.quantity(
        "depth", "gap", "Say by how much the seats flatten.", above=0, within=(0.5, "At most 0.5 mm.")
    )
    bolt = part.number("bolt_resilience", "The bolt's stretch per kN is missing.")
    joint = part.number("joint_resilience", "The joint's compression per kN is missing.")
    for key, value, least in (("bolt_resilience", bolt, 1e-6), ("joint_resilience", joint, 0.0)):
        if value is not None and not least <= value <= 1e6:
            part.refuse(key, "A resilience in thousandths of a millimetre per kN is expected, such as 2.5.")
    part.finish()
    if depth is None or bolt is None or joint is None:
        return None
    return Embedment(depth, bolt * 1e-6, joint * 1e-6)


def _pattern(request: Request) -> Pattern | None:
    part = request.part("pattern")
    if part is None:
        return None
    positions = read_whole(part, "positions", "Say how many positions the joint has.", 1, MOST_POSITIONS)
    order = part.choice("order", ORDERS, "opposite") or "opposite"
    segments = read_whole(part, "segments", "", 1, MOST_POSITIONS)
    if segments is not None and order != "middle-outward":
        part.refuse("segments", "Segments belong to the order from the middle outward.")
    shares = _shares(part)
    part.finish()
    if positions is None:
        return None
    return Pattern(positions, order, segments or 1, shares or STARTER_SHARES, starter=shares is None)


def _shares(part: Request) -> tuple[float, ...] | None:
    given = part.given("shares")
    if given is None:
        return None
    if not isinstance(given, list | tuple) or not 1 <= len(given) <= MOST_PASSES:
        part.refuse("shares", f"A list of 1 to {MOST_PASSES} shares is expected, the last 100 %.")
        return None
    rows = Request({str(place): one for place, one in enumerate(given)}, part.at("shares"), part.errors)
    shares = [read_share(rows, str(place), "A share is missing.", above=0, at_most=1) for place in range(len(given))]
    return tuple(share for share in shares if share is not None)
