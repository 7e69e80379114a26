"""What a visit's steps are filled with in tests: an invented motor and pump, and the printed survey."""

from datetime import UTC, datetime

from inspections.services.drafts import begin_visit, save_entry
from plant.recording import recording
from tests.factories import NOW, TODAY

# The survey printed in the description of the alignment calculation: reverse rim, 150 mm between the rims.
PRINTED = {
    "method": "reverse-rim", "stationary": "driven", "viewed_from": "movable", "taken_at": "08:20",
    "set0.x": "75", "set0.sag": "-0.04", "set0.u": "0.01",
    "set0.12": "0", "set0.3": "0,12", "set0.6": "0.30", "set0.9": "0.18",
    "set1.x": "-75", "set1.sag": "-0.04", "set1.u": "0.01",
    "set1.12": "0", "set1.3": "-0.10", "set1.6": "-0.26", "set1.9": "-0.16",
}  # fmt: skip
# Reverse rim with both shafts in line: nothing but the brackets' sag.
IN_LINE = PRINTED | {
    "taken_at": "09:40",
    "set0.3": "-0.02", "set0.6": "-0.04", "set0.9": "-0.02",
    "set1.3": "-0.02", "set1.6": "-0.04", "set1.9": "-0.02",
}  # fmt: skip
PLACEMENT = {"dbse": "140.2", "driver_engagement": "78", "driven_engagement": "80"}
ELEMENT = {"act": "fitted", "part_number": "E-80", "batch": "B7", "cured_on": "2026-03-01"}
# Invented figures about the machines themselves, inside the starters' limits.
MACHINE_STEPS = {
    "run-out": {"driver_shaft.diameter": "60", "driver_shaft.tir": "0.03"},
    "pipe-strain": {"viewed_from": "driver", "driven.vertical": "0.02", "driven.horizontal": "-0.01"},
    "soft-foot": {
        "method": "rises", "driver0l.rise": "0.02", "driver0r.rise": "0.01", "driver1l.rise": "0.02",
        "driver1r.rise": "0.04", "driver0l.shims": "2.0 + 0.5 + 0.05",
    },
}  # fmt: skip
# One side of `mounting`, invented: a data sheet that says H7/m6 at 50 mm and clamp finds nothing out.
MOUNTING = {
    "driver.cleaned": "yes", "driver.kind": "clamp",
    "driver.bore": "50.012", "driver.bore_gauge": "C-2", "driver.shaft": "50.015", "driver.shaft_gauge": "C-1",
    "driver.key_width": "14", "driver.key_height": "9", "driver.screw_torque": "30", "driver.wrench": "T-1",
}  # fmt: skip
# Steps round the measuring, invented.
AROUND = {
    "conditions": {"ambient": "18", "stopped": "6", "driver_vibration": "2.1", "current": "88", "noise": "usual"},
    "cleaning": {"driver.state": "clean", "driver.agent": "spirit", "driven.state": "marked"},
    "hold-down": {"driver.torque": "120", "driver.how": "set", "driver.jacks": "backed"},
    "rotation": {"proved": "uncoupled", "right": "yes"},
    "guard": {"state": "on"},
}
NOON = datetime(2026, 10, 12, 10, 0, tzinfo=UTC)


def fasteners(wrench):
    return {"joint0.how": "set", "joint0.torque": "45", "joint0.instrument": wrench.serial}


def begin(fit, order, by, kind="installation", on=TODAY, at=NOW, **more):
    with recording(by=by, at=at):
        return begin_visit(coupling=fit.coupling, kind=kind, on=on, work_order=order, **more)


def save(visit, step, fields, by, number=0, seen=None, at=NOW):
    with recording(by=by, at=at):
        return save_entry(visit=visit, step=step, number=number, fields=fields, seen=seen)


def fill_installation(visit, by, wrench, left=IN_LINE, element=ELEMENT):
    save(visit, "placement", PLACEMENT, by)
    save(visit, "as-left", left, by)
    save(visit, "element", element, by)
    save(visit, "fasteners", fasteners(wrench), by)
    return visit
