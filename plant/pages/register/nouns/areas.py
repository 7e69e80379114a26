"""Areas: parts of a site, one within another."""

from collections.abc import Iterable
from typing import Any
from urllib.parse import urlencode

from django.db.models import Count, Exists, OuterRef, Q, QuerySet
from django.urls import reverse
from django.utils.translation import ngettext

from plant.models import Area, Person, Train
from plant.pages.register.filters import by_site, yes_or_no
from plant.pages.register.lazy import lazily as _
from plant.pages.register.registry import Act, Column, Field, Noun, Part, Place, add_noun
from plant.services import register


def _others(place: Place) -> QuerySet[Area]:
    areas = Area.objects.filter(site=place.site).order_by("name")
    return areas.exclude(pk=place.root.pk) if place.root is not None else areas


def _create(place: Place, **given: Any) -> Area:
    assert place.site is not None
    return register.register_area(site=place.site, **given)


def _change(root: Area, expected: int | None, **given: Any) -> Area:
    return register.change_area(area=root, expected=expected, **given)


def _remove(root: Area, expected: int | None) -> None:
    register.remove_area(area=root, expected=expected)


def _trains(area: Area) -> str:
    return reverse("register-trains") + "?" + urlencode({"area": area.uuid})


def _holds(request: Any, area: Area) -> dict[str, Any]:
    parts = Area.objects.filter(parent=area).visible_to(request.user)
    trains = Train.objects.filter(area=area).visible_to(request.user)
    return {
        "parts": [(part.name, reverse("register-areas-one", args=[part.uuid])) for part in parts],
        "trains": [(train.tag, train.name, reverse("register-trains-one", args=[train.uuid])) for train in trains],
        "add_train": reverse("register-trains-new") + "?" + urlencode({"site": area.site.uuid, "area": area.uuid}),
    }


def _empty_areas(person: Person) -> Iterable[tuple[str, str]]:
    held = Train.objects.filter(area=OuterRef("pk"))
    parts = Area.objects.filter(parent=OuterRef("pk"))
    count = Area.objects.visible_to(person).filter(~Exists(held), ~Exists(parts)).count()
    if count:
        said = ngettext("One area holds nothing yet", "%(n)s areas hold nothing yet", count)
        yield said % {"n": count}, reverse("register-areas") + "?holds=no"


HOLDS = Q(pk__in=Train.objects.values("area_id")) | Q(
    pk__in=Area.objects.filter(parent__isnull=False).values("parent_id")
)
PARENT = Field(
    "parent", _("Part of"), "row", rows=_others, hint=_("Leave it out for an area that is part of no other.")
)

add_noun(
    Noun(
        key="areas",
        one=_("area"),
        many=_("areas"),
        what=_("A part of a site, where trains stand and crews go."),
        model=Area,
        related=lambda rows: rows.select_related("site", "parent").annotate(
            holds=Count("trains", distinct=True), holds_parts=Count("parts", distinct=True)
        ),
        columns=(
            Column("name", _("Name"), lambda area: area.name, sort=("name",)),
            Column("trains", _("Trains"), lambda area: area.holds, kind="count", sort=("holds",), link=_trains),
            Column("parts", _("Areas within"), lambda area: area.holds_parts or None, kind="count"),
            Column("parent", _("Part of"), lambda area: area.parent, sort=("parent__name",)),
            Column("site", _("Site"), lambda area: area.site.name, sort=("site__name",)),
        ),
        order=("site__name", "name"),
        parent="parent",
        search=("name",),
        search_words=_("the name"),
        filters=(
            by_site(),
            yes_or_no("holds", _("which hold"), _("something or nothing"), _("something"), _("nothing yet"), HOLDS),
        ),
        empty=_("No area yet. Add the first one; then trains can be entered in it."),
        missing=_empty_areas,
        title=lambda area: area.name,
        fields=(Field("name", _("Name"), "text", required=True), PARENT),
        parts=(Part(_("What it holds"), "plant/register/parts/area.html", _holds),),
        create=_create,
        change=_change,
        acts=(
            Act(
                key="move",
                label=_("Move it"),
                why=_("The area goes with everything in it; tags and records stay as they are."),
                do=_change,
                fields=(PARENT,),
                filled=True,
            ),
            Act(
                key="remove",
                label=_("Remove it"),
                why=_("Only an area that holds no trains and no other areas can be removed. It cannot be taken back."),
                do=_remove,
                done=_("%(row)s is removed."),
                offered=lambda area: not area.holds and not area.holds_parts,
                then="list",
            ),
        ),
        batch=("parent",),
    )
)
