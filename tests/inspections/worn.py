"""What the steps Wear and Lubricant are filled with in tests, and visits that hold only them."""

from couplings.models import Family, SheetWearLimit, WearCode
from couplings.services.starters import load_for_everybody
from inspections.services.signing import sign_visit
from plant.recording import recording
from tests.factories import NOW, TODAY, WorkOrderFactory
from tests.inspections.visits import begin, fasteners, save

LOOKED_OVER = {"crack.grade": "1", "dust.grade": "0"}
SHORE = {"hardness.scale": "A"} | {
    f"hardness.position{n}": text for n, text in enumerate(("64", "66", "65", "70", "65"), 1)
}


def starters():
    """The starter codes, also for a family that a factory made before them."""
    load_for_everybody()


def limited(version, code, limit):
    SheetWearLimit.objects.create(version=version, code=WearCode.objects.get(code=code), limit=limit)


def of_family(fit, code):
    """The same fit with a data sheet of another family."""
    sheet = fit.sheet_version.sheet
    sheet.family = Family.objects.get(code=code)
    sheet.save()
    return fit


def look(fit, by, wrench, fields, on=TODAY, at=NOW, **steps):
    """A torque visit of that day on which somebody looked at the coupling, signed."""
    visit = begin(fit, WorkOrderFactory(train=fit.coupling.train, isolated=True), by, kind="torque", on=on, at=at)
    save(visit, "fasteners", fasteners(wrench), by, at=at)
    if fields:
        save(visit, "wear", fields, by, at=at)
    for step, typed in steps.items():
        save(visit, step, typed, by, at=at)
    with recording(by=by, at=at):
        sign_visit(visit=visit)
    visit.refresh_from_db()
    return visit
