"""The squared paper under the shaft picture: what one square may stand for, and the sentence that says it."""

from dataclasses import dataclass

from plant.drawings.positions import ShaftPicture


@dataclass(frozen=True)
class Ruling:
    """The squared paper: what one square may stand for in one system of units."""

    unit: str
    unit_mm: float
    across: tuple[float, ...]
    decimals: int
    slope_unit: str
    along_unit: str
    along_unit_mm: float
    along: tuple[float, ...]


# 1 inch = 25.4 mm exactly, 1 thou = 0.001 inch.
RULINGS = {
    "metric": Ruling(
        unit="mm",
        unit_mm=1.0,
        across=(0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50),
        decimals=2,
        slope_unit="mm/m",
        along_unit="mm",
        along_unit_mm=1.0,
        along=(100, 200, 500, 1000, 2000),
    ),
    "us": Ruling(
        unit="thou",
        unit_mm=0.0254,
        across=(0.5, 1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 2000),
        decimals=1,
        slope_unit="thou/inch",
        along_unit="inch",
        along_unit_mm=25.4,
        along=(4, 8, 20, 40, 80),
    ),
}


def _target_words(asked: ShaftPicture, ruling: Ruling) -> str:
    """Where the target stands against the stationary shaft; straight ahead says nothing more."""
    said = []
    for target, plus, minus in (
        (asked.target_vertical, "above", "below"),
        (asked.target_horizontal, "right of", "left of"),
    ):
        if target.offset_mm:
            size = f"{abs(target.offset_mm) / ruling.unit_mm:.{ruling.decimals}f}"
            said.append(f"{size}\u00a0{ruling.unit} {plus if target.offset_mm > 0 else minus} the {asked.stationary}")
    for target, plus, minus in (
        (asked.target_vertical, "rising", "falling"),
        (asked.target_horizontal, "turning right", "turning left"),
    ):
        if target.slope_mrad:
            way = plus if target.slope_mrad > 0 else minus
            said.append(f"{way} by {abs(target.slope_mrad):.2f}\u00a0{ruling.slope_unit}")
    return f", {', '.join(said)}, at the coupling’s centre" if said else ""


def scale_words(asked: ShaftPicture, ruling: Ruling, along: float, across: float) -> str:
    """The sentence under the picture: squares, exaggeration, target, band."""
    times = round(along * ruling.along_unit_mm / (across * ruling.unit_mm))
    said = (
        f"One square: {along:g}\u00a0{ruling.along_unit} along, {across:g}\u00a0{ruling.unit} across "
        f"(drawn {times:,} times too tall). Dashed: where the {asked.movable} shaft should lie"
        f"{_target_words(asked, ruling)}. A shaft on target makes one straight line with the {asked.stationary}."
    )
    if asked.limits is not None and asked.limits.drawn(asked.planes_mm):
        where = "the gates at A and B" if asked.planes_mm else "the gate at the coupling’s centre"
        said += f" Shaded, and {where}: what {asked.allowed_by} would allow in this view alone."
    return said
