"""One weighted linear least-squares model for every method."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from couplings.engineering.alignment.misalignment import Misalignment, checked_planes
from couplings.engineering.alignment.quality import WORTH_A_WORD, SetQuality, assess, pseudo_inverse, times
from couplings.engineering.alignment.readings import (
    AlignmentError,
    ReadingSet,
    check_sets,
    directions,
    distinct_angles_deg,
)

Pair = tuple[float | None, float | None]


@dataclass(frozen=True)
class Solution:
    """A survey solved. [mm, mrad]

    `chi2` and `dof` are pooled over all sets; `factor` = max(1, chi2/dof) has widened the covariance already. [1]
    """

    misalignment: Misalignment
    sets: tuple[SetQuality, ...] = ()
    chi2: float = 0.0
    dof: int = 0
    factor: float = 1.0
    warnings: tuple[str, ...] = ()


@dataclass(frozen=True)
class _Design:
    rows: NDArray[np.float64]  # weighted; the prior rows of the sag errors last
    wanted: NDArray[np.float64]
    owners: NDArray[np.int_]  # which set a row belongs to, -1 for a prior


def solve(
    sets: Sequence[ReadingSet], *, flex_planes_mm: Sequence[float] | None = None, viewed_from: str = "movable"
) -> Solution:
    """Position of the movable shaft from any sets of readings.

    Every reading is ``c + k_y y.u + k_s s.u`` with u = (cos, sin) of its angle, y the offset and s the slope in both
    planes, c the set's own constant. A part read before and after half a turn adds its run-out w as ``c -+ w.u``.
    Sag errors are unknowns with a prior of their stated standard uncertainty, one per bracket, so sets on one bracket
    share the error.

    Parameters
    ----------
    sets : sequence of ReadingSet
    flex_planes_mm : (x_A, x_B), optional
        Needed for sets of the kind flex-angle. [mm]
    viewed_from : {'movable', 'stationary'}
        Where the observer stood who named the clock positions; from the stationary machine the clock is mirrored.
        Compass points: leave it at 'movable'.

    Returns
    -------
    Solution
        Seen from the movable machine. A plane that the positions cannot solve is nan.

    Raises
    ------
    AlignmentError
        Missing or impossible figures by field; neither plane can be solved, with what is missing.

    References
    ----------
    Sign rules: plane geometry, checked by a three-dimensional simulation of rigid shafts and dials in
    tests/couplings/engineering. Linear least squares; scale factor max(1, chi2/dof): common practice.
    """
    if viewed_from not in ("movable", "stationary"):
        raise AlignmentError("viewed_from", "Say where the observer stood: movable or stationary.")
    check_sets(sets)
    arms = _arms(sets, flex_planes_mm)
    design = _design(sets, arms, mirrored=viewed_from == "stationary")
    unscaled, known = pseudo_inverse(design.rows)
    vertical, horizontal = bool(known[0] and known[2]), bool(known[1] and known[3])
    if not vertical and not horizontal:
        raise _why_unsolved(sets, arms)
    found = unscaled @ (design.rows.T @ design.wanted)
    residuals = design.wanted - design.rows @ found
    chi2 = float(residuals @ residuals)
    dof = len(design.wanted) - int(np.linalg.matrix_rank(_normed(design.rows), tol=1e-8))
    factor = max(1.0, chi2 / dof) if dof > 0 else 1.0
    lost = [not vertical, not horizontal, not vertical, not horizontal]
    mean, covariance = found[:4].copy(), factor * unscaled[:4, :4]
    mean[lost] = np.nan
    covariance[lost, :] = np.nan
    covariance[:, lost] = np.nan
    qualities = tuple(
        assess(item, residuals[design.owners == place] * item.reading_u_mm) for place, item in enumerate(sets)
    )
    return Solution(Misalignment.of(mean, covariance), qualities, chi2, dof, factor, _scatter_warning(factor))


def _scatter_warning(factor: float) -> tuple[str, ...]:
    if math.sqrt(factor) < WORTH_A_WORD:
        return ()
    return (f"the readings scatter {times(math.sqrt(factor))} as much as their stated uncertainty: repeat them",)


def _arms(sets: Sequence[ReadingSet], flex_planes_mm: Sequence[float] | None) -> list[tuple[float, float]]:
    """For every set, what one mm of offset and one mrad of slope add to a reading along u. [-, mm/mrad]"""
    arms: list[tuple[float, float]] = []
    for item in sets:
        x = item.x_mm / 1000.0
        radius = (item.swing_radius_mm or 0.0) / 1000.0
        side = 1.0 if item.surface == "near" else -1.0
        if item.kind == "rim":
            sign = 1.0 if item.carried_by == "stationary" else -1.0
            arms.append((sign, sign * x))
        elif item.kind == "step":
            arms.append((1.0, x))
        elif item.kind == "face":
            arms.append((0.0, side * radius))
        elif item.kind == "gap":
            arms.append((0.0, -radius))
        else:
            xa, xb = checked_planes(flex_planes_mm)
            across, sign = (xb, 1.0) if item.plane == "A" else (xa, -1.0)
            length = side * (item.swing_radius_mm or 0.0) if item.distance_mm is None else item.distance_mm
            share = sign * length / (xb - xa)
            arms.append((share, share * across / 1000.0))
    return arms


def _design(sets: Sequence[ReadingSet], arms: Sequence[tuple[float, float]], *, mirrored: bool) -> _Design:
    run_outs = list(dict.fromkeys(item.part for item in sets if any(item.turned_each)))
    brackets = list(dict.fromkeys(_bracket(item, place) for place, item in enumerate(sets) if item.sag_u_mm > 0))
    first_run_out = 4 + len(sets)
    first_bracket = first_run_out + 2 * len(run_outs)
    width = first_bracket + len(brackets)
    blocks, wanted, owners = [], [], []
    for place, (item, (k_y, k_s)) in enumerate(zip(sets, arms, strict=True)):
        cosines, sines = directions(item.angles_deg)
        if mirrored:
            sines = -sines
        block = np.zeros((len(cosines), width))
        block[:, 0], block[:, 1] = k_y * cosines, k_y * sines
        block[:, 2], block[:, 3] = k_s * cosines, k_s * sines
        block[:, 4 + place] = 1.0
        if item.part in run_outs:
            column = first_run_out + 2 * run_outs.index(item.part)
            sign = np.where(item.turned_each, 1.0, -1.0)
            block[:, column], block[:, column + 1] = sign * cosines, sign * sines
        if item.sag_u_mm > 0:
            column = first_bracket + brackets.index(_bracket(item, place))
            block[:, column] = item.sag_u_mm * (1.0 - cosines) / 2.0
        blocks.append(block / item.reading_u_mm)
        wanted.append(item.corrected_mm() / item.reading_u_mm)
        owners.append(np.full(len(cosines), place))
    prior = np.zeros((len(brackets), width))
    prior[:, first_bracket:] = np.eye(len(brackets))
    return _Design(
        np.vstack([*blocks, prior]),
        np.concatenate([*wanted, np.zeros(len(brackets))]),
        np.concatenate([*owners, np.full(len(brackets), -1)]),
    )


def _bracket(item: ReadingSet, place: int) -> tuple[str, str | int]:
    return ("named", item.bracket) if item.bracket else ("own", place)


def _normed(rows: NDArray[np.float64]) -> NDArray[np.float64]:
    lengths = np.linalg.norm(rows, axis=0)
    return rows / np.where(lengths == 0.0, 1.0, lengths)


def _why_unsolved(sets: Sequence[ReadingSet], arms: Sequence[tuple[float, float]]) -> AlignmentError:
    """Say which readings are missing, in the order in which a person would look."""
    short = {}
    for place, item in enumerate(sets):
        angles = distinct_angles_deg(item.angles_deg)
        opposite = len(angles) == 2 and abs(angles[1] - angles[0] - 180.0) < 1e-6
        if len(angles) == 2 and not (opposite and angles[0] % 90.0 < 1e-6):
            short[f"reading_sets.{place}.readings"] = (
                "Two positions solve a plane only as a pair, 12 and 6 or 3 and 9: read a third position."
            )
    if short:
        return AlignmentError(short)
    last = len(sets) - 1
    if all(k_y == 0.0 for k_y, _ in arms):
        return AlignmentError("reading_sets", "Nothing here measures the offset: add a rim, a step or a second plane.")
    if np.linalg.matrix_rank(_normed(np.array(arms)), tol=1e-8) < 2:
        if last == 0:
            return AlignmentError(
                "reading_sets", "One plane alone gives no slope: add a second rim plane, face readings or gaps."
            )
        if all(item.kind == "flex-angle" for item in sets):
            other = "B" if sets[last].plane == "A" else "A"
            return AlignmentError(
                f"reading_sets.{last}.plane", f"One flex plane is read twice: flex plane {other} is missing."
            )
        return AlignmentError(
            f"reading_sets.{last}.x",
            "One plane is read twice, so nothing gives the slope: read a rim at another plane, or a face.",
        )
    return AlignmentError(
        "reading_sets",
        "No plane is read in every set: take 12 and 6 (or 3 and 9) in all of them, better all four positions.",
    )


def closure_refused(solution: Solution, limit_mm: float) -> bool:
    """Whether a closure is too large for the survey to be believed.

    True when a set's closure lies beyond both the site's limit and three standard deviations of a closure computed
    from the stated uncertainty: a coarse instrument may not close better than it reads.

    Parameters
    ----------
    limit_mm : float
        The site's limit; starter 0.05 mm (0.002 in, U.S. Bureau of Reclamation FIST 2-1, p. 22). [mm]

    Returns
    -------
    bool
        True: the verdict is not known, and the readings are kept.

    Raises
    ------
    AlignmentError
        The limit is not a number above zero.

    References
    ----------
    U.S. Bureau of Reclamation FIST 2-1, p. 22, for the starter; three deviations: common practice.
    """
    if not (math.isfinite(limit_mm) and limit_mm > 0):
        raise AlignmentError("closure_limit", "The site's limit on a closure must be a number above zero.")
    return any(
        item.closure_mm is not None and abs(item.closure_mm) > limit_mm + 1e-9 and not item.closes
        for item in solution.sets
    )


def direct(
    offset_mm: Pair,
    slope_mrad: Pair,
    *,
    offset_u_mm: Pair,
    slope_u_mrad: Pair,
    viewed_from: str = "movable",
) -> Solution:
    """Offset and angularity at x = 0 as an instrument shows them.

    Parameters
    ----------
    offset_mm, slope_mrad : (vertical, horizontal)
        Up and right positive as the observer sees them; None for a plane that was not measured. [mm], [mrad]
    offset_u_mm, slope_u_mrad : (vertical, horizontal)
        Standard uncertainty of each component that is given. [mm], [mrad]
    viewed_from : {'movable', 'stationary'}
        Where the observer stood; from the stationary machine left and right change places.

    Returns
    -------
    Solution
        Without sets: nothing but what was typed. [mm, mrad]

    Raises
    ------
    AlignmentError
        A component without its fellow, a missing or negative uncertainty, nothing at all.

    References
    ----------
    Common practice: instruments report at the coupling's centre.
    """
    return _typed(
        (*_plane_first("offset", offset_mm, offset_u_mm), *_plane_first("angularity", slope_mrad, slope_u_mrad)),
        np.eye(4),
        viewed_from,
    )


def from_flex_angles(
    a_mrad: Pair,
    b_mrad: Pair,
    *,
    a_u_mrad: Pair,
    b_u_mrad: Pair,
    flex_planes_mm: Sequence[float],
    viewed_from: str = "movable",
) -> Solution:
    """Offset and slope from the angles at both flex planes.

    Parameters
    ----------
    a_mrad, b_mrad : (vertical, horizontal)
        Spool less stationary shaft at A, movable shaft less spool at B; None where not measured. [mrad]
    a_u_mrad, b_u_mrad : (vertical, horizontal)
        Standard uncertainties. [mrad]
    flex_planes_mm : (x_A, x_B)
        From the coupling's centre. [mm]
    viewed_from : {'movable', 'stationary'}

    Returns
    -------
    Solution
        Offset and slope at x = 0. [mm, mrad]

    Raises
    ------
    AlignmentError
        As `direct`; planes missing or in the wrong order.

    References
    ----------
    ``offset(x_B) = L A``, ``offset(x_A) = -L B``: the line through two pivots of a rigid spool.
    """
    xa, xb = checked_planes(flex_planes_mm)
    y_a, y_b = -xa / 1000.0, -xb / 1000.0
    table = np.array([[y_a, 0, y_b, 0], [0, y_a, 0, y_b], [1, 0, 1, 0], [0, 1, 0, 1]])
    parts = (*_plane_first("flex_angles.0", a_mrad, a_u_mrad), *_plane_first("flex_angles.1", b_mrad, b_u_mrad))
    return _typed(parts, table, viewed_from)


Part = tuple[str, float | None, float | None]


def _plane_first(field: str, values: Pair, spreads: Pair) -> tuple[Part, Part]:
    return (f"{field}.vertical", values[0], spreads[0]), (f"{field}.horizontal", values[1], spreads[1])


def _typed(parts: Sequence[Part], table: NDArray[np.float64], viewed_from: str) -> Solution:
    if viewed_from not in ("movable", "stationary"):
        raise AlignmentError("viewed_from", "Say where the observer stood: movable or stationary.")
    errors: dict[str, str] = {}
    for place, (field, value, spread) in enumerate(parts):
        fellow = parts[(place + 2) % 4][1]
        if value is None and fellow is not None:
            errors[field] = "The other component of this plane is given, so this one is needed too."
        elif value is not None and not math.isfinite(value):
            errors[field] = "This component is not a finite number."
        elif value is not None and (spread is None or not math.isfinite(spread) or spread < 0):
            errors[f"{field}.standard_uncertainty"] = "The standard uncertainty must be given, zero or above."
    if all(value is None for _, value, _ in parts):
        errors[parts[0][0]] = "Nothing is given: enter at least one plane."
    if errors:
        raise AlignmentError(errors)
    given = np.array([np.nan if value is None else value for _, value, _ in parts])
    spread_of = np.array([0.0 if value is None or u is None else u for _, value, u in parts])
    mirror = np.array([1.0, -1.0, 1.0, -1.0]) if viewed_from == "stationary" else np.ones(4)
    lost = np.isnan(given)
    matrix = mirror[:, None] * table
    mean = matrix @ np.where(lost, 0.0, given)
    covariance = matrix @ np.diag(spread_of**2) @ matrix.T
    mean[lost] = np.nan
    covariance[lost, :] = np.nan
    covariance[:, lost] = np.nan
    return Solution(Misalignment.of(mean, covariance))
