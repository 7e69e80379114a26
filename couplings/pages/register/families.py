"""Families of couplings: the starter rows, to read."""

from couplings.models import Family
from plant.pages.register import Column, Field, Noun, add_noun, among_choices
from plant.pages.register import lazily as _

add_noun(
    Noun(
        key="families",
        one=_("family"),
        many=_("families"),
        what=_("A way of building a coupling. The rows come with the program; data sheets belong to one each."),
        model=Family,
        lookup="code",
        rows=lambda _person: Family.objects.all(),
        site_of=lambda _family: None,
        columns=(
            Column("name", _("Name"), lambda family: family.name, sort=("name",)),
            Column("kind", _("Kind"), lambda family: family.get_kind_display(), sort=("kind",)),
            Column("element", _("Wearing part"), lambda family: family.element_name, sort=("element_name",)),
            Column("ages", _("Ages in store"), lambda family: family.ages),
            Column("lubricated", _("Lubricated"), lambda family: family.lubricated),
        ),
        order=("name",),
        search=("name", "element_name"),
        search_words=_("the name or the wearing part"),
        filters=(among_choices("kind", _("of"), _("any kind"), tuple(Family.Kind.choices)),),
        empty=_("The starter rows are not loaded: run the migrations."),
        fields=(
            Field("name", _("Name"), "text"),
            Field("kind", _("Kind"), "choice", choices=tuple(Family.Kind.choices)),
            Field("element_name", _("Wearing part"), "text"),
            Field("ages", _("Its element ages in store"), "yes"),
            Field("lubricated", _("Filled with grease or oil"), "yes"),
            Field("note", _("Note"), "text"),
            Field("source", _("Source"), "text"),
        ),
    )
)
