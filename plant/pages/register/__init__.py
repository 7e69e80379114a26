"""The room that every noun of the register uses: list, page, form, acts, many at once, history.

An app says what a noun is with `add_noun(Noun(...))` from its `ready()`; DEVELOPERS.md shows the shortest one.
"""

from plant.pages.register.filters import among_choices, by_area, by_site, yes_or_no
from plant.pages.register.lazy import lazily
from plant.pages.register.registry import (
    Act,
    Column,
    Field,
    Filter,
    Kept,
    Noun,
    Part,
    Place,
    Rows,
    WholeAct,
    add_filter,
    add_missing,
    add_noun,
    add_part,
    all_nouns,
    noun_of,
)

__all__ = [
    "Act",
    "Column",
    "Field",
    "Filter",
    "Kept",
    "Noun",
    "Part",
    "Place",
    "Rows",
    "WholeAct",
    "add_filter",
    "add_missing",
    "add_noun",
    "add_part",
    "all_nouns",
    "among_choices",
    "by_area",
    "by_site",
    "lazily",
    "noun_of",
    "yes_or_no",
]
