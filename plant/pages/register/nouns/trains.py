"""Trains: machines on one axis with their feet, the hour meter, what other apps hang on them."""

from collections.abc import Iterable
from typing import Any

from django.db.models import Count, Q, QuerySet
from django.urls import reverse
from django.utils.translation import ngettext

from plant.models import Area, Machine, MeterReading, Person, Site, Train
from plant.pages.register.filters import among_choices, by_area, by_site, yes_or_no
from plant.pages.register.lazy import lazily as _
from plant.pages.register.registry import Act, Column, Field, Kept, Noun, Part, Place, Rows, add_noun
from plant.recording import current
from plant.services import register
from plant.services.machines import MOST_FEET, MOST_MACHINES

HOURS = Field("hours", _("Run hours, as the meter shows them"), "hours", required=True)
AT = Field(
    "at", _("Read at, where it was not just now"), "instant", hint=_("Time at the site, such as 2026-10-12 08:20.")
)
FEET = (
    Field("name", _("Name"), "text", required=True, hint=_("Such as inboard, outboard.")),
    Field("distance_mm", _("Distance along the shaft"), "size", required=True,
          hint=_("From the machine’s driver-side shaft end.")),
    Field("support_height_mm", _("Height of the shaft"), "size", hint=_("From the base to the centreline.")),
)  # fmt: skip
MACHINE = (
    Field("name", _("Name"), "text", required=True, hint=_("What the crew calls it: motor, pump, gear unit, fan.")),
    Field("role", _("Role"), "choice", required=True, choices=tuple(Machine.Role.choices), starter="driven"),
    Field("mounting", _("Mounting"), "choice", required=True, choices=tuple(Machine.Mounting.choices), starter="feet"),
    Field("movable", _("May be moved to align"), "yes", starter="no"),
    Field("shaft_length_mm", _("Shaft length"), "size",
          hint=_("From the driver-side shaft end to the driven-side shaft end.")),
    Field("support_material", _("Frame and pedestals"), "choice", choices=tuple(Site.SupportMaterial.choices),
          hint=_("Left out: the site’s.")),
)  # fmt: skip


HAS_MACHINES = Q(machines__isnull=False)
HAS_FEET = ~Q(pk__in=Machine.objects.filter(mounting="feet", foot_planes=None).values("train_id"))


def _areas(place: Place) -> QuerySet[Area]:
    return Area.objects.filter(site=place.site).order_by("name")


def _create(place: Place, **given: Any) -> Train:
    assert place.site is not None
    return register.register_train(site=place.site, **given)


def _change(root: Train, expected: int | None, **given: Any) -> Train:
    return register.change_train(train=root, expected=expected, **given)


def _read_meter(root: Train, _expected: int | None, *, hours: float, at: Any = None) -> None:
    register.record_run_hours(train=root, at=at or current().at, hours=hours)


def _replace_meter(root: Train, _expected: int | None, *, hours: float, at: Any = None) -> None:
    register.record_run_hours(train=root, at=at or current().at, hours=hours, replaced=True)


def _meter(_request: Any, train: Train) -> dict[str, Any]:
    readings = MeterReading.objects.filter(meter__train=train).order_by("-at")[:6]
    return {"readings": [(one.at, one.hours, one.hours + one.offset_hours) for one in readings]}


def _without_machines(person: Person) -> Iterable[tuple[str, str]]:
    trains = Train.objects.visible_to(person)
    count = trains.filter(machines=None).count()
    if count:
        said = ngettext("One train has no machines yet", "%(n)s trains have no machines yet", count)
        yield said % {"n": count}, reverse("register-trains") + "?machines=no"
    count = trains.exclude(HAS_FEET).count()
    if count:
        said = ngettext(
            "One train has a machine whose feet are not entered",
            "%(n)s trains have machines whose feet are not entered",
            count,
        )
        yield said % {"n": count}, reverse("register-trains") + "?feet=no"


def _says(train: Train) -> str:
    words = [train.name, train.area.name, train.get_service_display()]
    return ", ".join(word for word in words if word)


add_noun(
    Noun(
        key="trains",
        one=_("train"),
        many=_("trains"),
        what=_("Machines on one axis, counted from the driver end, with their feet and their hour meter."),
        model=Train,
        related=lambda rows: (
            rows.select_related("site", "area")
            .prefetch_related("machines__foot_planes")
            .annotate(holds=Count("machines", distinct=True))
        ),
        columns=(
            Column("tag", _("Tag"), lambda train: train.tag, sort=("tag",)),
            Column("name", _("Name"), lambda train: train.name, sort=("name",)),
            Column("area", _("Area"), lambda train: train.area.name, sort=("area__name",)),
            Column("machines", _("Machines"), lambda train: train.holds, kind="count", sort=("holds",)),
            Column("criticality", _("Criticality"), lambda train: train.criticality, sort=("criticality",)),
            Column("service", _("Service"), lambda train: train.get_service_display(), sort=("service",)),
            Column("site", _("Site"), lambda train: train.site.name, sort=("site__name",)),
        ),
        order=("tag",),
        search=("tag", "name"),
        search_words=_("the tag or the name"),
        filters=(
            by_site(),
            by_area(),
            among_choices("criticality", _("of"), _("any criticality"), tuple(Train.Criticality.choices)),
            among_choices("service", _("which are"), _("in service or not"), tuple(Train.Service.choices)),
            yes_or_no("machines", _("with"), _("machines or none"), _("machines"), _("no machines yet"), HAS_MACHINES),
            yes_or_no("feet", _("their feet"), _("entered or not"), _("entered"), _("not entered"), HAS_FEET),
        ),
        empty=_("No train yet. Add an area first, then the train with its machines from the driver end."),
        missing=_without_machines,
        says=_says,
        fields=(
            Field("tag", _("Tag"), "text", required=True),
            Field("name", _("Name"), "text"),
            Field("area", _("Area"), "row", required=True, rows=_areas),
            Field(
                "criticality",
                _("Criticality"),
                "choice",
                required=True,
                choices=tuple(Train.Criticality.choices),
                starter="B",
            ),
            Field("service", _("Service"), "choice", required=True, choices=tuple(Train.Service.choices), starter="in"),
            Field(
                "cautions",
                _("Cautions"),
                "long",
                hint=_("What can hurt somebody here: heat, pressure, stored energy. Shown before work begins."),
            ),
        ),
        lists=(
            Rows(
                name="machines",
                label=_("Machines"),
                one=_("machine"),
                hint=_("From the driver end. Isolation and guards follow the site’s procedure."),
                fields=MACHINE,
                rows=lambda train: train.machines.all(),
                most=MOST_MACHINES,
                starters=2,
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
            ),
        ),
        parts=(Part(_("Hour meter"), "plant/register/parts/meter.html", _meter),),
        kept=(Kept(lambda train: Machine.history.filter(train_id=train.pk), lambda row: row.name, MACHINE),),
        references=True,
        create=_create,
        change=_change,
        acts=(
            Act(
                key="run-hours",
                label=_("Write down run hours"),
                why=_("Checks that wait for run hours move at once."),
                do=_read_meter,
                fields=(HOURS, AT),
                action="meter.write",
                done=_("The reading of %(row)s is written down."),
            ),
            Act(
                key="new-meter",
                label=_("A new meter was put in"),
                why=_("The count carries on where the meter before stopped: read that one first."),
                do=_replace_meter,
                fields=(HOURS, AT),
                action="meter.write",
                done=_("The new meter of %(row)s is entered."),
                offered=lambda train: hasattr(train, "meter"),
            ),
        ),
        batch=("area", "criticality", "service", "cautions"),
    )
)
