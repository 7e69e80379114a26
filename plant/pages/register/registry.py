"""The registry of the register's nouns: each app adds its own in `ready()`, the same pages serve them all."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from django.db.models import QuerySet

from plant import access
from plant.calculations import FormField
from plant.models import Person, Site
from plant.refusals import Missing
from plant.units import METRIC

Options = Sequence[tuple[str, str]]
# (sentence, address of the list that shows them) of what the register lacks, for one reader.
Gaps = Callable[[Person], Iterable[tuple[str, str]]]


@dataclass(frozen=True)
class Place:
    """Where a form stands: who fills it, at which site, about which row (None: a new one), below which parent."""

    person: Person
    site: Site | None = None
    root: Any = None
    parent: Any = None

    @property
    def system(self) -> str:
        """The site's units, in which bare numbers are taken."""
        return self.site.units if self.site is not None else METRIC


@dataclass(frozen=True)
class Field(FormField):
    """One row of a form, and of the facts of a row's page; `name` is the keyword of the service.

    `kind` is a kind of plant.units, or "text", "long" (several lines), "choice", "row" (another root, by its UUID),
    "yes" (yes or no), "count", "number", "date" or "instant" (site time); "key" is the hidden UUID of a row of a list.
    """

    rows: Callable[[Place], Iterable[Any]] | None = None  # what a "row" may be
    options: Callable[[Place], Options] | None = None  # choices that depend on the place
    value: Callable[[Any], Any] | None = None  # where it is not the row's attribute of this name
    starter: str | Callable[[Place], str] = ""  # what stands in a new form
    empty: Any = None  # what the service gets for an empty field; "" for texts anyway
    told: bool = True  # whether the row's page prints it
    show: Callable[[Any, str], str] | None = None  # how (value, system) is printed, where the kind is too coarse
    once: bool = False  # asked for a new row only: it names the row and stays


@dataclass(frozen=True)
class Rows:
    """A list below the row, edited as a whole: the service gets it as a list of dicts under `name`."""

    name: str
    label: str
    one: str  # what the button says it adds: "machine"
    fields: Sequence[Field]
    rows: Callable[[Any], Iterable[Any]]
    nested: Sequence[Rows] = ()
    most: int = 20
    starters: int = 0  # empty rows that stand in a new form
    hint: str = ""
    pack: Callable[[list[dict[str, Any]], list[dict[str, Any]]], Any] | None = None  # (given, standing) to the keyword
    told: bool = True
    ordered: bool = False  # the order says something, so that a row may be put between others


@dataclass(frozen=True)
class Column:
    """One column of the list. `value` gives what stands in it, a base value where `kind` is a kind of plant.units."""

    name: str
    label: str
    value: Callable[[Any], Any]
    kind: str = ""
    sort: Sequence[str] = ()  # order_by of the head's link; empty: no link
    link: Callable[[Any], str] | None = None  # address of what the cell names; the first column leads to the row


@dataclass(frozen=True)
class Filter:
    """One choice in the sentence above the list: the words before it, what it offers, what it does."""

    name: str
    words: str
    anything: str
    options: Callable[[Person], Options]
    narrow: Callable[[QuerySet[Any], str], QuerySet[Any]]


@dataclass(frozen=True)
class Act:
    """Something done to one row by one service with a small form, such as to retire, move or remove it.

    `do(root, expected, **given)` calls the service. With `filled` the form starts with what the row has and only what
    was changed is given. `then` is "one" or "list": where the reader goes on.
    """

    key: str
    label: str  # what the button says
    do: Callable[..., Any]
    fields: Sequence[Field] = ()
    lists: Sequence[Rows] = ()
    action: access.Actions = "register.write"
    why: str = ""  # what follows from it, in one sentence
    done: str = ""  # what is said afterwards; %(row)s is the row
    offered: Callable[[Any], bool] | None = None
    filled: bool = False
    then: str = "one"
    names: Mapping[str, str] = field(default_factory=dict)  # a service's field: the form's


@dataclass(frozen=True)
class WholeAct:
    """Something done to the whole list of one site by one service, such as loading the starters.

    `do(site)` calls the service; `said(what it returned)` is what the reader is told.
    """

    key: str
    label: str
    do: Callable[[Site], Any]
    said: Callable[[Any], str]
    action: str = "register.write"
    why: str = ""

    def sites(self, person: Person) -> list[Site]:
        """Sites where the person may do it."""
        return [site for site in Site.objects.visible_to(person) if access.may(person, self.action, site)]


@dataclass(frozen=True)
class Part:
    """An entry of a row's page beyond its facts; `rows(request, root)` is the context of its template."""

    title: str
    template: str
    rows: Callable[[Any, Any], Mapping[str, Any]]
    note: str = ""


@dataclass(frozen=True)
class Kept:
    """History of rows below the root, shown among its own: `rows(root)` are history rows, `name(row)` says which."""

    rows: Callable[[Any], QuerySet[Any]]
    name: Callable[[Any], str]
    fields: Sequence[Field]


