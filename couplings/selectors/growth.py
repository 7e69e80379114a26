"""What the supports of a site's machines grow by."""

from __future__ import annotations

from couplings.engineering.tables.coefficients import STARTER_COEFFICIENTS, Coefficient
from couplings.models import GrowthCoefficient
from plant.models import Site


def support_coefficient(site: Site, material: str = "") -> Coefficient:
    """The site's own row for a material; the starter where it has none. No material: that of its supports. [1e-6/K]"""
    material = material or site.support_material
    row = GrowthCoefficient.objects.filter(site=site, material=material).first()
    if row is not None:
        return Coefficient(row.material, row.per_k, row.per_k_u, row.source, row.mark)
    return next(one for one in STARTER_COEFFICIENTS if one.material == material)
