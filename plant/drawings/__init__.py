"""Drawings as SVG text: classes only, every colour comes from sheet.css, so a strict content policy holds."""

from plant.drawings.clock import clock_ring
from plant.drawings.feet import Foot
from plant.drawings.hubs import HubPicture, HubSide, hubs_picture
from plant.drawings.marks import limit_line, state_mark
from plant.drawings.positions import Limits, Position, ShaftPicture, ShaftViews
from plant.drawings.shafts import shaft_picture

__all__ = [
    "Foot",
    "HubPicture",
    "HubSide",
    "Limits",
    "Position",
    "ShaftPicture",
    "ShaftViews",
    "clock_ring",
    "hubs_picture",
    "limit_line",
    "shaft_picture",
    "state_mark",
]
