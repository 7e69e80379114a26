"""Alignment of two shafts: readings in, position of the movable shaft with its uncertainty out.

Working frame: the movable shaft relative to the stationary one, seen by an observer at the movable machine.
Lengths in mm, slopes in mrad (= mm/m); ``offset(x) = offset + slope * x / 1000``; x from the coupling's centre towards
the movable machine.
"""

from couplings.engineering.alignment.frames import from_record, swapped, swapped_planes, to_record
from couplings.engineering.alignment.methods import METHODS, Method, MethodSet, check_method
from couplings.engineering.alignment.misalignment import Misalignment, at, flex_angles, minus_target
from couplings.engineering.alignment.quality import SetQuality, closure_mm
from couplings.engineering.alignment.readings import KINDS, AlignmentError, ReadingSet, clock_angle_deg
from couplings.engineering.alignment.solve import Solution, closure_refused, direct, from_flex_angles, solve

__all__ = [
    "KINDS",
    "METHODS",
    "AlignmentError",
    "Method",
    "MethodSet",
    "Misalignment",
    "ReadingSet",
    "SetQuality",
    "Solution",
    "at",
    "check_method",
    "clock_angle_deg",
    "closure_mm",
    "closure_refused",
    "direct",
    "flex_angles",
    "from_flex_angles",
    "from_record",
    "minus_target",
    "solve",
    "swapped",
    "swapped_planes",
    "to_record",
]
