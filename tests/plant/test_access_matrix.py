"""Every address of the site, for every role, at the own and at another site, and for nobody.

The URL table decides what is tried, tests/access_table.py what must come of it. An address without a row there fails.
"""

import json
from contextlib import contextmanager
from copy import deepcopy

import pytest
import time_machine
from django.db import transaction
from django.test import Client
from django.urls import NoReverseMatch, get_resolver, reverse
from zeal import zeal_ignore

from inspections.models import CrewMember, WorkOrder
from tests.access_table import ALL, ROWS
from tests.contractors import AT_A_TRAIN, CONTRACTOR_AT_WORK
from tests.factories import NOW, MembershipFactory, PersonFactory, SiteFactory
from tests.world import World

NOT_LET_IN = {401, 403, 404, 405}


def addresses(resolver, space=""):
    """(name, methods or None) of every pattern; the methods are known where the view says them."""
    for pattern in resolver.url_patterns:
        if hasattr(pattern, "url_patterns"):
            inner = f"{space}{pattern.namespace}:" if pattern.namespace else space
            yield from addresses(pattern, inner)
        else:
            yield space + (pattern.name or ""), methods_of(pattern.callback)


def methods_of(view):
    if actions := getattr(view, "actions", None):
        return {method for method in actions if method not in ("head", "options")}
    cls = getattr(view, "cls", None)
    return {method for method in ("get", "post", "put", "patch", "delete") if hasattr(cls, method)} if cls else None


TABLE = [row for row in addresses(get_resolver()) if not row[0].startswith("admin:")]
ADMIN = sorted({name for name, _ in addresses(get_resolver()) if name.startswith("admin:")})


def test_every_address_has_a_row_and_every_row_an_address():
    assert {name for name, _ in TABLE} == set(ROWS)


def test_a_row_has_a_door_for_every_method_of_its_view():
    known = {name: methods for name, methods in TABLE if methods is not None}
    assert {name: set(ROWS[name].doors) for name in known} == known


@contextmanager
def undone():
    with transaction.atomic():
        yield
        transaction.set_rollback(True)


class Stage:
    """Two sites with one of everything, and a signed-in browser per role of the first; built once, left unchanged."""

    def __init__(self):
        site, other = SiteFactory(), SiteFactory(name="Saltholm Mill")
        self.clients = {None: Client()}
        for role in sorted(ALL):
            person = PersonFactory(username=f"the {role}")
            MembershipFactory(person=person, site=site, role=role)
            self.clients[role] = Client()
            self.clients[role].force_login(person)
        # Somebody who may everything at the other site, and so nothing here.
        outsider = PersonFactory(username="the outsider")
        for role in sorted(ALL):
            MembershipFactory(person=outsider, site=other, role=role)
        self.outsider = Client()
        self.outsider.force_login(outsider)
        stranger = PersonFactory(username="stranger")
        MembershipFactory(person=stranger, site=other, role="mechanic")
        self.here = World(site, self.person("mechanic"))
        self.there = World(other, stranger)
        for name, row in ROWS.items():
            for world in (self.here, self.there):
                address(name, row, world)
                for door in row.doors.values():
                    sent(world, door.body)

    def person(self, role):
        return PersonFactory(username=f"the {role}")


@pytest.fixture(scope="module")
def stage(django_db_setup, django_db_blocker):
    with django_db_blocker.unblock(), time_machine.travel(NOW, tick=False), undone():
        yield Stage()


def sent(world, body):
    if isinstance(body, str) and body.startswith("bulk:"):
        return {"rows": [sent(world, body.removeprefix("bulk:"))]}
    return getattr(world, body)() if isinstance(body, str) else body


def address(name, row, world):
    key = "uuid" if row.page else "id"
    also = {part: world.site.uuid if value == "site_uuid" else value for part, value in row.also.items()}
    return reverse(name, kwargs={key: getattr(world, row.of).uuid} | also if row.of else also)


def tried(client, method, name, row, world):
    """(status, answer); in bulk, the status of the one row sent. What was done is undone."""
    door = row.doors[method]
    where, body = address(name, row, world), sent(world, door.body)
    cookies = deepcopy(client.cookies)
    # Many requests in one test are no N+1.
    with undone(), zeal_ignore():
        if row.page:
            answer = getattr(client, method)(where, body if method == "post" else None)
        elif method == "get":
            answer = client.get(where)
        else:
            answer = getattr(client, method)(
                where, json.dumps(body), content_type="application/json", headers={"If-Match": "*"}
            )
    client.cookies = cookies
    if isinstance(door.body, str) and door.body.startswith("bulk:") and answer.status_code == 200:
        return answer.json()["rows"][0]["status"], answer
    return answer.status_code, answer


def at_home(door, role, status):
    if role in door.who:
        return status in door.then or not (status in NOT_LET_IN or status >= 500)
    return status in door.shut


def nobody_is_asked_to_sign_in(row, door, status, answer):
    if row.public:
        return status < 400 or status in door.then
    if row.page:
        return status == 302 and answer["Location"].startswith(reverse("sign-in"))
    return status == 401


