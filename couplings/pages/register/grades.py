"""Speed grades with their bands: what a site allows at which speed."""

from __future__ import annotations

from typing import Any

from django.db.models import Count

from couplings.models import Family, Grade, GradeRow, SheetVersion
from couplings.pages.register.kept_tables import WRITES, loads, removal
from couplings.services import grades, starters
from plant.pages.register import Column, Field, Kept, Noun, Place, Rows, add_noun, by_site
from plant.pages.register import lazily as _

BAND = (
    Field("kind", _("Kind of coupling"), "choice", required=True, choices=tuple(Family.Kind.choices), starter="short"),
    Field("over_rpm", _("Over"), "speed", empty=0.0, starter="0"),
    Field("up_to_rpm", _("Up to and with"), "speed", required=True),
    Field("offset_mm", _("Offset at most"), "gap"),
    Field("angularity_mrad", _("Angularity at most"), "slope"),
    Field("flex_angle_mrad", _("Angle at each flex plane at most"), "slope"),
    Field("rule", _("Judged"), "choice", required=True, choices=tuple(SheetVersion.Rule.choices), starter="vector"),
    Field("source", _("Source"), "text", required=True),
    Field("mark", _("Whose figures"), "choice", required=True, choices=tuple(GradeRow.Mark.choices), starter="site"),
)


def _create(place: Place, **given: Any) -> Grade:
    assert place.site is not None
    return grades.write_grade(site=place.site, **given)


def _change(root: Grade, expected: int | None, **given: Any) -> Grade:
    return grades.change_grade(grade=root, expected=expected, **given)


def _remove(root: Grade, expected: int | None) -> None:
    grades.remove_grade(grade=root, expected=expected)


def _says(grade: Grade) -> str:
    if not grade.rows.all():
        return str(_("Nothing is judged by it until its bands are filled."))
    held = ", ".join(grade.criticalities)
    return str(_("For trains of criticality %(held)s") % {"held": held}) if held else ""


def _band(version: Any) -> str:
    return str(_("band up to %(rpm)s rpm, %(kind)s")) % {
        "kind": version.get_kind_display(),
        "rpm": f"{version.up_to_rpm:g}",
    }


add_noun(
    Noun(
        key="grades",
        one=_("speed grade"),
        many=_("speed grades"),
        what=_("What your site allows at which speed, to spare bearings and seals. The tighter of this and the data "
               "sheet governs."),
        note=_("The quality grades of ANSI/ASA S2.75 are not public. Its starter row stands empty: that table is yours "
               "to fill from your own copy, one grade per quality grade in use, with the edition as the source."),
        model=Grade,
        action=WRITES,
        related=lambda rows: rows.select_related("site").prefetch_related("rows").annotate(
            bands=Count("rows", distinct=True)
        ),
        columns=(
            Column("name", _("Name"), lambda grade: grade.name, sort=("name",)),
            Column("criticalities", _("For criticality"), lambda grade: ", ".join(grade.criticalities)),
            Column("bands", _("Bands"), lambda grade: grade.bands, kind="count", sort=("bands",)),
            Column("mark", _("Whose figures"),
                   lambda grade: ", ".join(sorted({row.get_mark_display() for row in grade.rows.all()}))),
            Column("source", _("Source"),
                   lambda grade: "; ".join(dict.fromkeys(row.source.split(":")[0] for row in grade.rows.all()))),
            Column("site", _("Site"), lambda grade: grade.site.name, sort=("site__name",)),
        ),
        order=("site__name", "name"),
        search=("name", "note", "rows__source"),
        search_words=_("the name, the note or a source"),
        filters=(by_site(),),
        empty=_("No grade yet, so couplings are held to their data sheets alone. Load the starters, or add the first."),
        title=lambda grade: grade.name,
        says=_says,
        fields=(
            Field("name", _("Name"), "text", required=True),
            Field("criticalities", _("For trains of criticality"), "text",
                  hint=_("Letters such as AB: who is held to it where a coupling names no grade.")),
            Field("note", _("Note"), "long"),
        ),
        lists=(
            Rows("rows", _("Bands of speed"), _("band"), BAND, lambda grade: grade.rows.all(), most=60,
                 hint=_("A coupling is held to the band of its kind in which its highest speed lies.")),
        ),
        kept=(Kept(lambda grade: GradeRow.history.filter(grade_id=grade.pk), _band, BAND),),
        create=_create,
        change=_change,
        acts=(removal(_remove, _("Couplings it was for are held to their data sheets alone until another grade is for "
                                 "them. Signed verdicts stay as they were given.")),),
        whole=(loads(lambda site: starters.load_grades(site=site)),),
    )
)  # fmt: skip
