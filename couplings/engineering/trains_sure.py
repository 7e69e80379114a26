"""Moves of a train that leave every coupling in with a wanted probability, by using less of the limits."""

from __future__ import annotations

from couplings.engineering.conformity import ConformityError
from couplings.engineering.trains import TrainMoves, train_moves
from couplings.engineering.trains_geometry import Train, TrainError

STEPS = 10  # the share is then known to a thousandth of what was asked for


def sure_moves(train: Train, objective: str, share: float, confidence: float) -> TrainMoves:
    """Find the moves with the largest share of the limits that leaves every coupling in with a probability.

    Parameters
    ----------
    train : Train
        Every coupling with limits has its covariance. [mm, mrad]
    objective : str
        As in `train_moves`.
    share : float
        The share that is used where the uncertainty allows it. [1]
    confidence : float
        Wanted probability, jointly over the limits of each coupling, 0.5 to 1. [1]

    Returns
    -------
    TrainMoves
        Its `share` is what was used. Where no share within the bounds reaches the probability, the answer for the
        smallest possible one, whose couplings say what they do reach.

    Raises
    ------
    TrainError
        As `train_moves`; a confidence outside 0.5 to 1; a coupling with limits and without covariance, or none at all.

    Notes
    -----
    The probability falls as more of the limits is used, so the share is found by halving.

    References
    ----------
    JCGM 106:2012, 7 and 8.3 (guard bands).
    """
    errors: dict[str, str] = {}
    if not 0.5 < confidence < 1:
        errors["confidence"] = "A probability between 0.5 and 1 is expected, such as 0.95."
    judged = [place for place, one in enumerate(train.couplings) if one.limits and one.limits.limits]
    if not judged:
        errors["confidence"] = "A probability needs a coupling with limits."
    for place in judged:
        if train.couplings[place].covariance is None:
            errors[f"couplings.{place}.offset"] = (
                "A probability needs the standard uncertainty of what was measured at every coupling with limits."
            )
    if errors:
        raise TrainError(errors)
    first = train_moves(train, objective, share)
    if not first.feasible or enough(first, confidence):
        return first
    lowest = train_moves(train, objective, 0.0)
    low = 0.0
    if not lowest.feasible:
        low = min(share, (lowest.nearest_share or 0.0) + 1e-4)
        lowest = train_moves(train, objective, low)
    if not lowest.feasible or not enough(lowest, confidence):
        return lowest if lowest.feasible else first
    best, high = lowest, share
    for _ in range(STEPS):
        middle = (low + high) / 2.0
        tried = train_moves(train, objective, middle)
        if tried.feasible and enough(tried, confidence):
            best, low = tried, middle
        else:
            high = middle
    return best


def enough(found: TrainMoves, confidence: float) -> bool:
    """Whether every coupling that has a probability reaches this one.

    Parameters
    ----------
    found : TrainMoves
    confidence : float
        [1]

    Returns
    -------
    bool

    Raises
    ------
    ConformityError
        A confidence outside 0 to 1.

    References
    ----------
    JCGM 106:2012, 8.3.
    """
    if not 0 < confidence < 1:
        raise ConformityError("confidence", "A probability lies between 0 and 1.")
    return all(one.probability is None or one.probability >= confidence for one in found.after)
