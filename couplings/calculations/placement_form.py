"""The rows of the placement form."""

from __future__ import annotations

from couplings.calculations.one_form import YES, one_form, truth
from couplings.calculations.plain_form import Row, row

ELEMENTS = 4


def _hub(number: int) -> list[Row]:
    at, group = f"hubs.{number}", f"Hub of side {number + 1}"
    return [
        row(f"hub{number}.name", "Machine", "text", f"{at}.name", group=group),
        row(f"hub{number}.bore", "Length of the bore", "size", f"{at}.bore_length", required=True, group=group),
        row(
            f"hub{number}.flange",
            "Flange plane behind the flange-side face",
            "size",
            f"{at}.flange",
            group=group,
            hint="Where the element bears; negative: in front of the face. Blank: on the face.",
        ),
        row(
            f"hub{number}.shaft",
            "Straight length of the shaft",
            "size",
            f"{at}.shaft_length",
            group=group,
            hint="From the shaft's end to the shoulder. Blank: longer than the bore.",
        ),
        row(f"hub{number}.diameter", "Diameter of the shaft", "size", f"{at}.shaft_diameter", group=group),
        row(
            f"hub{number}.proud",
            "Shaft may stand proud of the face by",
            "size",
            f"{at}.protrusion",
            group=group,
            hint="Blank: as far as it likes.",
        ),
        row(f"hub{number}.growth", "Shaft grows towards the other by", "gap", f"{at}.growth", group=group),
        row(
            f"hub{number}.turns",
            "Hub can be reversed",
            "choice",
            f"{at}.reversible",
            group=group,
            choices=(("", "yes"), ("no", "no")),
            read=truth,
        ),
    ]


def _element(number: int) -> list[Row]:
    at = f"elements.{number}"
    label = "Element, or spacer in its first position" if number == 0 else f"Spacer in position {number + 1}"
    return [
        row(
            f"element{number}",
            label,
            "size",
            f"{at}.length",
            required=number == 0,
            group="Element or spacer",
            hint="From flange plane to flange plane." if number == 0 else "",
        )
    ]


ROWS = (
    row("dbse", "Distance between the shaft ends, cold", "size", required=True, group="Shafts"),
    row(
        "float",
        "Both rotors float towards each other by",
        "gap",
        group="Shafts",
        hint="Together, to the inward stops.",
    ),
    *_hub(0),
    *_hub(1),
    *(each for number in range(ELEMENTS) for each in _element(number)),
    row(
        "share",
        "Least engaged share of the bore",
        "share",
        "rules.engagement_share",
        group="Rules",
        hint="Blank: 80 %, common practice.",
    ),
    row(
        "one_diameter",
        "Engaged at least one shaft diameter",
        "choice",
        "rules.one_diameter",
        group="Rules",
        choices=YES,
        read=truth,
    ),
    row(
        "clearance",
        "Least running clearance of the shaft ends",
        "gap",
        "rules.clearance",
        group="Rules",
        hint="Hot, floated inward. Blank: they must not touch.",
    ),
    row(
        "gap",
        "Least gap between the hubs' faces",
        "size",
        "rules.gap",
        group="Rules",
        hint="Blank: they must not touch.",
    ),
)
FORM = one_form(ROWS)