@dataclass(frozen=True)
class Noun:
    """One noun of the register, as its pages know it. Only `key`, names, `what`, `model` and `columns` are a must."""

    key: str  # the part of the address
    one: str
    many: str
    what: str  # what it is, in one sentence, for the contents
    model: Any
    columns: Sequence[Column]
    # The list
    rows: Callable[[Person], QuerySet[Any]] | None = None  # visible_to(person) otherwise
    related: Callable[[QuerySet[Any]], QuerySet[Any]] = lambda rows: rows  # joins and prefetches for list and page
    ready: Callable[[Sequence[Any]], None] | None = None  # computes for all rows of a list's page what columns print
    search: Sequence[str] = ()
    search_words: str = ""  # "the tag or the name"
    filters: Sequence[Filter] = ()
    order: Sequence[str] = ("pk",)
    group: Callable[[Any], str] | None = None  # head above the rows that share it; `order` must begin with it
    parent: str = ""  # relation to the row above it: the list is printed as a tree
    empty: str = ""  # what an empty list says, and what comes next
    missing: Gaps | None = None  # what the contents say is missing
    # The row
    lookup: str = "uuid"
    title: Callable[[Any], str] = str
    says: Callable[[Any], str] | None = None  # one line below the title
    fields: Sequence[Field] = ()
    lists: Sequence[Rows] = ()
    parts: Sequence[Part] = ()
    kept: Sequence[Kept] = ()
    references: bool = False  # names in other systems; the services take external_ref
    site_of: Callable[[Any], Site | None] = lambda root: root if isinstance(root, Site) else root.site
    # Its services
    action: access.Actions = "register.write"
    create: Callable[..., Any] | None = None  # create(place, **given), all fields given
    change: Callable[..., Any] | None = None  # change(root, expected, **given), only what was changed
    may_create: Callable[[Person], bool] | None = None  # where no site's role decides
    below: str = ""  # key of the noun under whose row a new one is begun: its address carries ?below=<uuid>
    at_a_site: bool = True  # whether a new one asks for a site
    acts: Sequence[Act] = ()
    whole: Sequence[WholeAct] = ()  # acts on the whole list of a site
    note: str = ""  # a sentence above the list, such as whose figures these are
    batch: Sequence[str] = ()  # names of the fields that many rows may be given at once
    names: Mapping[str, str] = field(default_factory=dict)  # a service's field: the form's

    def visible(self, person: Person) -> QuerySet[Any]:
        """Every row this person may read, with what its pages print."""
        rows = self.rows(person) if self.rows is not None else self.model.objects.visible_to(person)
        return self.related(rows)

    def find(self, person: Person, lookup: Any) -> Any:
        """The row by its address; Missing if there is none for this person."""
        found = self.visible(person).filter(**{self.lookup: lookup}).first()
        if found is None:
            raise Missing()
        return found

    def act(self, key: str) -> Act:
        """The act by its part of the address."""
        return next(act for act in self.acts if act.key == key)

    def sites_for_new(self, person: Person) -> list[Site]:
        """Sites where the person may add one."""
        if self.create is None:
            return []
        return [site for site in Site.objects.visible_to(person) if access.may(person, self.action, site)]

    def may_add(self, person: Person) -> bool:
        """Whether the list offers a new one."""
        if self.create is None:
            return False
        return self.may_create(person) if self.may_create is not None else bool(self.sites_for_new(person))

    def address(self, root: Any, act: str = "") -> str:
        """The path of a row's page, or of one of its acts ("edit" among them)."""
        from django.urls import reverse

        name = f"register-{self.key}-{act or 'one'}"
        return reverse(name, kwargs={self.lookup: getattr(root, self.lookup)})


_NOUNS: dict[str, Noun] = {}
_PARTS: dict[str, list[Part]] = {}
_FILTERS: dict[str, list[Filter]] = {}
_MISSING: dict[str, list[Gaps]] = {}
_ORDER = ("sites", "areas", "trains", "machine-units", "stops", "couplings", "families")
RESERVED = frozenset({"new", "edit", "batch", "one"})


def add_noun(noun: Noun) -> None:
    """Add a noun; the same one twice is harmless (apps may be made ready twice), a namesake is not."""
    if taken := sorted(RESERVED & ({act.key for act in noun.acts} | {act.key for act in noun.whole})):
        raise LookupError(f"an act of {noun.key!r} cannot be called {', '.join(taken)}")
    if _NOUNS.setdefault(noun.key, noun) is not noun:
        raise LookupError(f"two nouns are called {noun.key!r}")


def add_part(key: str, part: Part) -> None:
    """Add an entry to the page of another app's noun, such as a train's couplings; twice is harmless."""
    parts = _PARTS.setdefault(key, [])
    if part not in parts:
        parts.append(part)


def add_filter(key: str, one: Filter) -> None:
    """Add a choice to the sentence above another app's list, such as trains without a coupling; twice is harmless."""
    filters = _FILTERS.setdefault(key, [])
    if one not in filters:
        filters.append(one)


def add_missing(key: str, gaps: Gaps) -> None:
    """Add what the contents say is missing of another app's noun; twice is harmless."""
    known = _MISSING.setdefault(key, [])
    if gaps not in known:
        known.append(gaps)


def all_nouns() -> list[Noun]:
    """Every noun in the order of the contents: the plant from the outside in, then as they were added."""
    places = {key: number for number, key in enumerate(_ORDER)}
    return sorted(_NOUNS.values(), key=lambda noun: places.get(noun.key, len(places)))


def noun_of(key: str) -> Noun:
    """The noun of that key; Missing where there is none."""
    if key not in _NOUNS:
        raise Missing()
    return _NOUNS[key]


def parts_of(noun: Noun) -> list[Part]:
    """Its own entries and those that other apps added."""
    return [*noun.parts, *_PARTS.get(noun.key, ())]


def filters_of(noun: Noun) -> list[Filter]:
    """Its own choices and those that other apps added."""
    return [*noun.filters, *_FILTERS.get(noun.key, ())]


def missing_of(noun: Noun, person: Person) -> list[tuple[str, str]]:
    """What is missing of a noun for this reader, as it and the other apps say."""
    asked = [noun.missing] if noun.missing is not None else []
    return [gap for gaps in [*asked, *_MISSING.get(noun.key, ())] for gap in gaps(person)]
