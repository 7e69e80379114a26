"""What to look for on couplings: the program's wear codes to read, and a site's own words for them to write."""

from __future__ import annotations

from typing import Any
from urllib.parse import urlencode

from django.urls import reverse
from django.utils.translation import gettext

from couplings.models import Family, Mark, WearCode, WearWording
from couplings.pages.register.kept_tables import MARKED, WRITES, mark_of, removal, source_of
from couplings.selectors.wear import with_kind
from couplings.services import tables
from plant import access, units
from plant.models import Site
from plant.pages.register import Column, Field, Filter, Noun, Part, Place, add_noun, among_choices, by_site
from plant.pages.register import lazily as _
from plant.refusals import Refused

GRADES = (
    ("grade_0", _("Grade 0, as new")),
    ("grade_1", _("Grade 1, first signs")),
    ("grade_2", _("Grade 2, worn, watch it")),
    ("grade_3", _("Grade 3, worn out: raises a flag")),
    ("grade_4", _("Grade 4, do not run")),
)


def _families(code: WearCode) -> str:
    return ", ".join(sorted(family.name for family in code.families.all()))


def _at_sites(request: Any, code: WearCode) -> dict[str, Any]:
    """Where this code has words of its own, and where the reader may give it some."""
    person = request.user
    own = {row.site_id: row for row in WearWording.objects.visible_to(person).filter(code=code.code)}
    lines = []
    for site in Site.objects.visible_to(person).order_by("name"):
        row = own.get(site.pk)
        if row is not None:
            lines.append(
                (site.name, gettext("has its own words"), reverse("register-wear-wordings-one", args=[row.uuid]))
            )
        elif access.may(person, WRITES, site):
            typed = {"site": site.uuid, "code": code.code, "title": code.title}
            typed |= {name: getattr(code, name) for name, _label in GRADES}
            href = f"{reverse('register-wear-wordings-new')}?{urlencode(typed)}"
            lines.append((site.name, gettext("word it for this site"), href))
        else:
            lines.append((site.name, gettext("goes by these words"), ""))
    return {"lines": lines}


def _of_family(rows: Any, value: str) -> Any:
    return rows.filter(families__code=value)


def _every_family(_person: Any) -> list[tuple[str, str]]:
    return list(Family.objects.order_by("name").values_list("code", "name"))


OF_FAMILY = Filter("family", _("of"), _("any family"), _every_family, _of_family)

add_noun(
    Noun(
        key="wear-codes",
        one=_("wear code"),
        many=_("wear codes"),
        what=_("What to look for on which family, with a sentence for each grade. They come with the program."),
        note=_("A site may word a code its own way, and set the number it goes by where a data sheet gives none."),
        model=WearCode,
        lookup="code",
        rows=lambda _person: WearCode.objects.all(),
        site_of=lambda _code: None,
        related=lambda rows: rows.prefetch_related("families"),
        columns=(
            Column("title", _("What to look for"), lambda code: code.title, sort=("title",)),
            Column("number", _("What may be measured"), lambda code: code.number, sort=("number",)),
            Column("families", _("On"), _families),
            Column("source", _("Source"), lambda code: code.source),
        ),
        order=("pk",),
        search=("title", "number", "source"),
        search_words=_("what to look for, what is measured or the source"),
        filters=(OF_FAMILY,),
        empty=_("The starter rows are not loaded: run the migrations."),
        title=lambda code: code.title,
        fields=(
            *(Field(name, label, "text") for name, label in GRADES),
            Field("number", _("What may be measured"), "text"),
            Field("fracture", _("A fracture: any grade above 0 is grade 4"), "yes"),
            Field("of_element", _("Goes with the element when a new one is fitted"), "yes"),
            Field("families", _("Looked for on"), "text", value=_families),
            Field("source", _("Source"), "text"),
        ),
        parts=(Part(_("At your sites"), "couplings/register/wear_at_sites.html", _at_sites),),
    )
)


def _limit_text(row: Any) -> str:
    """The limit as it would be typed, in the site's unit."""
    if row.limit is None:
        return ""
    kind = row.kind or "gap"
    unit = units.unit_of(kind, row.site.units)
    return f"{units.without_dust(units.in_unit(row.limit, kind, unit)):.12g} {unit}"


def _limit_in_list(row: Any) -> str:
    return units.written(row.limit, row.kind or "gap", row.site.units) if row.limit is not None else ""


def _read(given: dict[str, Any], code: str, system: str) -> dict[str, Any]:
    """The limit was typed with its unit: of which kind it is, the code says."""
    if "limit" not in given:
        return given
    text = given["limit"]
    if not text:
        return given | {"limit": None}
    common = WearCode.objects.filter(code=code).first()
    if common is None or not common.kind:
        raise Refused({"limit": gettext("This code has grades only: no number can be limited.")})
    try:
        return given | {"limit": units.parse(text, common.kind, system)}
    except units.UnitError as error:
        raise Refused({"limit": str(error)}) from None


def _create(place: Place, **given: Any) -> WearWording:
    assert place.site is not None
    read = _read(given, given["code"], place.system)
    return tables.write_table_row(model=WearWording, site=place.site, **read)


def _change(root: WearWording, expected: int | None, **given: Any) -> WearWording:
    return tables.change_table_row(row=root, expected=expected, **_read(given, root.code, root.site.units))


def _remove(root: WearWording, expected: int | None) -> None:
    tables.remove_table_row(row=root, expected=expected)


def _codes(place: Place) -> list[tuple[str, str]]:
    return list(WearCode.objects.order_by("title").values_list("code", "title"))


AS_IT_IS = _("Left empty in a new row: as the program words it.")

add_noun(
    Noun(
        key="wear-wordings",
        one=_("wear code in your words"),
        many=_("wear codes in your words"),
        what=_("Wear codes as your site words them, and the numbers it goes by where a data sheet gives none."),
        note=_("The visit’s wear step asks in these words from now on. What was signed keeps the words it was signed "
               "with. A limit on the data sheet goes before the one here."),
        model=WearWording,
        action=WRITES,
        related=lambda rows: with_kind(rows).select_related("site"),
        columns=(
            Column("title", _("What to look for"), lambda row: row.title, sort=("title",)),
            Column("code", _("Wear code"), lambda row: row.code, sort=("code",)),
            Column("limit", _("Limit"), _limit_in_list, kind="number"),
            *MARKED,
        ),
        order=("site__name", "code"),
        search=("title", "code", "source"),
        search_words=_("what to look for, the code or the source"),
        filters=(by_site(), among_choices("mark", _("with words"), _("of anybody"), tuple(Mark.choices))),
        empty=_("No code is worded by your site yet: visits ask in the program’s words. Open a wear code and word it."),
        title=lambda row: row.title,
        says=mark_of,
        fields=(
            Field("code", _("Wear code"), "choice", required=True, options=_codes, once=True),
            Field("title", _("What to look for"), "text", hint=AS_IT_IS),
            *(Field(name, label, "text", hint=AS_IT_IS if name == "grade_0" else "") for name, label in GRADES),
            Field("limit", _("Limit where the data sheet gives none"), "text", value=_limit_text,
                  hint=_("A number with its unit, such as 2 mm or 3 %.")),
            source_of(),
        ),
        create=_create,
        change=_change,
        acts=(removal(_remove, _("Visits ask in the program’s words again. What was signed keeps its words.")),),
    )
)  # fmt: skip
