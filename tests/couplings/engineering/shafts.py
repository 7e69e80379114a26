"""Two rigid shafts in space, and dials, straightedges and gaps that read them: no small-angle formula anywhere.

x right, y up, z from the stationary to the movable machine; the observer stands at the movable machine and looks back,
so that right is +x. Every reading is found by intersecting a line with a cylinder or a plane.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Vector = NDArray[np.float64]
RADIUS = 100.0
SPOKE = 400.0


@dataclass(frozen=True)
class Axis:
    """A straight axis of rotation through `point` (at z = 0) along `way`."""

    point: Vector
    way: Vector

    def at(self, z: float) -> Vector:
        return self.point + self.way * (z - self.point[2]) / self.way[2]


STATIONARY = Axis(np.zeros(3), np.array([0.0, 0.0, 1.0]))


def movable(offset_v: float, offset_h: float, slope_v: float, slope_h: float) -> Axis:
    """The movable shaft: offsets in mm at z = 0, slopes in mrad."""
    way = np.array([slope_h / 1000, slope_v / 1000, 1.0])
    return Axis(np.array([offset_h, offset_v, 0.0]), way / np.linalg.norm(way))


def spool(shaft: Axis, z_a: float, z_b: float) -> Axis:
    """The spacer between flex plane A on the stationary and B on the movable shaft."""
    start, end = STATIONARY.at(z_a), shaft.at(z_b)
    way = (end - start) / np.linalg.norm(end - start)
    return Axis(start, way)


def _radial(axis: Axis, angle_deg: float) -> Vector:
    """Unit vector square to the axis, pointing to a clock position."""
    t = np.radians(angle_deg)
    wanted = np.array([np.sin(t), np.cos(t), 0.0])
    square = wanted - axis.way * (wanted @ axis.way)
    return square / np.linalg.norm(square)


def _to_cylinder(start: Vector, way: Vector, axis: Axis, radius: float) -> float:
    """Distance from `start` along `way` to the nearer side of a cylinder."""
    a = start - axis.point
    a = a - axis.way * (a @ axis.way)
    b = way - axis.way * (way @ axis.way)
    mixed, square, rest = a @ b, b @ b, a @ a - radius**2
    return float((-mixed - np.sqrt(mixed**2 - square * rest)) / square)


def _to_plane(start: Vector, way: Vector, point: Vector, normal: Vector) -> float:
    return float(((point - start) @ normal) / (way @ normal))


def rim(carrier: Axis, swept: Axis, z: float, angle_deg: float) -> float:
    """Dial on a rim: the nearer the surface comes, the further the plunger goes in."""
    out = _radial(carrier, angle_deg)
    return -_to_cylinder(carrier.at(z) + SPOKE * out, -out, swept, RADIUS)


def face(carrier: Axis, swept: Axis, z: float, swing: float, angle_deg: float, *, back: float, far: bool) -> float:
    """Dial on a face at z of `swept`; `back` is +1 when the bracket's shaft lies on the side of smaller z."""
    base = carrier.at(z) + swing * _radial(carrier, angle_deg)
    away = -back if not far else back
    start = base + away * 200.0 * carrier.way
    return -_to_plane(start, -away * carrier.way, swept.at(z), swept.way)


def step(shaft: Axis, z: float, angle_deg: float, *, hub_difference: float) -> float:
    """How much higher the movable hub's rim stands than the stationary one's, seen along one radius."""
    out = _radial(STATIONARY, angle_deg)
    there = SPOKE - _to_cylinder(STATIONARY.at(z) + SPOKE * out, -out, shaft, RADIUS + hub_difference)
    return there - RADIUS


def gap(shaft: Axis, z_stationary: float, z_movable: float, radius: float, angle_deg: float) -> float:
    """Width between the hub faces at one clock position."""
    start = STATIONARY.at(z_stationary) + radius * _radial(STATIONARY, angle_deg)
    return _to_plane(start, STATIONARY.way, shaft.at(z_movable), shaft.way)
