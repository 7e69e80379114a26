"""Tables that a site keeps for itself: fasteners, fits by class, codes of breakdowns, growth and storage."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from typing import Any

from couplings.calculations.figures import fine
from couplings.models import (
    FailureCode,
    FitClass,
    GrowthCoefficient,
    Mark,
    NutFactor,
    SecondScrewFactor,
    StorageRule,
    TighteningScatter,
)
from couplings.pages.register.kept_tables import MARKED, WRITES, loads, mark_of, one_of, removal, source_of
from couplings.services import growth, starters, storage, tables
from plant.models import Site
from plant.pages.register import Column, Field, Filter, Noun, Place, add_noun, among_choices, by_site
from plant.pages.register import lazily as _

SLUG = _("Short, in letters, digits and hyphens, such as ours.")


def _create(model: Any) -> Callable[..., Any]:
    def create(place: Place, **given: Any) -> Any:
        assert place.site is not None
        return tables.write_table_row(model=model, site=place.site, **given)

    return create


def _change(root: Any, expected: int | None, **given: Any) -> Any:
    return tables.change_table_row(row=root, expected=expected, **given)


def _remove(root: Any, expected: int | None) -> None:
    tables.remove_table_row(row=root, expected=expected)


def _table(
    model: Any,
    key: str,
    one: str,
    many: str,
    what: str,
    columns: Sequence[Column],
    fields: Sequence[Field],
    *,
    note: str,
    empty: str,
    search: Sequence[str],
    search_words: str,
    order: Sequence[str],
    filters: Sequence[Filter] = (),
    group: Callable[[Any], str] | None = None,
    starts: bool = True,
) -> None:
    add_noun(
        Noun(
            key=key,
            one=one,
            many=many,
            what=what,
            note=note,
            model=model,
            action=WRITES,
            related=lambda rows: rows.select_related("site"),
            columns=(*columns, *MARKED),
            order=order,
            group=group,
            search=(*search, "source"),
            search_words=search_words,
            filters=(by_site(), *filters, among_choices("mark", _("with figures"), _("of anybody"), Mark.choices)),
            empty=empty,
            fields=(*fields, source_of()),
            says=mark_of,
            create=_create(model),
            change=_change,
            acts=(removal(_remove, _("What was computed with it keeps the figure. Its history stays.")),),
            whole=(loads(partial(_load, model)),) if starts else (),
        )
    )


def _load(model: Any, site: Site) -> list[Any]:
    return tables.load_table(model=model, site=site)


SET = Field("of_set", _("Set of figures"), "text", required=True, hint=SLUG, once=True)
SETS = _("Published sets do not agree: each stands here with its source, and calculations name the set they used.")

_table(
    NutFactor,
    "nut-factors",
    _("nut factor"),
    _("nut factors"),
    _("K of torque = K × diameter × preload, by set and by the state of thread and seat."),
    (
        Column("condition", _("Thread and seat"), lambda row: row.condition, sort=("condition",)),
        Column("set", _("Set"), lambda row: row.of_set, sort=("of_set", "condition")),
        Column("factor", _("Nut factor"), lambda row: f"{row.nut_factor:g}", kind="number", sort=("nut_factor",)),
        Column("range", _("Range"), lambda row: f"{row.low:g} to {row.high:g}" if row.low is not None else "",
               kind="number"),
    ),
    (
        SET,
        Field("condition", _("Thread and seat"), "text", required=True, hint=_("Such as zinc plated."), once=True),
        Field("nut_factor", _("Nut factor"), "number", required=True, hint=_("From 0.03 to 1.")),
        Field("low", _("Lowest"), "number", hint=_("Where the source prints a range.")),
        Field("high", _("Highest"), "number"),
    ),
    note=SETS,
    empty=_("No nut factor of this site yet: calculations go by the starters. Load them to change one."),
    search=("condition", "of_set"),
    search_words=_("the condition, the set or the source"),
    order=("site__name", "of_set", "condition"),
)  # fmt: skip

_table(
    TighteningScatter,
    "scatter",
    _("scatter of preload"),
    _("scatters of preload"),
    _("How far preloads scatter about what was meant, by set and by the way of tightening."),
    (
        Column("method", _("Way of tightening"), lambda row: row.method, sort=("method",)),
        Column("set", _("Set"), lambda row: row.of_set, sort=("of_set", "method")),
        Column("scatter", _("Either way"), lambda row: row.scatter, kind="share", sort=("scatter",)),
        Column("note", _("Note"), lambda row: row.note),
    ),
    (
        SET,
        Field("method", _("Way of tightening"), "text", required=True, once=True),
        Field("scatter", _("Share of the preload, either way"), "share", required=True),
        Field("note", _("Note"), "text"),
    ),
    note=SETS,
    empty=_("No scatter of this site yet: calculations go by the starters. Load them to change one."),
    search=("method", "of_set"),
    search_words=_("the way, the set or the source"),
    order=("site__name", "of_set", "method"),
)

_table(
    SecondScrewFactor,
    "second-screws",
    _("factor of a second screw"),
    _("factors of a second screw"),
    _("What two set screws hold over what one holds, by the angle between them about the shaft."),
    (
        Column("angle", _("Angle"), lambda row: _angle(row), sort=("from_deg",)),
        Column("factor", _("Factor"), lambda row: f"{row.factor:g}", kind="number", sort=("factor",)),
    ),
    (
        Field("from_deg", _("From angle"), "angle", required=True, hint=_("0: both in one axial line."), once=True),
        Field("to_deg", _("To angle"), "angle", required=True, hint=_("The same where the row is for one angle.")),
        Field("factor", _("Factor"), "number", required=True, hint=_("From 1 to 2.")),
    ),
    note=_("The factors are one curve. Starters are loaded into an empty table only, so that none bends a curve of the "
           "site’s own."),
    empty=_("No factor of this site yet: calculations go by the starters. Load them to change one."),
    search=(),
    search_words=_("the source"),
    order=("site__name", "from_deg"),
)  # fmt: skip


def _angle(row: SecondScrewFactor) -> str:
    return f"{row.from_deg:g}°" if row.from_deg == row.to_deg else f"{row.from_deg:g}° to {row.to_deg:g}°"


def _deviation(name: str, label: str, hint: str = "") -> Field:
    return Field(name, label, "gap", required=True, hint=hint, show=lambda value, system: fine(value, "gap", system))


def _spread(part: str) -> Callable[[FitClass], str]:
    def told(row: FitClass) -> str:
        lower, upper = (
            fine(getattr(row, f"{part}_{end}_mm"), "gap", row.site.units, True) for end in ("lower", "upper")
        )
        return f"{lower} to {upper}"

    return told


_table(
    FitClass,
    "fit-classes",
    _("band of a fit class"),
    _("bands of fit classes"),
    _("Deviations of bore and shaft by class and diameter, from your site’s own copy of a standard."),
    (
        Column("name", _("Class"), lambda row: row.name, sort=("name", "over_mm")),
        Column("over", _("Over"), lambda row: row.over_mm, kind="size", sort=("over_mm",)),
        Column("up_to", _("Up to"), lambda row: row.up_to_mm, kind="size"),
        Column("bore", _("Bore"), _spread("bore"), kind="number"),
        Column("shaft", _("Shaft"), _spread("shaft"), kind="number"),
    ),
    (
        Field("name", _("Class"), "text", required=True, hint=_("As your copy names it."), once=True),
        Field("over_mm", _("Over this diameter"), "size", required=True, once=True),
        Field("up_to_mm", _("Up to and with this diameter"), "size", required=True),
        _deviation("bore_lower_mm", _("Bore, lower deviation"), _("From the nominal size.")),
        _deviation("bore_upper_mm", _("Bore, upper deviation")),
        _deviation("shaft_lower_mm", _("Shaft, lower deviation")),
        _deviation("shaft_upper_mm", _("Shaft, upper deviation")),
    ),
    note=_("Tables of inch fits are not public, so there are no starters: this table is yours to fill from your own "
           "copy. Metric fits come with the program."),
    empty=_("No band yet. Add the bands you use from your own copy, and name its edition as the source."),
    search=("name",),
    search_words=_("the class or the source"),
    order=("site__name", "name", "over_mm"),
    starts=False,
)  # fmt: skip

_table(
    FailureCode,
    "failure-codes",
    _("failure code"),
    _("failure codes"),
    _("Codes by which a breakdown is told: its mode, its mechanism and its cause."),
    (
        Column("code", _("Code"), lambda row: row.code, sort=("code",)),
        Column("name", _("Name"), lambda row: row.name, sort=("name",)),
        Column("kind", _("Kind"), lambda row: row.get_kind_display(), sort=("kind", "code")),
    ),
    (
        Field("kind", _("Kind"), "choice", required=True, choices=tuple(FailureCode.Kind.choices), once=True),
        Field("code", _("Code"), "text", required=True, once=True),
        Field("name", _("Name"), "text", required=True),
    ),
    note=_("The starters are codes of ISO 14224 from memory, in short plain words: compare them with your copy."),
    empty=_("No code of this site yet. Load the starters, or add those of your own procedure."),
    search=("code", "name"),
    search_words=_("the code, the name or the source"),
    order=("site__name", "kind", "code"),
    filters=(among_choices("kind", _("of"), _("any kind"), tuple(FailureCode.Kind.choices)),),
    group=lambda row: row.get_kind_display().capitalize(),
)


def _material(row: GrowthCoefficient) -> str:
    return row.get_material_display().capitalize()


def _change_growth(root: GrowthCoefficient, expected: int | None, **given: Any) -> GrowthCoefficient:
    return growth.change_growth_coefficient(row=root, expected=expected, **given)


def _write_growth(place: Place, **given: Any) -> GrowthCoefficient:
    assert place.site is not None
    return growth.write_growth_coefficient(site=place.site, **given)


def _remove_growth(root: GrowthCoefficient, expected: int | None) -> None:
    growth.remove_growth_coefficient(row=root, expected=expected)


MATERIALS = tuple(Site.SupportMaterial.choices)
add_noun(
    Noun(
        key="growth",
        one=_("growth coefficient"),
        many=_("growth coefficients"),
        what=_("What machine supports grow by with temperature, by material, in millionths per kelvin."),
        note=_("Published figures do not agree. Expected growth and surveys taken warm go by the row of the support’s "
               "material; where there is none, by the starter."),
        model=GrowthCoefficient,
        action=WRITES,
        related=lambda rows: rows.select_related("site"),
        columns=(
            Column("material", _("Material"), _material, sort=("material",)),
            Column("per_k", _("Millionths per kelvin"), lambda row: f"{row.per_k:g}", kind="number", sort=("per_k",)),
            Column("u", _("Standard uncertainty"), lambda row: f"{row.per_k_u:g}", kind="number"),
            *MARKED,
        ),
        order=("site__name", "material"),
        search=("material", "source"),
        search_words=_("the material or the source"),
        filters=(by_site(),),
        empty=_("No coefficient of this site yet: computing goes by the starters. Load them to change one."),
        title=_material,
        says=mark_of,
        fields=(
            Field("material", _("Material"), "choice", required=True, choices=MATERIALS, once=True),
            Field("per_k", _("Growth, millionths per kelvin"), "number", required=True,
                  hint=_("Steel is about 12: per kelvin, not per degree Fahrenheit.")),
            Field("per_k_u", _("Its standard uncertainty, millionths per kelvin"), "number", required=True),
            source_of(),
        ),
        create=_write_growth,
        change=_change_growth,
        acts=(removal(_remove_growth, _("The starter of this material holds again. What was signed keeps its "
                                        "figure.")),),
        whole=(loads(lambda site: starters.load_growth_coefficients(site=site)),),
    )
)  # fmt: skip


def _write_storage(place: Place, **given: Any) -> StorageRule:
    assert place.site is not None
    return storage.write_storage_rule(site=place.site, **given)


def _change_storage(root: StorageRule, expected: int | None, **given: Any) -> StorageRule:
    return storage.change_storage_rule(rule=root, expected=expected, **given)


def _remove_storage(root: StorageRule, expected: int | None) -> None:
    storage.remove_storage_rule(rule=root, expected=expected)


def _years(value: float | None) -> str:
    return f"{value:g}" if value is not None else str(_("without limit"))


add_noun(
    Noun(
        key="storage-rules",
        one=_("storage rule"),
        many=_("storage rules"),
        what=_("How many years parts of a polymer may lie in store from their cure date, by policy."),
        note=_("Published policies do not agree. One per polymer is in use; what the others say differently is told "
               "beside each age."),
        model=StorageRule,
        action=WRITES,
        related=lambda rows: rows.select_related("site"),
        columns=(
            Column("polymer", _("Polymer"), lambda row: row.polymer, sort=("polymer", "policy")),
            Column("policy", _("Policy"), lambda row: row.policy, sort=("policy", "polymer")),
            Column("years", _("Years"), lambda row: _years(row.initial_years), kind="number", sort=("initial_years",)),
            Column("more", _("More after a look"), lambda row: f"{row.extension_years:g}", kind="number"),
            Column("in_use", _("In use"), lambda row: row.in_use),
            *MARKED,
        ),
        order=("site__name", "polymer", "policy"),
        search=("polymer", "policy", "source"),
        search_words=_("the polymer, the policy or the source"),
        filters=(by_site(), one_of("in_use", _("that are"), _("in use or not"), _("in use"), _("not in use"))),
        empty=_("No rule yet, so no age of an element is judged. Load the starters, then choose which are in use."),
        says=mark_of,
        fields=(
            Field("polymer", _("Polymer"), "text", required=True, once=True,
                  hint=_("Letters of ISO 1629, such as NBR.")),
            Field("policy", _("Policy"), "text", required=True, hint=SLUG, once=True),
            Field("group", _("Group"), "text"),
            Field("initial_years", _("Years from the cure date"), "number", hint=_("Empty: without limit.")),
            Field("extension_years", _("Years more after an inspection"), "number", empty=0.0, starter="0"),
            Field("in_use", _("The one this site goes by"), "yes", starter="no"),
            source_of(),
        ),
        create=_write_storage,
        change=_change_storage,
        acts=(removal(_remove_storage, _("Where it was in use, ages of its polymer are not known until another rule "
                                         "is.")),),
        whole=(loads(lambda site: starters.load_storage_rules(site=site)),),
    )
)  # fmt: skip
