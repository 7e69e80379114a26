"""What a coupling is held to: its data sheet's limits and its speed grade's, both, since the tighter governs."""

from __future__ import annotations

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
    limits = [
        Limit(limit.quantity, limit.value, "sheet", f"{version.sheet.designation}, version {version.number}")
        for limit in version.limits.all()
    ]
    rule = version.rule
    row = grade_row_for(coupling, version)
    if row is not None:
        source = f"{row.grade.name}: {row.source}"
        figures = {"offset": row.offset_mm, "angularity": row.angularity_mrad, "flex-angle": row.flex_angle_mrad}
        limits += [Limit(name, value, "grade", source) for name, value in figures.items() if value is not None]
        if row.rule == SheetVersion.Rule.VECTOR or not version.limits.all():
            rule = row.rule
    return Limits(tuple(limits), rule, version.combined)
