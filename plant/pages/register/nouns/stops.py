"""Planned stops: days on which a train, an area or the whole site stands still."""

from typing import Any

from django.db.models import QuerySet

from plant.models import Area, Stop, Train
from plant.pages.register.filters import by_area, by_site
from plant.pages.register.lazy import lazily as _
from plant.pages.register.registry import Act, Column, Field, Noun, Place, add_noun
from plant.services import stops
from plant.words import day


def _areas(place: Place) -> QuerySet[Area]:
    return Area.objects.filter(site=place.site).order_by("name")


def _trains(place: Place) -> QuerySet[Train]:
    return Train.objects.filter(site=place.site).order_by("tag")


def _create(place: Place, **given: Any) -> Stop:
    assert place.site is not None
    return stops.plan_stop(site=place.site, **given)


def _change(root: Stop, expected: int | None, **given: Any) -> Stop:
    return stops.change_stop(stop=root, expected=expected, **given)


def _remove(root: Stop, expected: int | None) -> None:
    stops.remove_stop(stop=root, expected=expected)


def _where(stop: Stop) -> str:
    if stop.train is not None:
        return stop.train.tag
    return stop.area.name if stop.area is not None else str(_("the whole site"))


def _says(stop: Stop) -> str:
    return f"{_where(stop)}, {stop.site.name}"


add_noun(
    Noun(
        key="stops",
        one=_("stop"),
        many=_("stops"),
        what=_("Days on which a train, an area or the whole site stands still as planned, so that work fits in."),
        model=Stop,
        action=stops.ACTION,
        related=lambda rows: rows.select_related("site", "area", "train"),
        columns=(
            Column("name", _("Name"), lambda stop: stop.name, sort=("name", "begins_on")),
            Column("begins_on", _("First day"), lambda stop: day(stop.begins_on), sort=("begins_on",)),
            Column("ends_on", _("Last day"), lambda stop: day(stop.ends_on), sort=("ends_on",)),
            Column("where", _("What stands still"), _where),
            Column("site", _("Site"), lambda stop: stop.site.name, sort=("site__name", "begins_on")),
        ),
        order=("-begins_on", "pk"),
        search=("name", "note", "train__tag"),
        search_words=_("the name, the note or the train"),
        filters=(by_site(), by_area(words=_("of"))),
        empty=_("No stop is planned. Enter the next one; the weeks ahead then show it."),
        title=lambda stop: stop.name,
        says=_says,
        fields=(
            Field("name", _("Name"), "text", required=True, hint=_("What people call it, such as “spring stop”.")),
            Field("begins_on", _("First day"), "date", required=True),
            Field("ends_on", _("Last day"), "date", required=True, hint=_("It counts.")),
            Field("area", _("Area"), "row", rows=_areas, hint=_("With the areas within it. Leave it out for one train "
                                                                 "or for the whole site.")),
            Field("train", _("Train"), "row", rows=_trains, hint=_("Leave it out for an area or for the whole site.")),
            Field("note", _("Note"), "text"),
        ),
        references=True,
        create=_create,
        change=_change,
        acts=(
            Act(
                key="remove",
                label=_("Remove it"),
                why=_("Checks planned for its days stay planned."),
                do=_remove,
                action=stops.ACTION,
                done=_("%(row)s is removed."),
                then="list",
            ),
        ),
    )
)  # fmt: skip
