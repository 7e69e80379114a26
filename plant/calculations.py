"""The registry of calculations: each app adds its own in `ready()`, one API view and one page view serve them all.

A calculation is a reader (request to arguments, refusing what cannot be meant), a pure function, and a writer (result
to answer in the units asked for). Nothing is stored; the same functions serve the record.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from plant.refusals import Missing, Refused


@dataclass(frozen=True)
class FormField:
    """One row of a plain form; `kind` is a kind of plant.units, or "text" or "choice".

    `fold`: "field" is asked less often and folded away until used, "group" folds its whole group, which shows what
    stands in its first field.
    """

    name: str
    label: str
    kind: str
    required: bool = False
    group: str = ""
    choices: tuple[tuple[str, str], ...] = ()
    hint: str = ""
    fold: str = ""


@dataclass(frozen=True)
class Form:
    """How a page asks for what the API takes as JSON.

    `variants` are (name, title) of what is asked for, here a method; `fields(variant)` are its rows; `payload(variant,
    typed, system)` turns typed text into the request, with errors by field name; `field_of(path, payload)` names the
    field that a path of the request came from, so that an error found later still stands beside it.
    """

    variants: Callable[[], tuple[tuple[str, str], ...]]
    fields: Callable[[str], list[FormField]]
    payload: Callable[[str, Mapping[str, str], str], tuple[dict[str, Any], dict[str, str]]]
    field_of: Callable[[str, Mapping[str, Any]], str]
    rings: Callable[[str, Mapping[str, str], str], Mapping[str, Mapping[float, float]]] | None = None
    pictures: Callable[[str, Mapping[str, str]], Mapping[str, Any]] | None = None
    script_data: Callable[[str, str], Mapping[str, Any]] | None = (
        None  # of a variant and a system, for the page's script
    )
    asks: str = "Read by"  # what stands before the choice of the variant


@dataclass(frozen=True)
class Calculation:
    """A calculation without a record, as the API, its page and its documentation know it.

    `drawn(result, system)` is what its page shows beyond the answer: drawings and the rows beside them. `at(site)` is
    the same calculation by the tables of that site, where it goes by tables that a site keeps.
    """

    name: str
    title: str
    summary: str
    reader: Callable[[Mapping[str, Any]], Any]
    function: Callable[[Any], Any]
    writer: Callable[[Any, str], dict[str, Any]]
    template: str
    form: Form | None = None
    drawn: Callable[[Any, str], dict[str, Any]] | None = None
    example: Mapping[str, Any] = field(default_factory=dict)
    at: Callable[[Any], Calculation] | None = None


_REGISTERED: dict[str, Calculation] = {}


def register(calculation: Calculation) -> None:
    """Add a calculation; the same one twice is harmless (apps may be made ready twice), a namesake is not."""
    known = _REGISTERED.setdefault(calculation.name, calculation)
    if known is not calculation:
        raise LookupError(f"two calculations are called {calculation.name!r}")


def all_calculations() -> list[Calculation]:
    """Every calculation, by name."""
    return [_REGISTERED[name] for name in sorted(_REGISTERED)]


def get(name: str, site: Any = None) -> Calculation:
    """The calculation of that name, by the tables of the site where one is given; Missing says which there are."""
    try:
        found = _REGISTERED[name]
    except KeyError:
        names = ", ".join(sorted(_REGISTERED))
        raise Missing(f"There is no calculation of this name. There are: {names}.") from None
    return found if site is None or found.at is None else found.at(site)


def run(name: str, payload: object, system: str, site: Any = None) -> dict[str, Any]:
    """Read, compute and write in one go, for the API and for pages.

    Raises Missing for an unknown name and Refused, with all errors at once, for a request that cannot be computed.
    """
    calculation = get(name, site)
    if not isinstance(payload, Mapping):
        raise Refused("The request must be a JSON object.")
    return calculation.writer(calculation.function(calculation.reader(payload)), system)
