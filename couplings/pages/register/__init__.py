"""The nouns of the register that couplings stand on. Imported for what they register."""

from couplings.pages.register import (  # noqa: F401
    couplings,
    data_sheets,
    families,
    fits,
    grades,
    instruments,
    of_trains,
    removal_reasons,
    stock,
    tables,
    wear,
)
