"""Who may do what: one table, role by action. Pages, API and services all ask here.

`Model.objects.visible_to(person)` says which rows of a root a person may read; `may` and `require` say what the person
may do at a site. `by=None` is the program itself and may everything. What a contractor
may do, he may within the work orders he is on: `narrow` in plant/models/roots.py says which rows those are.
"""

from typing import Any

from plant.models import Membership, Person
from plant.refusals import Missing, NotAllowed

Role = Membership.Role
# One action, or several of which any one will do.
Actions = str | tuple[str, ...]

# One row per action: what it is called on the page of roles, and which roles may take it.
ACTIONS: dict[str, tuple[str, frozenset[str]]] = {
    "read": ("read the site", frozenset(Role.values)),
    "visit.fill": ("fill visits", frozenset({Role.MECHANIC, Role.CONTRACTOR, Role.ENGINEER, Role.CLIENT})),
    "visit.sign": ("sign visits", frozenset({Role.MECHANIC, Role.CONTRACTOR, Role.ENGINEER})),
    "visit.amend": ("amend signed visits", frozenset({Role.ENGINEER})),
    "visit.witness": (
        "witness hold points",
        frozenset({Role.MECHANIC, Role.CONTRACTOR, Role.PLANNER, Role.ENGINEER, Role.MANAGER, Role.KEEPER}),
    ),
    "visit.accept": ("accept run-ups", frozenset({Role.MECHANIC, Role.CONTRACTOR, Role.ENGINEER})),
    "order.isolate": ("confirm isolation", frozenset({Role.MECHANIC, Role.CONTRACTOR, Role.ENGINEER})),
    "order.write": ("write work orders", frozenset({Role.PLANNER, Role.MECHANIC, Role.ENGINEER, Role.CLIENT})),
    "check.plan": ("plan checks", frozenset({Role.PLANNER, Role.ENGINEER})),
    "check.date": ("give dates of the work-order system", frozenset({Role.PLANNER, Role.ENGINEER, Role.CLIENT})),
    "stop.write": ("plan stops", frozenset({Role.PLANNER, Role.ENGINEER, Role.CLIENT})),
    "target.write": ("set targets", frozenset({Role.ENGINEER})),
    "policy.write": ("set policies and grades", frozenset({Role.ENGINEER})),
    "leg.write": ("leave movements between visits out of forecasts", frozenset({Role.ENGINEER})),
    "flag.handle": ("own and clear flags", frozenset({Role.ENGINEER})),
    "sheet.write": ("write data sheets", frozenset({Role.ENGINEER, Role.KEEPER})),
    "limit.approve": ("approve limits", frozenset({Role.MANAGER, Role.ENGINEER})),
    "register.write": ("keep the register", frozenset({Role.KEEPER, Role.CLIENT})),
    "fit.write": (
        "record what is fitted",
        frozenset({Role.MECHANIC, Role.CONTRACTOR, Role.ENGINEER, Role.KEEPER, Role.CLIENT}),
    ),
    "stock.write": ("count elements in store", frozenset(set(Role.values) - {Role.MANAGER, Role.CONTRACTOR})),
    "meter.write": ("record run hours", frozenset(set(Role.values) - {Role.MANAGER})),
    "client.write": ("keep webhooks", frozenset({Role.KEEPER})),
    "jobs.handle": ("see and restart background work", frozenset({Role.KEEPER, Role.ENGINEER})),
    "people.write": ("keep people and roles", frozenset({Role.KEEPER})),
    "export": ("export", frozenset({Role.MANAGER, Role.PLANNER, Role.ENGINEER, Role.KEEPER})),
}


def may(person: Person | None, action: Actions, site: Any) -> bool:
    """Whether this person may take this action, or one of these, at this site (a Site or its id)."""
    if isinstance(action, tuple):
        return any(may(person, one, site) for one in action)
    allowed = ACTIONS[action][1]
    if person is None:
        return True
    site_id = getattr(site, "pk", site)
    if person.token is not None and (action not in person.token.scopes or not _reaches(person, site_id)):
        return False
    if person.is_superuser and person.is_active:
        return True
    return bool(person.roles_by_site().get(site_id, set()) & allowed)


def require(person: Person | None, action: Actions, site: Any) -> None:
    """Refuse unless the person may; a site the person cannot see at all is missing, not forbidden."""
    if may(person, action, site):
        return
    assert person is not None
    if not person.sees_everything and getattr(site, "pk", site) not in person.site_ids():
        raise Missing()
    actions = (action,) if isinstance(action, str) else action
    raise NotAllowed(f"Your role at this site does not let you {' or '.join(ACTIONS[one][0] for one in actions)}.")


def sites_where(person: Person, action: Actions) -> set[int]:
    """Ids of the sites where the person may take this action."""
    return {site_id for site_id in person.site_ids() if may(person, action, site_id)}


def _reaches(person: Person, site_id: int) -> bool:
    only = person.token.site_ids()
    return not only or site_id in only
