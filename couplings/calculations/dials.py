"""Where each dial, straightedge or feeler of a method sits, drawn as lines: shafts, faces and rims, bracket, dial."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _

from couplings.calculations.typed import carrier_is_open
from couplings.engineering.alignment import METHODS, MethodSet
from plant.drawings.svg import circle, line, picture, text

CARRIERS, SURFACES = ("stationary", "movable"), ("near", "far")
WIDTH, HEIGHT, AXIS, RIM, TOP = 320, 100, 62, 42, 16
FACE, THICK = 112, 20  # of the left hub; the right one is its mirror image
PIVOT = 132


@dataclass(frozen=True)
class DialPicture:
    """One way a dial may sit; `when` is what makes it so: who carries it, and which face it reads."""

    when: str
    svg: SafeString
    words: str
    hidden: bool


def dial_pictures(method: str, typed: Mapping[str, str]) -> dict[str, list[DialPicture]]:
    """For each set of a method every way its dial may sit, by set0, set1, ..; that which was said is in sight."""
    found: dict[str, list[DialPicture]] = {}
    for number, row in enumerate(METHODS[method].sets):
        carriers = CARRIERS if carrier_is_open(method, row) else (row.carried_by or "",)
        face = row.kind == "face" or (row.kind == "flex-angle" and "swing_radius_mm" in row.geometry)
        said = (
            (typed.get(f"set{number}.carried_by") or row.carried_by or "") if len(carriers) > 1 else carriers[0],
            typed.get(f"set{number}.surface") or "near",
        )
        found[f"set{number}"] = [
            _drawn(row, carried_by, surface, hidden=(carried_by, surface) != said)
            for carried_by in carriers
            for surface in (SURFACES if face else ("near",))
        ]
    return found


def _drawn(row: MethodSet, carried_by: str, surface: str, *, hidden: bool) -> DialPicture:
    words = _words(row, carried_by, surface)
    body = _shafts(row) + _tool(row, carried_by, surface)
    for side, x, css in (("stationary", 4, "t"), ("movable", WIDTH - 4, "t end")):
        name = _("stationary") if side == "stationary" else _("movable")
        body += text(x, AXIS + 15, name, css)
    # The page's script shows the one of the two that was said; without it neither is claimed.
    for side, x, css in (("stationary", 4, "t tb"), ("movable", WIDTH - 4, "t tb end")):
        body += f'<g data-view="{side}" hidden="">{text(x, HEIGHT - 4, _("you look from here"), css)}</g>'
    svg = picture(WIDTH, HEIGHT, body, words, "dialpic")
    return DialPicture(f"{carried_by} {surface}", mark_safe(svg), words, hidden)


def _mirror(x: float, turned: bool) -> float:
    return WIDTH - x if turned else x


def _shafts(row: MethodSet) -> str:
    """Both centrelines; hubs as their face and the line of their rim; a spool between its flex planes as a line."""
    body = ""
    spool = row.kind == "flex-angle"
    for turned in (False, True):
        at = PIVOT if spool else FACE
        body += line(_mirror(4, turned), AXIS, _mirror(at, turned), AXIS, "shaft")
        if not spool:
            body += line(_mirror(FACE, turned), RIM, _mirror(FACE, turned), 2 * AXIS - RIM, "axis")
            for y in (RIM, 2 * AXIS - RIM):
                body += line(_mirror(FACE - THICK, turned), y, _mirror(FACE, turned), y, "axis")
            body += line(_mirror(FACE - THICK, turned), RIM, _mirror(FACE - THICK, turned), 2 * AXIS - RIM, "axis")
    if spool:
        body += line(PIVOT, AXIS, WIDTH - PIVOT, AXIS, "spool")
        for letter, x in (("A", PIVOT), ("B", WIDTH - PIVOT)):
            body += line(x, 28, x, 88, "plane") + circle(x, AXIS, 4, "hinge") + text(x, 98, letter, "t mid")
    return body


def _tool(row: MethodSet, carried_by: str, surface: str) -> str:
    if row.kind == "step":
        return line(FACE - THICK, RIM - 2, WIDTH - FACE + THICK, RIM - 2, "limit") + text(
            WIDTH / 2, RIM - 10, _("straightedge"), "t mid"
        )
    if row.kind == "gap":
        body = line(FACE, RIM + 6, WIDTH - FACE, RIM + 6, "limit")
        return body + text(WIDTH / 2, RIM, _("feeler"), "t mid")
    if row.kind == "flex-angle":
        turned = row.plane == "B"
        if "distance_mm" in row.geometry:
            return _rim_dial(turned, foot=60, over=PIVOT + 14, rests=AXIS - 3)
        return _face_dial(turned, foot=60, face=PIVOT + 22, far=surface == "far", on_axis=True)
    turned = carried_by == "movable"
    if row.kind == "rim":
        return _rim_dial(turned, foot=52, over=WIDTH - FACE + THICK / 2, rests=RIM)
    face = WIDTH - FACE + (THICK if surface == "far" else 0)
    return _face_dial(turned, foot=52, face=face, far=surface == "far", on_axis=False)


def _rim_dial(turned: bool, *, foot: float, over: float, rests: float) -> str:
    """A bracket from the shaft, up, along, and the dial with its plunger down on what it sweeps."""
    body = line(_mirror(foot, turned), AXIS, _mirror(foot, turned), TOP - 6, "bracket")
    body += line(_mirror(foot, turned), TOP - 6, _mirror(over, turned), TOP - 6, "bracket")
    body += line(_mirror(over, turned), TOP - 6, _mirror(over, turned), TOP, "bracket")
    body += circle(_mirror(over, turned), TOP + 7, 7, "dialface")
    return body + line(_mirror(over, turned), TOP + 14, _mirror(over, turned), rests, "bracket")


def _face_dial(turned: bool, *, foot: float, face: float, far: bool, on_axis: bool) -> str:
    """The same with the plunger along the shaft, on the face that looks back at the bracket or on the far one."""
    y, side = RIM + 8, 1 if far else -1
    centre = face + side * 17
    body = line(_mirror(foot, turned), AXIS, _mirror(foot, turned), TOP - 6, "bracket")
    body += line(_mirror(foot, turned), TOP - 6, _mirror(centre, turned), TOP - 6, "bracket")
    body += line(_mirror(centre, turned), TOP - 6, _mirror(centre, turned), y - 7, "bracket")
    body += circle(_mirror(centre, turned), y, 7, "dialface")
    body += line(_mirror(centre - side * 7, turned), y, _mirror(face, turned), y, "bracket")
    return body + (line(_mirror(face, turned), RIM, _mirror(face, turned), AXIS, "axis") if on_axis else "")


def _words(row: MethodSet, carried_by: str, surface: str) -> str:
    if row.kind == "step":
        return _("The straightedge lies on the stationary rim; the feeler shows how much higher the other stands.")
    if row.kind == "gap":
        return _("The feeler measures the gap between the two hub faces.")
    if row.kind == "flex-angle":
        side = _("stationary") if row.plane == "A" else _("movable")
        what = _("rim of the spool") if "distance_mm" in row.geometry else _("face of the spool")
        said = _("The bracket sits on the %(side)s shaft; its dial reads the %(what)s across flex plane %(plane)s.") % {
            "side": side,
            "what": what,
            "plane": row.plane,
        }
        return said if surface == "near" else said + " " + _("It reads the far face.")
    carrier, swept = (_("stationary"), _("movable")) if carried_by == "stationary" else (_("movable"), _("stationary"))
    if row.kind == "rim":
        return _("The bracket sits on the %(carrier)s shaft; its dial rests on the rim of the %(swept)s hub.") % {
            "carrier": carrier,
            "swept": swept,
        }
    if surface == "far":
        return _("The bracket sits on the %(carrier)s shaft; its dial reads the far face of the %(swept)s hub.") % {
            "carrier": carrier,
            "swept": swept,
        }
    return _("The bracket sits on the %(carrier)s shaft; its dial reads the face of the %(swept)s hub.") % {
        "carrier": carrier,
        "swept": swept,
    }
