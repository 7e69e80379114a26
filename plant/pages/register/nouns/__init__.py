"""The plant's own nouns: sites, areas and trains. Imported for what they register."""

from plant.pages.register.nouns import areas, sites, stops, trains, units  # noqa: F401
