"""How much the materials of machine supports grow with temperature, as one site goes by it."""

from django.db import models

from plant.models.bounds import within
from plant.models.history import kept_history
from plant.models.roots import Root
from plant.models.sites import Site


class GrowthCoefficient(Root):
    """Thermal expansion of one material. Published values differ: the site says which figure it goes by and whose."""

    class Mark(models.TextChoices):
        PUBLISHED = "published", "published"
        SITE = "site", "the site's own"

    material = models.CharField(max_length=30, choices=Site.SupportMaterial, help_text="What supports are made of.")
    per_k = models.FloatField(help_text="Growth of the material, millionths per kelvin.")
    per_k_u = models.FloatField(help_text="Its standard uncertainty, millionths per kelvin.")
    source = models.CharField(max_length=300)
    mark = models.CharField(max_length=10, choices=Mark, default=Mark.SITE)
    history = kept_history(excluded_fields=["changed_no"])

    class Meta(Root.Meta):
        ordering = ["material"]
        constraints = [
            models.UniqueConstraint(fields=["site", "material"], name="growth_coefficient_once_per_material"),
            within("per_k", 0.1, 100),
            within("per_k_u", 0, 100),
        ]

    def __str__(self) -> str:
        return f"{self.material}, {self.per_k:g} millionths per kelvin"
