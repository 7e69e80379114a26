"""Machines as things with a serial number, and where each stood."""

from typing import Any
from urllib.parse import urlencode

from django.db.models import Prefetch, Q, QuerySet
from django.urls import reverse
from django.utils.translation import gettext

from plant import access
from plant.models import MachineUnit, Person, UnitStay
from plant.pages.register.filters import by_site, yes_or_no
from plant.pages.register.lazy import lazily as _
from plant.pages.register.nouns.stays import OF_UNITS, WHO, typed_stay
from plant.pages.register.registry import Column, Field, Filter, Kept, Noun, Options, Part, Place, add_noun, noun_of
from plant.selectors.units import stays_of
from plant.services import units

KEPT = (
    Field("from_at", _("Came"), "instant"),
    Field("until_at", _("Left"), "instant"),
    Field("came_with_hub", _("Came with its hub half on"), "yes"),
    Field("left_with_hub", _("Left with its hub half on"), "yes"),
    Field("reason", _("Why it came out"), "text"),
    Field("went_to", _("Where it went"), "text"),
)


def _create(place: Place, **given: Any) -> MachineUnit:
    assert place.site is not None
    return units.register_unit(site=place.site, **given)


def _change(root: MachineUnit, expected: int | None, **given: Any) -> MachineUnit:
    return units.change_unit(unit=root, expected=expected, **given)


def _stay(unit: MachineUnit) -> UnitStay | None:
    return next((stay for stay in unit.stays.all() if stay.until_at is None), None)


def _place(unit: MachineUnit) -> str:
    stay = _stay(unit)
    return str(stay.machine) if stay is not None else ""


def _train(unit: MachineUnit) -> str:
    stay = _stay(unit)
    return reverse("register-trains-one", args=[stay.machine.train.uuid]) if stay is not None else ""


def _says(unit: MachineUnit) -> str:
    place = _place(unit)
    return gettext("stands at %(place)s") % {"place": place} if place else gettext("stands in no train")


def _stood(request: Any, unit: MachineUnit) -> dict[str, Any]:
    noun, may = noun_of("machine-units"), access.may(request.user, WHO, unit.site)
    rows = []
    for stay in stays_of(unit):
        links = []
        if may:
            correct = {name: text for name, text in typed_stay(stay).items() if text}
            links = [
                (gettext("Correct it"), f"{noun.address(unit, 'correct-stay')}?{urlencode(correct)}"),
                (gettext("Take it back"), f"{noun.address(unit, 'take-back-stay')}?{urlencode({'stay': stay.uuid})}"),
            ]
        train = stay.machine.train
        rows.append({"stay": stay, "train_url": reverse("register-trains-one", args=[train.uuid]), "links": links})
    return {"stays": rows}


def _kinds(person: Person) -> Options:
    kinds = MachineUnit.objects.visible_to(person).order_by("kind").values_list("kind", flat=True).distinct()
    return [(kind, kind) for kind in kinds]


def _standing() -> QuerySet[UnitStay]:
    return UnitStay.objects.filter(until_at__isnull=True)


add_noun(
    Noun(
        key="machine-units",
        one=_("machine by serial number"),
        many=_("machines by serial number"),
        what=_("A motor, pump or gear unit as a thing: it may leave a train, and its history goes with it."),
        model=MachineUnit,
        related=lambda rows: rows.select_related("site").prefetch_related(
            Prefetch("stays", UnitStay.objects.select_related("machine__train"))
        ),
        columns=(
            Column("serial", _("Serial number"), lambda unit: unit.serial, sort=("serial",)),
            Column("kind", _("What it is"), lambda unit: unit.kind, sort=("kind", "serial")),
            Column("place", _("Stands at"), _place, link=_train),
            Column("site", _("Site"), lambda unit: unit.site.name, sort=("site__name",)),
        ),
        order=("kind", "serial"),
        search=("serial", "kind", "plate", "note"),
        search_words=_("the serial number, the kind or the plate"),
        filters=(
            by_site(),
            Filter("kind", _("each a"), _("machine of any kind"), _kinds, lambda rows, kind: rows.filter(kind=kind)),
            yes_or_no(
                "stands",
                _("which stand"),
                _("in a train or not"),
                _("in a train"),
                _("in no train"),
                Q(pk__in=_standing().values("unit_id")),
            ),
        ),
        empty=_(
            "No machine is known by its serial number yet. Enter it here, or say on the page of its train what stands "
            "where."
        ),
        says=_says,
        fields=(
            Field("kind", _("What it is"), "text", required=True, hint=_("Motor, pump, gear unit.")),
            Field("serial", _("Serial number, as on its plate"), "text", required=True),
            Field("plate", _("What else its plate says"), "long"),
            Field("note", _("Note"), "long"),
        ),
        parts=(Part(_("Where it stood"), "plant/register/parts/stays.html", _stood),),
        kept=(Kept(lambda unit: UnitStay.history.filter(unit_id=unit.pk), lambda row: gettext("stay"), KEPT),),
        references=True,
        action=WHO,
        create=_create,
        change=_change,
        acts=OF_UNITS,
    )
)
