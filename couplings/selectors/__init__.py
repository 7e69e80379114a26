"""What is asked about couplings, data sheets, fits and limits, and who may see it."""

from couplings.selectors.couplings import coupling_for, couplings_matching, couplings_visible_to
from couplings.selectors.fits import Whereabouts, element_in, fit_at, fits_visible_to, whereabouts
from couplings.selectors.geometry import feet_of, flex_planes_of, target_of
from couplings.selectors.growth import support_coefficient
from couplings.selectors.instruments import (
    IN_CALIBRATION,
    NOT_KNOWN,
    OUT_OF_CALIBRATION,
    CalibrationDue,
    calibration_ends_on,
    calibration_then,
    calibration_verdict,
    calibrations_due,
    in_calibration,
    instruments_at,
    next_calibration,
    operations_left,
    over_operations,
)
from couplings.selectors.joints import HoldingAdvice, holding_advice, joint_advice, sentences_of
from couplings.selectors.limits import grade_for, grade_row_for, limits_of, limits_of_each
from couplings.selectors.sheets import digest_of, version_for, versions_of
from couplings.selectors.stock import lots_to_fit, removal_reasons, stock_visible_to, storage_ages

__all__ = [
    "IN_CALIBRATION",
    "NOT_KNOWN",
    "OUT_OF_CALIBRATION",
    "CalibrationDue",
    "HoldingAdvice",
    "Whereabouts",
    "calibration_ends_on",
    "calibration_then",
    "calibration_verdict",
    "calibrations_due",
    "coupling_for",
    "couplings_matching",
    "couplings_visible_to",
    "digest_of",
    "element_in",
    "feet_of",
    "fit_at",
    "fits_visible_to",
    "flex_planes_of",
    "grade_for",
    "grade_row_for",
    "holding_advice",
    "in_calibration",
    "instruments_at",
    "joint_advice",
    "limits_of",
    "limits_of_each",
    "lots_to_fit",
    "next_calibration",
    "operations_left",
    "over_operations",
    "removal_reasons",
    "sentences_of",
    "stock_visible_to",
    "storage_ages",
    "support_coefficient",
    "target_of",
    "version_for",
    "versions_of",
    "whereabouts",
]
