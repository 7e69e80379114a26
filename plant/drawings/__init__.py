"""Drawings as SVG text: classes only, every colour comes from sheet.css, so a strict content policy holds."""

from plant.drawings.clock import clock_ring
from plant.drawings.component import LegLine, component_plot
from plant.drawings.feet import Foot
from plant.drawings.history import Ahead, History, Visited, memory_line
from plant.drawings.hubs import HubPicture, HubSide, hubs_picture
from plant.drawings.marks import limit_line, state_mark
from plant.drawings.positions import Limits, Position, ShaftPicture, ShaftViews
from plant.drawings.shafts import shaft_picture

__all__ = [
    "Ahead",
    "Foot",
    "History",
    "HubPicture",
    "HubSide",
    "LegLine",
    "Limits",
    "Position",
    "ShaftPicture",
    "ShaftViews",
    "Visited",
    "clock_ring",
    "component_plot",
    "hubs_picture",
    "limit_line",
    "memory_line",
    "shaft_picture",
    "state_mark",
]
