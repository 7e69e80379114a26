"""What the pages of every table of a site have alike: whose figures, the starters, removal."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any

from django.db.models import Q
from django.utils.translation import gettext, ngettext

from plant.models import Site
from plant.pages.register import Act, Column, Field, Filter, WholeAct, yes_or_no
from plant.pages.register import lazily as _

WRITES = "policy.write"
MARKED = (
    Column("mark", _("Whose figures"), lambda row: row.get_mark_display(), sort=("mark",)),
    Column("source", _("Source"), lambda row: row.source),
    Column("site", _("Site"), lambda row: row.site.name, sort=("site__name",)),
)


def source_of(required: bool = True) -> Field:
    """Where the figures of a row stand written."""
    return Field(
        "source",
        _("Source"),
        "text",
        required=required,
        hint=_("Whose figures these are: a standard with its edition and table, a book with its page, a procedure."),
    )


def mark_of(row: Any) -> str:
    """One line below the title: the site, and whose figures these are."""
    return f"{row.site.name}: {row.get_mark_display()}"


def removal(remove: Callable[..., Any], why: str) -> Act:
    """The act that takes a row out of its table."""
    return Act(
        key="remove",
        label=_("Remove it"),
        why=why,
        do=remove,
        action=WRITES,
        done=_("%(row)s is removed."),
        then="list",
    )


def loads(load: Callable[[Site], Iterable[Any]]) -> WholeAct:
    """The act that gives a site the starter rows it does not have."""
    return WholeAct(
        key="starters",
        label=_("Load the starters"),
        do=lambda site: list(load(site)),
        said=_loaded,
        action=WRITES,
        why=_("Rows that the site does not have are added, each with its source. What stands is left as it is worded."),
    )


def _loaded(rows: list[Any]) -> str:
    if not rows:
        return gettext("Nothing was added: the site has every starter row already.")
    said = ngettext(
        "One row is added; what stood is as it was.", "%(n)s rows are added; what stood is as it was.", len(rows)
    )
    return said % {"n": len(rows)}


def one_of(name: str, words: str, anything: str, yes: str, no: str) -> Filter:
    """Rows by a column of yes or no."""
    return yes_or_no(name, words, anything, yes, no, Q(**{name: True}))
