"""The fields of tests/inspections/visits.py as somebody types them who measures in inches."""

from tests.inspections.visits import ELEMENT, IN_LINE, PLACEMENT, PRINTED

WORDS = frozenset({"method", "stationary", "viewed_from", "taken_at"})


def inch(mm):
    return f"{float(mm.replace(',', '.')) / 25.4:.10g} inch"


def mil(mm):
    return f"{float(mm.replace(',', '.')) / 0.0254:.10g} mil"


def in_inches(typed):
    """Lengths along the shaft in inches; readings at 12 and 6 in inches, all other small ones in mil."""
    far = ("x", "12", "6")
    return {
        name: text if name in WORDS else (inch if name.split(".")[-1] in far else mil)(text)
        for name, text in typed.items()
    }


FEET = {"feet0.name": "inboard", "feet0.x": inch("250"), "feet1.name": "outboard", "feet1.x": inch("700")}
SURVEY = in_inches(PRINTED) | FEET
LEFT = in_inches(IN_LINE)
PLACED = {name: inch(text) for name, text in PLACEMENT.items()}
FITTED = ELEMENT


def tightened(wrench):
    return {"joint0.how": "set", "joint0.torque": "33.19 lbf*ft", "joint0.instrument": wrench.serial}