def names_a_row(row, door):
    """Whether a row of some site is asked for or sent, so that there is another site's to try."""
    return row.ours and (row.of is not None or isinstance(door.body, str))


@pytest.mark.django_db
@pytest.mark.parametrize("name", sorted(ROWS))
def test_whoever_may_is_let_in_and_nobody_else(name, stage):
    row, wrong = ROWS[name], []
    for method, door in row.doors.items():
        for role in sorted(ALL):
            status, answer = tried(stage.clients[role], method, name, row, stage.here)
            if not at_home(door, role, status):
                wrong.append((method, role, status, answer.content[:200]))
            if row.shows and method == "get":
                text = answer.content.decode()
                shown, hidden = (str(getattr(world, row.shows).uuid) for world in (stage.here, stage.there))
                if shown not in text or hidden in text:
                    wrong.append((method, role, "shows", text[:300]))
        if names_a_row(row, door):
            status, answer = tried(stage.outsider, method, name, row, stage.here)
            if status not in door.foreign:
                wrong.append((method, "everybody of another site", status, answer.content[:200]))
        status, answer = tried(stage.clients[None], method, name, row, stage.here)
        if not nobody_is_asked_to_sign_in(row, door, status, answer):
            wrong.append((method, "nobody", status))
    assert wrong == []


@pytest.mark.long
@pytest.mark.django_db
@pytest.mark.parametrize("name", sorted(ROWS))
def test_no_role_reaches_another_site(name, stage):
    row, wrong = ROWS[name], []
    for method, door in row.doors.items():
        for role in sorted(ALL) if names_a_row(row, door) else ():
            status, answer = tried(stage.clients[role], method, name, row, stage.there)
            if status not in door.foreign:
                wrong.append((method, role, status, answer.content[:200]))
    assert wrong == []


def admin_address(name):
    """The address by that name, with as many arguments as it takes."""
    special = {"admin:view_on_site": [1, 1], "admin:app_list": ["plant"]}
    for arguments in [special.get(name, []), [1], [1, 1]]:
        try:
            return reverse(name, args=arguments)
        except NoReverseMatch:
            continue
    return "/admin/nothing"


@pytest.mark.django_db
def test_the_administration_is_for_staff(stage):
    assert len(ADMIN) > 50
    open_to_all = {"admin:login", "admin:logout", "admin:jsi18n"}
    wrong = []
    for name in ADMIN:
        for who, client in (("nobody", stage.clients[None]), ("every role, no staff", stage.outsider)):
            with undone(), zeal_ignore():
                status = client.get(admin_address(name)).status_code
            if status != 302 and not (name in open_to_all and status in (200, 405)):
                wrong.append((name, who, status))
    assert wrong == []


@pytest.fixture(scope="module")
def contractors_stage(django_db_setup, django_db_blocker):
    """One contractor in the crew of the orders of one train, and other trains of the same site."""
    with django_db_blocker.unblock(), time_machine.travel(NOW, tick=False), undone():
        site = SiteFactory(name="Hollin Yard")
        boss, fitter = PersonFactory(username="the boss"), PersonFactory(username="the contractor", employer="Crew Ltd")
        MembershipFactory(person=boss, site=site, role="mechanic")
        MembershipFactory(person=fitter, site=site, role="contractor", until_on=NOW.date())
        mine = World(site, boss)
        for name, row in ROWS.items():
            if row.of is not None:
                address(name, row, mine)
        for order in WorkOrder.objects.all():
            CrewMember.objects.create(order=order, person=fitter, name=str(fitter), employer=fitter.employer)
        beside = World(site, boss)
        for row in ROWS.values():
            if row.of in AT_A_TRAIN:
                getattr(beside, row.of)
        client = Client()
        client.force_login(fitter)
        yield client, mine, beside


@pytest.mark.django_db
@pytest.mark.parametrize("name", sorted(name for name, row in ROWS.items() if row.of is not None and row.ours))
def test_a_contractor_is_let_in_to_the_orders_he_is_on_and_to_nothing_else_of_the_site(name, contractors_stage):
    client, mine, beside = contractors_stage
    row, wrong = ROWS[name], []
    for method in row.doors:
        status, answer = tried(client, method, name, row, mine)
        let_in = not (status in NOT_LET_IN or status >= 500)
        if let_in != (method in CONTRACTOR_AT_WORK.get(name, set())):
            wrong.append((method, "own order", status, answer.content[:200]))
        if row.of in AT_A_TRAIN:
            status, answer = tried(client, method, name, row, beside)
            if status not in (403, 404):
                wrong.append((method, "another train", status, answer.content[:200]))
    assert wrong == []


@pytest.mark.django_db
@pytest.mark.parametrize("name", sorted(name for name, row in ROWS.items() if row.shows in AT_A_TRAIN))
def test_a_contractors_list_shows_nothing_of_another_train(name, contractors_stage):
    client, _mine, beside = contractors_stage
    with zeal_ignore():
        text = client.get(reverse(name, kwargs=ROWS[name].also)).content.decode()
    assert str(getattr(beside, ROWS[name].shows).uuid) not in text
