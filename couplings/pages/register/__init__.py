"""The nouns of the register that couplings stand on. Imported for what they register."""

from couplings.pages.register import data_sheets, families, of_trains  # noqa: F401
