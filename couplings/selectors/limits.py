"""What a coupling is held to: its data sheet's limits and its speed grade's, both, since the tighter governs."""

from __future__ import annotations

from collections.abc import Iterable

from couplings.engineering.conformity import Limit, Limits
from couplings.models import Coupling, Grade, GradeRow, SheetVersion


def grade_for(coupling: Coupling) -> Grade | None:
    """The grade chosen for this coupling, or else the site's grade for its train's criticality."""
    if coupling.grade is not None:
        return coupling.grade
    return Grade.objects.filter(site_id=coupling.site_id, criticalities__contains=coupling.train.criticality).first()


def grade_row_for(coupling: Coupling, version: SheetVersion) -> GradeRow | None:
    """The row of its grade for this kind of coupling at the highest speed of its shafts; None where there is none."""
    grade = grade_for(coupling)
    if grade is None:
        return None
    return grade.rows.filter(
        kind=version.sheet.family.kind, over_rpm__lt=coupling.rpm, up_to_rpm__gte=coupling.rpm
    ).first()


def limits_of(coupling: Coupling, version: SheetVersion) -> Limits:
    """Limits of both families for this coupling by this version of its data sheet. [mm, mrad]

    Where one of the two is on the vector and the other per plane, all are judged on the vector: a vector within a
    limit is within it in each plane too, so nothing is let through that either of them would refuse.
    """
    return _limits(version, grade_row_for(coupling, version))


def limits_of_each(held: Iterable[tuple[Coupling, SheetVersion]]) -> dict[int, Limits]:
    """Limits of several couplings of one site by their keys, in as many queries as for one: `limits_of` for each."""
    held = list(held)
    sites = {coupling.site_id for coupling, _version in held}
    grades = list(Grade.objects.filter(site_id__in=sites).prefetch_related("rows__grade"))
    found = {}
    for coupling, version in held:
        grade = next(
            (
                one
                for one in grades
                if (
                    one.pk == coupling.grade_id
                    if coupling.grade_id
                    else coupling.train.criticality in one.criticalities
                )
                and one.site_id == coupling.site_id
            ),
            None,
        )
        kind = version.sheet.family.kind
        rows = grade.rows.all() if grade is not None else ()
        row = next((r for r in rows if r.kind == kind and r.over_rpm < coupling.rpm <= r.up_to_rpm), None)
        found[coupling.pk] = _limits(version, row)
    return found


def _limits(version: SheetVersion, row: GradeRow | None) -> Limits:
    limits = [
        Limit(limit.quantity, limit.value, "sheet", f"{version.sheet.designation}, version {version.number}")
        for limit in version.limits.all()
    ]
    rule = version.rule
    if row is not None:
        source = f"{row.grade.name}: {row.source}"
        figures = {"offset": row.offset_mm, "angularity": row.angularity_mrad, "flex-angle": row.flex_angle_mrad}
        limits += [Limit(name, value, "grade", source) for name, value in figures.items() if value is not None]
        if row.rule == SheetVersion.Rule.VECTOR or not version.limits.all():
            rule = row.rule
    return Limits(tuple(limits), rule, version.combined)
