"""Who is let in at which address: a row per name of the URL table, a door per method.

Written down beside the program and not read from it: a change of plant/access.py that opens or shuts a door fails
here. `who` may pass; everybody else of the site is answered with `shut`. Another site's rows are not there (404).
"""

from dataclasses import dataclass, field

from tests.factories import TODAY

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


HIDDEN = frozenset({404})
GONE = door(then=frozenset({410}))

ROWS: dict[str, Row] = {
    "livez": Row({"get": door()}, public=True, ours=False),
    "readyz": Row({"get": door()}, public=True, ours=False),
    "favicon": Row({"get": door()}, public=True, ours=False),
    "sign-in": Row({"get": door()}, public=True, ours=False),
    "sign-out": Row({"post": door()}, public=True, ours=False),
    # The register
    **noun("site", {"name": "New"}, NOBODY, REGISTER, {"currency": "NOK"}),
    **noun("area", "new_area", REGISTER, REGISTER, {"name": "Renamed"}, remove=REGISTER),
    **noun("train", "new_train", REGISTER, REGISTER, {"name": "Renamed"}),
    **bulk("train", "new_train", REGISTER),
    **look("train-run-hours", "train", post=door(FILLS | {PLANNER, KEEPER}, "run_hours")),
    **act("train-strike-run-hours", FILLS | {PLANNER, KEEPER}, "read_train", "strike"),
    **look("train-service", "train", post=door(REGISTER | {PLANNER, ENGINEER}, {"state": "out"})),
    "api-train-correct-service": Row(
        {
            "patch": door(REGISTER | {PLANNER, ENGINEER}, {"reason": "x"}, then=frozenset({404})),
            "delete": door(REGISTER | {PLANNER, ENGINEER}, then=frozenset({404})),
        },
        of="train",
        also={"spell": "00000000-0000-4000-8000-000000000000"},
    ),
    **noun("machine_unit", "new_unit", FILLS | {KEEPER}, None, {"note": "x"}),
    **bulk("machine-unit", "new_unit", FILLS | {KEEPER}),
    **look("machine-unit-stays", "machine_unit"),
    **act("machine-unit-install", FILLS | {KEEPER}, "spare_unit", "place_of_unit"),
    **act("machine-unit-swap-in", FILLS | {KEEPER}, "spare_unit", "swap"),
    **act("machine-unit-take-out", FILLS | {KEEPER}, "machine_unit", "take_out"),
    "api-machine-unit-correct-stay": Row(
        {
            "patch": door(FILLS | {KEEPER}, {"came_with_hub": True}, then=frozenset({404})),
            "delete": door(FILLS | {KEEPER}, then=frozenset({404})),
        },
        of="machine_unit",
        also={"stay": "00000000-0000-4000-8000-000000000000"},
    ),
    "api-person-list": Row({"get": door(), "post": door({KEEPER}, "new_person", foreign=frozenset({422, 403}))}),
    "api-person-detail": Row(
        {"get": door({KEEPER}, shut=HIDDEN), "patch": door({KEEPER}, {"employer": "Crew Ltd"}, shut=HIDDEN)},
        of="person",
    ),
    **act("person-roles", {KEEPER}, "person", "role", shut=HIDDEN),
    **act("person-end-role", {KEEPER}, "person", "role_ends", shut=HIDDEN),
    "api-invitation-list": Row(
        {"get": door(), "post": door({KEEPER}, "new_invitation", foreign=frozenset({422, 403}))}
    ),
    "api-invitation-detail": Row({"delete": door({KEEPER}, shut=HIDDEN)}, of="invitation"),
    "api-event-list": Row({"get": door()}),
    # An address may itself be a secret, so only whoever keeps webhooks sees them.
    "api-webhook-list": Row(
        {"get": door(), "post": door({KEEPER}, "new_webhook", foreign=frozenset({404, 422, 403}))}, ours=False
    ),
    "api-webhook-detail": Row(
        {
            "get": door({KEEPER}, shut=HIDDEN),
            "patch": door({KEEPER}, {"name": "Renamed"}, shut=HIDDEN),
            "delete": door({KEEPER}, shut=HIDDEN),
        },
        of="webhook",
    ),
    **act("webhook-rotate-secret", {KEEPER}, "webhook", shut=HIDDEN),
    **act("webhook-test", {KEEPER}, "webhook", shut=HIDDEN),
    **act("webhook-replay", {KEEPER}, "webhook", {"from_no": 1}, shut=HIDDEN),
    "api-webhook-deliveries": Row({"get": door({KEEPER}, shut=HIDDEN)}, of="webhook"),
    "api-token-list": Row({"get": door(), "post": door()}, ours=False),
    "api-token-detail": Row({"delete": door(NOBODY, shut=HIDDEN)}, of="token"),
    "api-calculations": Row({"get": door()}, ours=False),
    "api-calculation": Row({"post": door()}, also={"name": "alignment"}, ours=False),
    "api-schema": Row({"get": door()}, ours=False),
    "api-docs": Row({"get": door()}, page=True, ours=False),
    # Couplings
    "api-family-list": Row({"get": door()}, ours=False),
    "api-family-detail": Row({"get": door()}, also={"code": "elastomer-compression"}, ours=False),
    "api-wear-code-list": Row({"get": door()}, ours=False),
    "api-wear-code-detail": Row({"get": door(body="a_wear_code")}, also={"code": "crack"}, ours=False),
    **noun("storage_rule", "new_storage_rule", {ENGINEER}, None, {"extension_years": 1}),
    **kept("storage_rule"),
    **noun("growth_coefficient", "new_growth_coefficient", {ENGINEER}, None, {"per_k": 11}),
    **kept("growth_coefficient"),
    **tables("nut_factor", {"nut_factor": 0.2}),
    **tables("tightening_scatter", {"note": "x"}),
    **tables("second_screw_factor", {"factor": 1.5}),
    **tables("fit_class", {"source": "x"}),
    **tables("failure_code", {"name": "x"}),
    **noun("data_sheet", "new_sheet", {ENGINEER, KEEPER}, None, {"note": "x"}, list_of="sheet_with_version"),
    **act("data-sheet-begin-version", {ENGINEER, KEEPER}, "sheet_with_version"),
    **look("data-sheet-one-version", "sheet_with_version", {"number": 1}, patch=door({ENGINEER, KEEPER})),
    **act("data-sheet-publish", {ENGINEER, MANAGER, KEEPER}, "sheet_with_version", also={"number": 1}),
    **act("data-sheet-copy", {ENGINEER, KEEPER}, "sheet_with_version", {"designation": "Copied design"}),
    **look("data-sheet-comparison", "sheet_with_version", {"number": 1}),
    **look("data-sheet-advice", "sheet_with_version", {"number": 1}),
    **look("data-sheet-touched", "sheet_with_version", {"number": 1}),
    **act("data-sheet-adopt", {ENGINEER, MANAGER}, "sheet_with_version", "fits_to_adopt", also={"number": 1}),
    **noun("limit_change", None, NOBODY),
    **act("limit-change-approve", {ENGINEER, MANAGER}, "limit_change"),
    **act("limit-change-turn-down", {ENGINEER, MANAGER}, "limit_change", {"reason": "x"}),
    **noun("grade", "new_grade", {ENGINEER}, None, {"note": "x"}),
    **kept("grade"),
    **noun("coupling", "new_coupling", REGISTER, None, {"name": "x"}),
    **bulk("coupling", "new_coupling", REGISTER),
    **look("coupling-limits", "fitted_coupling"),
    **act("coupling-retire", REGISTER, "coupling", {"on": "2026-10-12"}),
    "api-coupling-target-part": Row(
        {"put": door({ENGINEER}, "target"), "delete": door({ENGINEER}, then=frozenset({404}))},
        of="coupling",
        also={"kind": "given"},
    ),
    **noun("fit", "new_fit", FITS, None, {"match_marks": "A"}),
    **bulk("fit", "new_fit", FITS),
    **act("coupling-succeed", REGISTER, "coupling", {"on": "2026-10-12", "tag": "NEW-9"}),
    **act("fit-move", FITS, "fit", "to_a_free_place"),
    **act("fit-swap-hub", FITS, "fit", {"side": "driver", "on": "2026-10-12"}),
    "api-fit-whereabouts": Row({"get": door()}, ours=False),
    **act("fit-remove", FITS, "fit", {"removed_on": "2026-10-12"}),
    **noun("element", "new_element", FITS, None, {"batch": "B"}),
    **act("element-take-out", FITS, "element", {"removed_on": "2026-10-12", "removal_reason": "x"}),
    **bulk("element", "new_element", FITS),
    **noun("instrument", "new_instrument", REGISTER, None, {"name": "x"}),
    **bulk("instrument", "new_instrument", REGISTER),
    **look("instrument-calibrations", "instrument"),
    **act("instrument-calibrate", REGISTER, "instrument", "certificate"),
    **noun("stock_lot", "new_stock", COUNTS, None, {"place": "Shelf 3"}),
    **bulk("stock-lot", "new_stock", COUNTS),
    **look("stock-lot-movements", "stock_lot"),
    **act("stock-lot-move", COUNTS, "stock_lot", {"kind": "issue", "number": 1}),
    **noun("removal_reason", "new_removal_reason", {ENGINEER}, None, {"title": "worn through"}),
    # The work
    **noun("work_order", "new_order", FILLS | {PLANNER}, None, {"title": "x"}, list_of="order"),
    **bulk("work-order", "new_order", FILLS | {PLANNER}),
    **act("work-order-close", FILLS | {PLANNER}, "order"),
    **act("work-order-isolate", CREW, "bare_order", {"permit": "P-1"}),
    **act("work-order-verify-isolation", CREW, "order"),
    **act("work-order-remove-isolation", CREW, "order"),
    **noun("visit", "new_visit", FILLS),
    **bulk("visit", "new_visit", FILLS),
    **act("visit-amend", {ENGINEER}, "signed", {"steps": {"placement": {}}, "reason": "x"}),
    **act("visit-drop", FILLS, "visit"),
    **look("visit-entries", "visit"),
    **look("visit-entry", "visit", {"step": "placement"}, patch=door(FILLS, {"fields": {"dbse": "140"}})),
    **look("visit-round", "visit", {"step": "alignment", "number": 1}, patch=door(FILLS, {"fields": {"set0.x": "75"}})),
    **look("visit-records", "signed"),
    **look("visit-summary", "visit"),
    **act("visit-what-if", ALL, "visit", {"step": "alignment", "number": 1}),
    **act("visit-sign", CREW, "visit"),
    "api-survey-list": Row({"get": door()}, shows="signed"),
    **noun("check", None, NOBODY),
    **noun("flag", None, NOBODY, {ENGINEER}, {"owner": None}),
    **act("flag-clear", {ENGINEER}, "flag", {"cause": "x"}),
    **noun("policy", "new_policy", {ENGINEER}, None, {"crew_size": 3}),
    **kept("policy"),
    # Pages
    "start": Row({"get": door()}, page=True, ours=False),
    "tokens": Row({"get": door(), "post": door()}, page=True, ours=False),
    "token-revoke": Row({"post": door(NOBODY, shut=HIDDEN)}, of="token", page=True),
    "roles": Row({"get": door()}, page=True, ours=False),
    "webhooks": Row({"get": door({KEEPER}), "post": door({KEEPER})}, page=True, ours=False),
    "webhook": Row(
        {"get": door({KEEPER}, shut=HIDDEN), "post": door({KEEPER}, {"act": "off"}, shut=HIDDEN)},
        of="webhook",
        page=True,
    ),
    "webhook-host-allow": Row({"post": door({KEEPER})}, page=True, ours=False),
    "webhook-host-forbid": Row({"post": door({KEEPER}, "host_form", shut=HIDDEN)}, page=True, ours=False),
    # Another program may keep the register; it sees this page too.
    "site-settings": Row({"get": door(REGISTER), "post": door(REGISTER)}, of="site", page=True),
    "people": Row({"get": door({KEEPER})}, page=True, ours=False),
    "audit": Row({"get": door({KEEPER})}, page=True, ours=False),
    "invite": Row({"get": door({KEEPER}), "post": door({KEEPER}, "invite_form")}, page=True, ours=False),
    "invitation-withdraw": Row({"post": door({KEEPER}, shut=HIDDEN)}, of="invitation", page=True),
    "person": Row(
        {"get": door({KEEPER}, shut=HIDDEN), "post": door({KEEPER}, "person_form", shut=HIDDEN)},
        of="person",
        page=True,
    ),
    "person-role": Row({"post": door({KEEPER}, "role_form", shut=HIDDEN)}, of="person", page=True),
    "person-role-end": Row({"post": door({KEEPER}, "end_form", shut=HIDDEN)}, of="person", page=True),
    "person-stop": Row({"post": door({KEEPER}, shut=HIDDEN)}, of="person", page=True),
    "person-link": Row({"post": door({KEEPER}, shut=HIDDEN)}, of="person", page=True),
    "person-leave": Row(
        {"get": door({KEEPER}, shut=HIDDEN), "post": door({KEEPER}, {"on": TODAY.isoformat()}, shut=HIDDEN)},
        of="person",
        also={"site": "site_uuid"},
        page=True,
    ),
    # Nobody made this link: it says so to everybody.
    "invitation": Row({"get": GONE, "post": GONE}, also={"secret": "guessed"}, page=True, public=True, ours=False),
    "password-link": Row({"get": GONE, "post": GONE}, also={"secret": "guessed"}, page=True, public=True, ours=False),
    "password-forgotten": Row({"get": door(), "post": door(then=frozenset({422}))}, page=True, public=True, ours=False),
    "account": Row({"get": door(), "post": door()}, page=True, ours=False),
    "account-password": Row({"post": door()}, page=True, ours=False),
    "calculations": Row({"get": door()}, page=True, ours=False),
    "calculation": Row({"get": door()}, also={"name": "alignment"}, page=True, ours=False),
    "register": Row({"get": door()}, page=True, ours=False),
    **pages_of("sites", "site", "new_site_form", new=NOBODY, batch=False, acts={"judging": door({ENGINEER})}),
    **pages_of("areas", "area", "new_area_form", acts={"move": door(REGISTER), "remove": door(REGISTER)}),
    **pages_of(
        "trains",
        "train",
        "new_train_form",
        acts={
            "run-hours": door(FILLS | {PLANNER, KEEPER}, "hours_form"),
            "new-meter": door(FILLS | {PLANNER, KEEPER}, "hours_form"),
        },
    ),
    **pages_of(
        "data-sheets",
        "sheet_with_version",
        "new_sheet_form",
        write={ENGINEER, KEEPER},
        batch=False,
        acts={
            **dict.fromkeys(("draft", "begin", "copy"), door({ENGINEER, KEEPER})),
            "publish": door({ENGINEER, KEEPER}, then=frozenset({403})),
            **dict.fromkeys(("approve", "turn-down", "adopt"), door({ENGINEER, MANAGER})),
        },
    ),
    **pages_of("couplings", "coupling", "new_coupling_form", edit=False, acts=same(REGISTER, "change retire succeed")),
    **pages_of("fits", "fit", "new_fit_form", FITS, edit=False, acts=same(FITS, "change move remove swap-hub element")),
    **pages_of("elements", "element", acts=same(FITS, "take-out mend")),
    **pages_of(
        "stock", "stock_lot", "stock_form", COUNTS, edit=False, acts=same(COUNTS, "change receive issue count scrap")
    ),
    **pages_of("instruments", "instrument", "instrument_form", edit=False, acts=same(REGISTER, "change calibrate")),
    **pages_of("families", None, also={"code": "elastomer-compression"}),
    "calendars": Row({"get": door(), "post": door()}, page=True, ours=False),
    "calendar-feed": Row({"get": door(then=HIDDEN)}, also={"secret": "guessed"}, page=True, public=True, ours=False),
    "due": Row({"get": door()}, page=True, ours=False),
    "due-chosen": Row({"post": door(body="planned_check", who=PLANS, foreign=frozenset({422}))}, page=True),
    "due-export": Row({"get": door(EXPORTS)}, also={"form": "csv"}, page=True, ours=False),
    "weeks": Row({"get": door()}, page=True, ours=False),
    "lists": Row({"post": door(body={"page": "due", "name": "Mine"})}, page=True, ours=False),
    "couplings": Row({"get": door()}, page=True, ours=False),
    "coupling": Row({"get": door()}, of="fitted_coupling", page=True),
    "coupling-job-card": Row({"get": door()}, of="fitted_coupling", page=True),
    "coupling-labels": Row({"get": door()}, page=True, ours=False),
    "coupling-begin": Row({"post": door(FILLS, "begin_form")}, of="fitted_coupling", page=True),
    "coupling-hours": Row({"post": door(FILLS | {PLANNER, KEEPER}, "hours_form")}, of="fitted_coupling", page=True),
    "flag-cleared": Row({"post": door({ENGINEER}, {"cause": "x"})}, of="flag", page=True),
    "visit": Row({"get": door()}, of="visit", page=True),
    "visit-isolation": Row({"post": door(CREW)}, of="visit", also={"act": "remove"}, page=True),
    "visit-drop": Row({"post": door(FILLS)}, of="visit", page=True),
    "visit-step": Row({"get": door(), "post": door(FILLS)}, of="visit", also={"key": "placement"}, page=True),
    "visit-round": Row(
        {"get": door(), "post": door(FILLS)}, of="visit", also={"key": "alignment", "number": 1}, page=True
    ),
    "visit-sign": Row({"get": door(), "post": door(CREW)}, of="visit", page=True),
    "visit-certificate": Row({"get": door()}, of="signed", page=True),
    "visit-record": Row({"get": door()}, of="signed", page=True),
    "visit-amend": Row(
        {"get": door({ENGINEER}, shut=HIDDEN), "post": door({ENGINEER}, shut=HIDDEN)},
        of="signed",
        also={"name": "placement"},
        page=True,
    ),
}
