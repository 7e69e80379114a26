"""Couplings as places in trains: registered, changed, retired with a successor."""

from typing import Any

from django.db.models import Q

from couplings.models import Coupling
from couplings.pages.register.ways import of_coupling, ways
from couplings.services import couplings, moving
from couplings.services.checking import refuse
from plant.models import Machine, Train
from plant.pages.register import Act, Column, Field, Noun, Place, add_noun, by_area, by_site, yes_or_no
from plant.pages.register import lazily as _

RETIRED = Q(retired_on__isnull=False)
FITTED = Q(fits__removed_on__isnull=True, fits__isnull=False)


def _trains(place: Place) -> Any:
    return Train.objects.visible_to(place.person).filter(site=place.site).order_by("tag")


def _others(place: Place) -> Any:
    rows = Coupling.objects.visible_to(place.person).filter(train=place.root.train, retired_on__isnull=True)
    return rows.exclude(pk=place.root.pk).order_by("tag")


def _create(_place: Place, *, train: Train, driver_position: int, **given: Any) -> Coupling:
    machines = {one.position: one for one in Machine.objects.filter(train=train)}
    sides = {"driver_machine": driver_position, "driven_machine": driver_position + 1}
    refuse({side: "This train has no machine at this position." for side, no in sides.items() if no not in machines})
    driver, driven = (machines[no] for no in sides.values())
    return couplings.register_coupling(train=train, driver_machine=driver, driven_machine=driven, **given)


def _change(root: Coupling, expected: int | None, **given: Any) -> Coupling:
    return couplings.change_coupling(coupling=root, expected=expected, **given)


def _retire(root: Coupling, expected: int | None, **given: Any) -> None:
    couplings.retire_coupling(coupling=root, expected=expected, **given)


def _succeed(root: Coupling, expected: int | None, **given: Any) -> None:
    moving.succeed_coupling(coupling=root, expected=expected, **given)


def _says(coupling: Coupling) -> str:
    words = [coupling.name, f"{coupling.driver_machine.name} – {coupling.driven_machine.name}"]
    return ", ".join(word for word in words if word)


ON = Field("on", _("On"), "date", required=True)

add_noun(
    Noun(
        key="couplings",
        one=_("coupling"),
        many=_("couplings"),
        what=_("The place between two neighbouring shafts of a train; checks and records belong to it."),
        model=Coupling,
        related=lambda rows: rows.select_related(
            "site", "train__area", "driver_machine", "driven_machine", "grade", "successor"
        ),
        columns=(
            Column("tag", _("Tag"), lambda coupling: coupling.tag, sort=("tag",)),
            Column("name", _("Name"), lambda coupling: coupling.name, sort=("name",)),
            Column("train", _("Train"), lambda coupling: coupling.train.tag, sort=("train__tag", "tag")),
            Column("rpm", _("Speed"), lambda coupling: coupling.rpm, kind="speed", sort=("rpm",)),
            Column("retired", _("Retired on"), lambda coupling: coupling.retired_on, sort=("retired_on",)),
            Column("site", _("Site"), lambda coupling: coupling.site.name, sort=("site__name",)),
        ),
        order=("tag",),
        search=("tag", "name", "train__tag", "train__name"),
        search_words=_("the tag, the name or the train"),
        filters=(
            by_site(),
            by_area("train__area"),
            yes_or_no("retired", _("which are"), _("retired or not"), _("retired"), _("in the register"), RETIRED),
            yes_or_no(
                "fitted",
                _("with"),
                _("a fit or none"),
                _("a fit"),
                _("no fit on record"),
                Q(pk__in=Coupling.objects.filter(FITTED).values("pk")),
            ),
        ),
        empty=_("No coupling yet. Add the train with its machines first, then the coupling between two of them."),
        says=_says,
        fields=(
            Field("train", _("Train"), "row", required=True, rows=_trains),
            Field(
                "driver_position",
                _("Position of the driver-side machine"),
                "count",
                required=True,
                hint=_("1 is the driver end; the driven side is the next one."),
                value=lambda coupling: coupling.driver_machine.position,
            ),
            Field("tag", _("Tag"), "text", required=True),
            Field("name", _("Name"), "text"),
            Field("rpm", _("Speed, the highest of its shafts"), "speed", required=True),
            Field("lowest_rpm", _("Lowest speed"), "speed", hint=_("Only where the speed varies.")),
            Field("power_kw", _("Power"), "power"),
        ),
        references=False,
        parts=(ways(of_coupling),),
        create=_create,
        acts=(
            Act(
                key="change",
                label=_("Change it"),
                do=_change,
                fields=(
                    Field("tag", _("Tag"), "text", required=True),
                    Field("name", _("Name"), "text"),
                    Field("rpm", _("Speed, the highest of its shafts"), "speed", required=True),
                    Field("lowest_rpm", _("Lowest speed"), "speed", hint=_("Only where the speed varies.")),
                    Field("power_kw", _("Power"), "power"),
                ),
                done=_("%(row)s is changed."),
                filled=True,
            ),
            Act(
                key="retire",
                label=_("Retire it"),
                why=_("Its record stays; its checks and flags end. What is fitted has to be removed before."),
                do=_retire,
                fields=(ON, Field("successor", _("Successor, where another coupling takes over"), "row", rows=_others)),
                done=_("%(row)s is retired."),
            ),
            Act(
                key="succeed",
                label=_("Retire it, with a successor here"),
                why=_("The same place under a new tag: the record of each names the other."),
                do=_succeed,
                fields=(
                    ON,
                    Field("tag", _("Tag of the successor"), "text", required=True),
                    Field("with_fit", _("What is fitted goes over to it"), "yes", starter="yes"),
                ),
                done=_("%(row)s has its successor."),
                offered=lambda coupling: coupling.retired_on is None,
            ),
        ),
        names={"driven_machine": "driver_position", "driver_machine": "driver_position"},
    )
)
