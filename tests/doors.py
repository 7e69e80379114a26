"""How a row of the access table is written: a door per method, and what several nouns have in common."""

from dataclasses import dataclass, field

MECHANIC, PLANNER, ENGINEER, MANAGER, KEEPER, CLIENT = "mechanic", "planner", "engineer", "manager", "keeper", "client"
ALL = frozenset({MECHANIC, PLANNER, ENGINEER, MANAGER, KEEPER, CLIENT})
NOBODY: frozenset[str] = frozenset()
REGISTER = frozenset({KEEPER, CLIENT})
CREW = frozenset({MECHANIC, ENGINEER})
FILLS = frozenset({MECHANIC, ENGINEER, CLIENT})
PLANS = frozenset({PLANNER, ENGINEER})
EXPORTS = frozenset({PLANNER, ENGINEER, MANAGER, KEEPER})
FITS = FILLS | {KEEPER}
COUNTS = ALL - {MANAGER}


@dataclass(frozen=True)
class Door:
    who: frozenset[str] = ALL
    body: str | dict = field(default_factory=dict)  # a body, or the name of World's method that makes it
    shut: frozenset[int] = frozenset({403})
    then: frozenset[int] = frozenset()  # answers beyond 2xx, 3xx, 409, 412 and 422 that still mean "let in"
    foreign: frozenset[int] = frozenset({404})


@dataclass(frozen=True)
class Row:
    """`of` names the row of World whose UUID stands in the address, `shows` the one that a list must show."""

    doors: dict[str, Door]
    of: str | None = None
    also: dict[str, object] = field(default_factory=dict)
    shows: str | None = None
    page: bool = False
    public: bool = False
    ours: bool = True  # False: the address is about no site's rows, so there is no foreign one


def door(who=ALL, body=None, **more):
    return Door(frozenset(who), {} if body is None else body, **more)


def noun(name, make, write, change=None, change_with=None, remove=None, shows=True, list_of=None):
    """List and detail of a noun: everybody reads, `write` makes by World's body `make`, `change` changes."""
    many = {"get": door()}
    one = {"get": door()}
    if make:
        many["post"] = door(write, make, foreign=frozenset({404, 422, 403}))
    if change_with is not None:
        one["patch"] = door(change if change is not None else write, change_with)
    if remove is not None:
        one["delete"] = door(remove)
    slug = name.replace("_", "-")
    return {
        f"api-{slug}-list": Row(many, shows=(list_of or name) if shows else None),
        f"api-{slug}-detail": Row(one, of=list_of or name),
    }


def bulk(slug, make, write):
    return {f"api-{slug}-bulk": Row({"post": door(write, f"bulk:{make}", foreign=frozenset({404, 422, 403}))})}


def act(slug, who, of, body=None, also=None, **more):
    return {f"api-{slug}": Row({"post": door(who, body, **more)}, of=of, also=also or {})}


def look(slug, of, also=None, **doors):
    return {f"api-{slug}": Row({"get": door(), **doors}, of=of, also=also or {})}


def kept(name):
    """What somebody sets for a site: its history, and its starters as an act."""
    slug = name.replace("_", "-")
    load = door({ENGINEER}, "of_site", foreign=frozenset({404, 422, 403}))
    return {**look(f"{slug}-history", name), f"api-{slug}-load-starters": Row({"post": load})}


def tables(name, change):
    """A table of a site."""
    return noun(name, f"new_{name}", {ENGINEER}, None, change, remove={ENGINEER}) | kept(name)


def same(who, acts):
    """One door for several acts."""
    return dict.fromkeys(acts.split(), door(who))


def pages_of(key, of, body=None, write=REGISTER, new=None, batch=True, edit=True, also=None, acts=None):
    """The pages of a noun of the register: everybody reads, `write` adds and changes.

    `of` is the row of World in the addresses, `body` World's method with a whole form, `acts` the doors of its acts.
    """

    def page(doors, here=True, **more):
        return Row(doors, of=of if here else None, also=(also or {}) if here else {}, page=True, **more)

    name = f"register-{key}"
    rows = {
        name: page({"get": door()}, here=False, shows=of),
        f"{name}-export": Row({"get": door(EXPORTS)}, also={"form": "csv"}, page=True, ours=False),
        f"{name}-one": page({"get": door()}, ours=of is not None),
        **{f"{name}-{act}": page({"get": one, "post": one}) for act, one in (acts or {}).items()},
    }
    if body:
        who = write if new is None else new
        rows[f"{name}-new"] = page(
            {"get": door(who), "post": door(who, body, foreign=frozenset({403, 404}))}, here=False
        )
    if body and edit:
        rows[f"{name}-edit"] = page({"get": door(write), "post": door(write, {"version": "1"})})
    if body and batch and edit:
        many = {"get": door(write), "post": door(write, f"chosen_{of}", foreign=frozenset({403, 404}))}
        rows[f"{name}-batch"] = page(many, here=False)
    return rows


# Pages of tables that an engineer keeps for a site, by the row of World.
PAGES_OF_TABLES = {
    "grades": "grade", "policies": "policy", "growth": "growth_coefficient", "storage-rules": "storage_rule",
    "nut-factors": "nut_factor", "scatter": "tightening_scatter", "second-screws": "second_screw_factor",
    "fit-classes": "fit_class", "failure-codes": "failure_code", "wear-wordings": "wear_wording",
}  # fmt: skip


def open_pages(*names):
    """Pages that everybody reads, each what is theirs."""
    return {name: Row({"get": door()}, page=True, ours=False) for name in names}


def files(*names):
    """The same lists as files."""
    return {
        f"{name}-export": Row({"get": door(EXPORTS)}, also={"form": "csv"}, page=True, ours=False) for name in names
    }


def table_pages():
    rows = {}
    for key, of in PAGES_OF_TABLES.items():
        acts = {"remove": door({ENGINEER}, {"version": "1"})}
        rows |= pages_of(key, of, f"{of}_form", write={ENGINEER}, batch=False, acts=acts)
        if key not in {"fit-classes", "wear-wordings"}:  # nothing to begin with
            rows |= starters_of(key)
    return rows


def starters_of(key):
    """Loading the starters of a noun to a site."""
    post = door({ENGINEER}, "of_site", foreign=frozenset({403, 404}))
    return {f"register-{key}-starters": Row({"get": door({ENGINEER}), "post": post}, page=True)}
