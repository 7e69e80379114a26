"""The units of the trade and the kinds of quantity, as rows; plant.units does the converting."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Unit:
    """A unit as the trade writes it. `pint` is the expression pint understands; `label` is what people read."""

    name: str
    what: str
    pint: str
    label: str = ""
    spellings: tuple[str, ...] = ()

    @property
    def printed(self) -> str:
        """For people; the name is for programs."""
        return self.label or self.name


@dataclass(frozen=True)
class Kind:
    """What is measured: the sorts of unit that fit, base unit, words for a refusal, shown unit and decimals."""

    name: str
    takes: tuple[str, ...]
    base: str
    words: str
    metric: tuple[str, int]
    us: tuple[str, int]


# pint's own `mil` is an angle and its `ft*lb` a mass times a length, so neither word reaches pint.
UNIT_ROWS = (
    Unit("mm", "length", "mm", spellings=("millimeter", "millimetre")),
    Unit("um", "length", "um", "µm", ("micron", "micrometer", "micrometre")),
    Unit("cm", "length", "cm"),
    Unit("m", "length", "m"),
    Unit("inch", "length", "inch", spellings=("in", "inches", '"')),
    Unit("thou", "length", "thou", spellings=("mils",)),
    Unit("mil", "length", "thou"),
    Unit("ft", "length", "ft", spellings=("foot", "feet")),
    Unit("mm/m", "slope", "mm / m", spellings=("um/mm",)),
    Unit("mrad", "slope", "mrad"),
    Unit("thou/inch", "slope", "thou / inch", spellings=("thou/in",)),
    Unit("mil/inch", "slope", "thou / inch", spellings=("mil/in", "mils/in", "mils/inch")),
    Unit("deg", "angle", "degree", "°", ("degree", "degrees")),
    Unit("N*m", "torque", "N * m", "N·m", ("Nm",)),
    Unit("lbf*ft", "torque", "lbf * ft", "lbf·ft", ("lb*ft", "ft*lb", "ft*lbf", "ftlb", "ftlbs", "ft*lbs", "lbft")),
    Unit(
        "lbf*in", "torque", "lbf * inch", "lbf·in", ("lb*in", "in*lb", "in*lbf", "inlb", "inlbs", "in*lbs", "lbf*inch")
    ),
    Unit("ozf*in", "torque", "ozf * inch", "ozf·in", ("oz*in", "in*oz", "ozin")),
    Unit("kgf*m", "torque", "kgf * m", "kgf·m", ("kgfm", "kp*m")),
    Unit("J", "energy", "J"),
    Unit("kJ", "energy", "kJ"),
    Unit("Wh", "energy", "Wh", spellings=("W*h",)),
    Unit("kWh", "energy", "kWh", spellings=("kW*h",)),
    Unit("degC", "temperature", "degC", "°C", ("C", "celsius")),
    Unit("degF", "temperature", "degF", "°F", ("F", "fahrenheit")),
    Unit("delta_degC", "temperature difference", "delta_degC", "°C"),
    Unit("delta_degF", "temperature difference", "delta_degF", "°F"),
    Unit("K", "temperature difference", "delta_degC"),
    Unit("rpm", "speed", "rpm", spellings=("r/min", "1/min")),
    Unit("rad/s", "speed", "rad / s"),
    Unit("Hz", "frequency", "1 / s", spellings=("1/s",)),
    Unit("m/s", "speed along a line", "m / s"),
    Unit("mm/s", "speed along a line", "mm / s"),
    Unit("ft/min", "speed along a line", "ft / min", spellings=("fpm",)),
    Unit("ft/s", "speed along a line", "ft / s"),
    Unit("inch/s", "speed along a line", "inch / s", spellings=("in/s",)),
    Unit("A", "current", "A", spellings=("ampere", "amp", "amps")),
    Unit("kW", "power", "kW"),
    Unit("W", "power", "W"),
    Unit("hp", "power", "hp"),
    Unit("PS", "power", "metric_horsepower", spellings=("metric hp",)),
    Unit("N", "force", "N"),
    Unit("kN", "force", "kN"),
    Unit("lbf", "force", "lbf"),
    Unit("MPa", "pressure", "MPa", spellings=("N/mm2",)),
    Unit("kPa", "pressure", "kPa"),
    Unit("bar", "pressure", "bar"),
    Unit("psi", "pressure", "psi"),
    Unit("ksi", "pressure", "ksi"),
    Unit("Pa", "pressure", "Pa"),
    Unit("N*m/rad", "torsional stiffness", "N * m", "N·m/rad", ("Nm/rad",)),
    Unit("lbf*in/rad", "torsional stiffness", "lbf * inch", "lbf·in/rad", ("lb*in/rad", "in*lb/rad")),
    Unit("lbf*ft/rad", "torsional stiffness", "lbf * ft", "lbf·ft/rad", ("lb*ft/rad", "ft*lb/rad")),
    Unit("kg*m2", "inertia", "kg * m ** 2", "kg·m²", ("kgm2", "kg*m^2")),
    Unit("lb*ft2", "inertia", "lb * ft ** 2", "lb·ft²", ("lb*ft^2",)),
    Unit("lb*in2", "inertia", "lb * inch ** 2", "lb·in²", ("lb*in^2",)),
    Unit("g", "mass", "g", spellings=("gram", "grams")),
    Unit("kg", "mass", "kg"),
    Unit("oz", "mass", "oz", spellings=("ounce", "ounces")),
    Unit("lb", "mass", "lb", spellings=("lbs",)),
    Unit("hour", "time", "hour", "h", ("hours", "h", "hr", "hrs")),
    Unit("day", "time", "day", "d", ("days", "d")),
    Unit("minute", "time", "minute", "min", ("minutes", "min")),
    Unit("%", "share", "percent", spellings=("percent",)),
    Unit("1", "share", "dimensionless"),
)

# mrad is in this trade another word for mm/m, a slope; only degrees are an angle, whose slope is its tangent.
KIND_ROWS = (
    Kind("gap", ("length",), "mm", "a misalignment or gap such as mm or thou", ("mm", 2), ("thou", 1)),
    Kind("size", ("length",), "mm", "a length such as mm or inch", ("mm", 1), ("inch", 3)),
    Kind("slope", ("slope", "angle"), "mrad", "a slope such as mm/m or thou/inch", ("mm/m", 2), ("thou/inch", 2)),
    Kind("angle", ("angle", "slope"), "deg", "an angle such as deg or mrad", ("deg", 2), ("deg", 2)),
    Kind("torque", ("torque",), "N*m", "a torque such as N*m or lbf*ft", ("N*m", 1), ("lbf*ft", 1)),
    Kind("screw-torque", ("torque",), "N*m", "a torque such as N*m or lbf*in", ("N*m", 1), ("lbf*in", 0)),
    Kind("temperature", ("temperature",), "degC", "a temperature such as degC or degF", ("degC", 1), ("degF", 1)),
    Kind(
        "temperature-difference",
        ("temperature difference",),
        "delta_degC",
        "a temperature difference such as delta_degC or delta_degF",
        ("delta_degC", 1),
        ("delta_degF", 1),
    ),
    Kind("speed", ("speed",), "rpm", "a speed such as rpm", ("rpm", 0), ("rpm", 0)),
    Kind("power", ("power",), "kW", "a power such as kW or hp", ("kW", 1), ("hp", 1)),
    Kind("force", ("force",), "N", "a force such as N or lbf", ("N", 0), ("lbf", 0)),
    Kind("pressure", ("pressure",), "MPa", "a pressure or stress such as MPa or psi", ("MPa", 1), ("psi", 0)),
    Kind("rim-speed", ("speed along a line",), "m/s", "a rim speed such as m/s or ft/min", ("m/s", 1), ("ft/min", 0)),
    Kind("frequency", ("frequency",), "Hz", "a frequency such as Hz", ("Hz", 2), ("Hz", 2)),
    Kind(
        "torsional-stiffness",
        ("torsional stiffness",),
        "N*m/rad",
        "a torsional stiffness such as N*m/rad or lbf*in/rad",
        ("N*m/rad", 0),
        ("lbf*in/rad", 0),
    ),
    Kind("inertia", ("inertia",), "kg*m2", "a moment of inertia such as kg*m2 or lb*ft2", ("kg*m2", 3), ("lb*ft2", 3)),
    Kind("mass", ("mass",), "g", "a mass such as g or oz", ("g", 0), ("oz", 1)),
    Kind("hours", ("time",), "hour", "a time such as hour or day", ("hour", 1), ("hour", 1)),
    Kind("days", ("time",), "day", "a time such as day or hour", ("day", 0), ("day", 0)),
    Kind(
        "vibration", ("speed along a line",), "mm/s", "a vibration such as mm/s or inch/s", ("mm/s", 1), ("inch/s", 2)
    ),
    Kind("current", ("current",), "A", "a current such as A", ("A", 1), ("A", 1)),
    Kind("share", ("share",), "1", "a share such as %", ("%", 0), ("%", 0)),
)
