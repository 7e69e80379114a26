"""The machines of a train on its pages: their form, and what is said of shafts, feet and what stands there."""

from collections.abc import Iterator
from typing import Any

from django.urls import reverse
from django.utils.translation import gettext

from plant import units
from plant.models import Machine, MachineUnit, Site, Train
from plant.pages.register.lazy import lazily as _
from plant.pages.register.registry import Field, Rows
from plant.selectors.shafts import Shaft, shaft_of
from plant.selectors.units import standing_units
from plant.services.machines import MOST_FEET, MOST_MACHINES

FEET = (
    Field("name", _("Name"), "text", required=True, hint=_("Such as inboard, outboard.")),
    Field("distance_mm", _("Distance along the shaft"), "size", required=True,
          hint=_("From the machine’s driver-side shaft end.")),
    Field("support_height_mm", _("Height of the shaft"), "size", hint=_("From the base to the centreline.")),
)  # fmt: skip
MACHINE = (
    Field("uuid", _("Which machine"), "key", told=False),
    Field("name", _("Name"), "text", required=True, hint=_("What the crew calls it: motor, pump, gear unit, fan.")),
    Field("role", _("Role"), "choice", required=True, choices=tuple(Machine.Role.choices), starter="driven"),
    Field("mounting", _("Mounting"), "choice", required=True, choices=tuple(Machine.Mounting.choices), starter="feet"),
    Field("movable", _("May be moved to align"), "yes", starter="no"),
    Field("shaft_length_mm", _("Shaft length"), "size",
          hint=_("From the driver-side shaft end to the driven-side shaft end.")),
    Field("rpm", _("Speed"), "speed", hint=_("The highest; of a gear unit that of its driver side.")),
    Field("lowest_rpm", _("Lowest speed"), "speed", hint=_("Only where the speed varies.")),
    Field("power_kw", _("Power"), "power", hint=_("Of a driver what it gives, else what its driver side takes in.")),
    Field("driven_rpm", _("Speed of the driven side"), "speed", hint=_("Of a gear unit only.")),
    Field("driven_lowest_rpm", _("Lowest speed of the driven side"), "speed",
          hint=_("Of a gear unit whose speed varies.")),
    Field("driven_power_kw", _("Power of the driven side"), "power", hint=_("What goes on; left out: all of it.")),
    Field("support_material", _("Frame and pedestals"), "choice", choices=tuple(Site.SupportMaterial.choices),
          hint=_("Left out: the site’s.")),
)  # fmt: skip
LIST = Rows(
    name="machines",
    label=_("Machines"),
    one=_("machine"),
    hint=_("From the driver end. Isolation and guards follow the site’s procedure."),
    fields=MACHINE,
    rows=lambda train: train.machines.all(),
    most=MOST_MACHINES,
    starters=2,
    ordered=True,
    told=False,  # the page has a table of its own
    nested=(
        Rows(
            name="feet",
            label=_("Feet"),
            one=_("foot plane"),
            hint=_("Two to four pairs of feet; leave them out while they are not known."),
            fields=FEET,
            rows=lambda machine: machine.foot_planes.all(),
            most=MOST_FEET,
        ),
    ),
)


def machines_of(request: Any, train: Train) -> dict[str, Any]:
    """Every machine from the driver end, in the site's units, with the unit that stands there."""
    machines = list(train.machines.all())
    standing = standing_units(machines)
    system = train.site.units
    units = [stay.unit_id for stay in standing.values()]
    # Where a unit stood before is no business of a crew that is here for one order.
    opened = set(MachineUnit.objects.filter(pk__in=units).visible_to(request.user).values_list("pk", flat=True))
    rows = []
    for machine in machines:
        stay = standing.get(machine.pk)
        rows.append(
            {
                "position": machine.position,
                "name": machine.name,
                "what": [machine.get_role_display(), machine.get_mounting_display()],
                "movable": machine.movable,
                "length": _written(machine.shaft_length_mm, "size", system),
                "shafts": list(_shafts(machine, system)),
                "support": machine.get_support_material_display(),
                "feet": [_foot(foot, system) for foot in machine.foot_planes.all()],
                "unit": str(stay.unit) if stay is not None else "",
                "unit_url": reverse("register-machine-units-one", args=[stay.unit.uuid])
                if stay is not None and stay.unit_id in opened
                else "",
            }
        )
    return {"machines": rows, "default_support": train.site.get_support_material_display()}


def _shafts(machine: Machine, system: str) -> Iterator[str]:
    """What is known of its shafts, a line each: one per side of a gear unit, else one."""
    driver, driven = shaft_of(machine, "driver"), shaft_of(machine, "driven")
    if machine.role == machine.Role.GEAR:
        for side, shaft in ((gettext("driver side"), driver), (gettext("driven side"), driven)):
            if said := shaft_said(shaft, system):
                yield f"{side}: {said}"
        return
    if said := shaft_said(driver, system):
        yield said
    if driven.power_kw is not None and driven.power_kw != driver.power_kw:
        yield gettext("hands on %(power)s") % {"power": units.written(driven.power_kw, "power", system)}


def shaft_said(shaft: Shaft, system: str) -> str:
    """Its speed, or lowest and highest where it varies, and its power; empty where nothing is known."""
    said = [_written(shaft.rpm, "speed", system)]
    if shaft.lowest_rpm is not None and shaft.rpm is not None:
        lowest = units.written(shaft.lowest_rpm, "speed", system)
        said = [gettext("%(lowest)s to %(highest)s") % {"lowest": lowest, "highest": said[0]}]
    said.append(_written(shaft.power_kw, "power", system))
    return ", ".join(one for one in said if one)


def _foot(foot: Any, system: str) -> str:
    words = [f"{foot.name} {units.written(foot.distance_mm, 'size', system)}"]
    if foot.support_height_mm is not None:
        words.append(gettext("%(height)s high") % {"height": units.written(foot.support_height_mm, "size", system)})
    return ", ".join(words)


def _written(value: float | None, kind: str, system: str) -> str:
    return units.written(value, kind, system) if value is not None else ""
