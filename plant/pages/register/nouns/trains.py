"""Trains: machines on one axis with their feet, the hour meter, what other apps hang on them."""

from collections.abc import Iterable
from typing import Any

from django.db.models import Count, Q, QuerySet
from django.urls import reverse
from django.utils.translation import gettext, ngettext

from plant.models import Area, Machine, Person, ServiceSpell, Train, UnitStay
from plant.pages.register.filters import among_choices, by_area, by_site, yes_or_no
from plant.pages.register.lazy import lazily as _
from plant.pages.register.nouns.machines import LIST, MACHINE, machines_of
from plant.pages.register.nouns.stays import OF_TRAINS
from plant.pages.register.nouns.train_service import ACTS, meter_of, service_of
from plant.pages.register.registry import Column, Field, Kept, Noun, Part, Place, add_noun
from plant.services import register

SPELL = (
    Field("state", _("It was"), "choice", choices=tuple(Train.Service.choices)),
    Field("from_at", _("Since when"), "instant"),
    Field("until_at", _("Until when"), "instant"),
    Field("reason", _("Why"), "text"),
)
HAS_MACHINES = Q(machines__isnull=False)
HAS_UNITS = ~Q(
    pk__in=Machine.objects.exclude(pk__in=UnitStay.objects.filter(until_at__isnull=True).values("machine_id")).values(
        "train_id"
    )
)
HAS_FEET = ~Q(pk__in=Machine.objects.filter(mounting="feet", foot_planes=None).values("train_id"))


def _areas(place: Place) -> QuerySet[Area]:
    return Area.objects.filter(site=place.site).order_by("name")


def _create(place: Place, **given: Any) -> Train:
    assert place.site is not None
    return register.register_train(site=place.site, **given)


def _change(root: Train, expected: int | None, **given: Any) -> Train:
    return register.change_train(train=root, expected=expected, **given)


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
    count = trains.exclude(HAS_UNITS).count()
    if count:
        said = ngettext(
            "One train has a machine whose serial number is not known",
            "%(n)s trains have machines whose serial numbers are not known",
            count,
        )
        yield said % {"n": count}, reverse("register-trains") + "?units=no"


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
            yes_or_no("units", _("their serial numbers"), _("known or not"), _("known"), _("not known"), HAS_UNITS),
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
            Field(
                "service",
                _("Service"),
                "choice",
                required=True,
                choices=tuple(Train.Service.choices),
                starter="in",
                hint=_("A change here holds from now, without a reason; the train’s page takes both."),
            ),
            Field(
                "cautions",
                _("Cautions"),
                "long",
                hint=_("What can hurt somebody here: heat, pressure, stored energy. Shown before work begins."),
            ),
        ),
        lists=(LIST,),
        parts=(
            Part(_("Machines"), "plant/register/parts/machines.html", machines_of),
            Part(_("Service"), "plant/register/parts/service.html", service_of),
            Part(_("Hour meter"), "plant/register/parts/meter.html", meter_of),
        ),
        kept=(
            Kept(lambda train: Machine.history.filter(train_id=train.pk), lambda row: row.name, MACHINE),
            Kept(lambda train: ServiceSpell.history.filter(train_id=train.pk), lambda row: gettext("service"), SPELL),
        ),
        references=True,
        create=_create,
        change=_change,
        acts=(*OF_TRAINS, *ACTS),
        batch=("area", "criticality", "service", "cautions"),
    )
)
