"""Rows of a form as a page shows them: what was typed, what is wrong with it, its unit, and readings round a clock."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _

from plant.calculations import FormField
from plant.drawings import clock_ring
from plant.units import label_of

HOUR = re.compile(r"(?P<set>.+)\.(?P<hour>12|3|6|9)")
TYPES: dict[str, str] = {}
# Asked less often: folded away until something stands there.
SELDOM = re.compile(
    r".+\.(sag|sag_u|u|return_to_zero|bracket|instrument|(turned|opposed|turned_opposed)(\d+|_more)|more)"
    r"|feet\d\..+"
)
POSITION = re.compile(r".+\.position\d+")
PLAIN = frozenset({"text", "choice", "date", "instant", "count", "instrument", "long", "row", "yes", "number"})
Options = Sequence[tuple[str, str]]


@dataclass(frozen=True)
class Shown:
    """One field as it stands on the page."""

    id: str
    name: str
    label: str
    value: str
    error: str = ""
    hint: str = ""
    unit: str = ""
    required: bool = False
    options: Options = ()
    type: str = "text"
    long: bool = False
    switch: bool = False

    @property
    def words(self) -> bool:
        """Text rather than a number: the system's letters, not its digits."""
        return not self.unit and self.type == "text"


@dataclass
class Group:
    """Fields under one heading; `clock` holds 12, 3, 6, 9 of a dial where the group has all four."""

    name: str
    fields: list[Shown] = field(default_factory=list)
    seldom: list[Shown] = field(default_factory=list)
    positions: list[Shown] = field(default_factory=list)
    clock: dict[int, Shown] = field(default_factory=dict)
    ring: str = ""
    pictures: Sequence[Any] = ()
    folds: bool = False
    first: bool = False

    @property
    def places(self) -> list[dict[str, Any]]:
        """The clock's fields in the order in which a dial is read."""
        said = {12: _("12, top"), 3: _("3, right hand"), 6: _("6, bottom"), 9: _("9, left hand")}
        if self.clock[12].label == "N":
            said = {hour: self.clock[hour].label for hour in said}
        return [{"hour": hour, "said": words, "field": self.clock[hour]} for hour, words in said.items()]

    @property
    def clock_name(self) -> str:
        """The part of the clock's field names that they share: set0."""
        return self.clock[12].name.removesuffix(".12") if self.clock else ""

    @property
    def unfolded(self) -> bool:
        """Whether something stands in the folded fields, or is wrong with them."""
        return any(one.value or one.error for one in self.seldom)

    @property
    def all(self) -> list[Shown]:
        """Every field, in sight or folded."""
        return [*self.fields, *self.positions, *self.seldom, *self.clock.values()]

    @property
    def open(self) -> bool:
        """Whether a group that folds is shown open: it has errors, or nothing was typed and it is the first to fill."""
        return self.first or any(one.error for one in self.all)

    @property
    def said(self) -> str:
        """What the line of a folded group says of it: its first field, else that something stands there."""
        words = next((one.value for one in self.fields if one.words and one.value), "")
        return words or (_("filled") if any(one.value for one in self.all) else _("empty"))

    @property
    def parts(self) -> list[tuple[str, list[Shown]]]:
        """The fields as they are laid out: one under the other, positions in a narrow grid, the rest folded away."""
        laid = [("", self.fields), ("positions", self.positions), ("seldom", self.seldom)]
        return [(how, some) for how, some in laid if some]

    @property
    def ring_svg(self) -> SafeString:
        return mark_safe(self.ring)


def id_of(name: str) -> str:
    """The id of a field's input, for links and scripts."""
    return "f-" + name.replace(".", "-")


def shown_groups(
    rows: Sequence[FormField],
    typed: Mapping[str, str],
    errors: Mapping[str, str],
    system: str,
    instruments: Options = (),
    rings: Mapping[str, Mapping[float, float]] | None = None,
    prefix: str = "",
    pictures: Mapping[str, Sequence[Any]] | None = None,
) -> list[Group]:
    """The rows by their group, in order.

    `rings` are the readings of each clock as its face shows them; `prefix` goes before the fields' names, where a form
    has fields of its own beside them. `pictures` show where each clock's dial sits.
    """
    hours = {(found["set"], int(found["hour"])) for row in rows if (found := HOUR.fullmatch(row.name))}
    whole = {name for name, _hour in hours if all((name, hour) in hours for hour in (12, 3, 6, 9))}
    groups: dict[str, Group] = {}
    for row in rows:
        group = groups.setdefault(row.group, Group(row.group))
        group.folds = group.folds or row.fold == "group"
        shown = shown_field(row, typed, errors, system, instruments, prefix)
        found = HOUR.fullmatch(row.name)
        if found and found["set"] in whole:
            group.clock[int(found["hour"])] = shown
        elif POSITION.fullmatch(row.name):
            group.positions.append(shown)
        elif row.fold == "field" or (
            SELDOM.fullmatch(row.name) and not row.required and not row.name.startswith("joint")
        ):
            group.seldom.append(shown)
        else:
            group.fields.append(shown)
    folding = [group for group in groups.values() if group.folds]
    if folding and not any(one.error for group in folding for one in group.all):
        folding[0].first = not any(one.value for group in folding for one in group.all)
    for group in groups.values():
        if group.clock:
            name = group.clock_name.removeprefix(prefix)
            group.ring = clock_ring((rings or {}).get(name, {}))
            group.pictures = (pictures or {}).get(name, ())
    return list(groups.values())


def problems_of(rows: Sequence[FormField], errors: Mapping[str, str]) -> list[dict[str, str]]:
    """What was refused, for the box above the form, each with the id of its field; the rest without one."""
    known = {row.name: row for row in rows}
    found = []
    for name, message in errors.items():
        if name in known:
            label = f"{known[name].group}, {known[name].label}" if HOUR.fullmatch(name) else known[name].label
            found.append({"id": id_of(name), "label": label, "message": message})
        else:
            found.append({"id": "", "label": "", "message": message})
    return found


def shown_field(
    row: FormField,
    typed: Mapping[str, str],
    errors: Mapping[str, str],
    system: str,
    instruments: Options = (),
    prefix: str = "",
) -> Shown:
    """One row of a form as it stands on the page."""
    options: Options = row.choices
    # Two ways of which one is said: a switch with both in sight, neither chosen beforehand.
    switch = row.kind == "choice" and (row.required or row.name.endswith(".half")) and len(row.choices) == 2
    if row.kind == "instrument":
        options = [("", _("not named")), *instruments]
        given = typed.get(row.name, "").strip()
        if given and given not in {key for key, _label in options}:
            # Named by its serial number, over the API or an earlier form: it stands as it was typed.
            options = [*options, (typed[row.name], given)]
    elif row.kind == "choice" and not switch and all(key for key, _label in options):
        said = row.required and typed.get(row.name)
        # Nothing is chosen beforehand here either: what the crew did not say was not said.
        options = options if said else [("", _("choose") if row.required else _("not said")), *options]
    return Shown(
        id=id_of(row.name),
        name=prefix + row.name,
        label=row.label,
        value=typed.get(row.name, ""),
        error=errors.get(row.name, ""),
        hint=row.hint,
        unit="" if row.kind in PLAIN else label_of(row.kind, system),
        required=row.required,
        options=options,
        type=TYPES.get(row.kind, "text"),
        switch=switch,
        long=row.kind == "long" or row.name in {"left_so_reason", "not_measured"},
    )
