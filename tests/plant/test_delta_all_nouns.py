"""A reader that keeps a copy of every noun holds what a full read gives, whatever was done, wherever it was cut off."""

import itertools
import random
from datetime import timedelta

import pytest
from django.urls import get_resolver
from django.utils import timezone

from couplings.services.starters import load_starters
from plant.api.etags import etag
from plant.api.views import RootViewSet
from plant.recording import recording
from tests.factories import NOW, MembershipFactory, PersonFactory
from tests.plant.delta_acts import ACTS, API, Draw

pytestmark = pytest.mark.django_db
# Followed and compared, but changed by signing, by evaluating, by the week or by a file sent: their own tests do that.
ONLY_FOLLOWED = {"checks", "flags", "photos", "legs", "drift-states", "group-fits", "life-fits"}
# Each act of each noun in an order drawn from the seed; what is refused is tried again at once, and in the end.
TURNS, TRIES, LATER = 1, 2, 3


def _deltas(patterns, before=""):
    """Part of the address and view set of every list that is read as a delta."""
    for one in patterns:
        here = before + str(one.pattern)
        if hasattr(one, "url_patterns"):
            yield from _deltas(one.url_patterns, here)
            continue
        view = getattr(one.callback, "cls", None)
        if view is None or not issubclass(view, RootViewSet) or not view.delta or here.count("/") != 3:
            continue
        if one.callback.actions.get("get") == "list":
            yield here.removeprefix("api/v1/").strip("/"), view


NOUNS = dict(_deltas(get_resolver().url_patterns))


class Reader:
    """Another program: it keeps the rows of one noun by delta reads, and is cut off when it pleases chance."""

    def __init__(self, client, site, slug, chance):
        self.client, self.site, self.slug, self.chance = client, site, slug, chance
        self.copy, self.token, self.seen_at, self.removals = {}, None, None, 0

    def look(self, cut_off=True):
        """Read until there is no more, or until the line breaks; a page that got lost is asked for again later."""
        if cut_off and self.chance.random() < 0.1:
            self.token = None  # forgotten: it goes on from the time of its last whole look
        more = True
        while more:
            begun = timezone.now()
            query = {"limit": self.chance.randint(1, 7) if cut_off else 100}
            if self.token is None:
                since = self.seen_at or NOW - timedelta(days=3650)
                query |= {"site": str(self.site.uuid), "updated_since": since.isoformat()}
            else:
                query |= {"after": self.token}
            answer = self.client.get(f"{API}{self.slug}/", query)
            assert answer.status_code == 200, (self.slug, answer.json())
            if cut_off and self.chance.random() < 0.2:
                return
            page = answer.json()
            for row in page["results"]:
                if row.get("removed"):
                    self.copy.pop(row["id"], None)
                    self.removals += 1
                else:
                    self.copy[row["id"]] = row
            self.token, more = page["after"], page["more"]
            if cut_off and self.chance.random() < 0.2:
                return
        self.seen_at = begun


def _whole(client, slug):
    """Every row of a noun as its list prints it, page by page."""
    address, rows = f"{API}{slug}/?limit=500", {}
    while address:
        page = client.get(address).json()
        rows |= {row["id"]: row for row in page["results"]}
        address = page["next"]
    return rows


def _send(client, method, address, body, no):
    """The answer; what is changed or removed is named as it stands, as somebody does who has just read it."""
    slug, uuid = address.split("/")[3:5]
    root = NOUNS[slug].noun_class.objects.filter(uuid=uuid).first() if method != "post" else None
    headers = {"If-Match": etag(root)} if root is not None else {"Idempotency-Key": f"act-{no}"}
    return getattr(client, method)(address, body, format="json", headers=headers)


def _live(seed, site, clients, time_machine, turns):
    """A register lives through its acts in the order chance gives them; every copy is compared at the end."""
    chance = random.Random(seed)
    draw = Draw(site, chance, {slug: view.noun_class for slug, view in NOUNS.items()})
    readers = {slug: Reader(clients[0], site, slug, chance) for slug in NOUNS}
    acts = [(slug, number) for slug, all_of in ACTS.items() for number in range(len(all_of))] * turns
    chance.shuffle(acts)
    # Some of each first, so that there is something to be about; what was always refused is tried again in the end.
    rows = [(slug, 0) for slug in ACTS if slug not in ("limit-changes", "fits")] + [("couplings", 0)] * 2
    sheet = [("data-sheets", 4), ("data-sheets", 5), ("fits", 0), ("data-sheets", 2), ("data-sheets", 7)]
    done, at = {slug: set() for slug in ACTS}, timezone.now()
    for no, (slug, number) in enumerate(itertools.chain(rows * 2, sheet * 5, acts, _not_yet(done))):
        at += timedelta(seconds=chance.randint(1, 90))
        time_machine.move_to(at, tick=False)
        for again in range(TRIES):
            answer = _send(chance.choice(clients), *ACTS[slug][number](draw), f"{no}-{again}")
            assert answer.status_code < 500, (slug, number)
            if answer.status_code < 300:
                done[slug].add(number)
                break
        for other in chance.sample(sorted(readers), 1):
            readers[other].look()
    wrong = {}
    for slug, reader in readers.items():
        reader.look(cut_off=False)
        whole, copy = (_lasting(slug, rows) for rows in (_whole(clients[0], slug), reader.copy))
        if copy != whole:
            wrong[slug] = _apart(copy, whole)
    return wrong, done, readers


def _lasting(slug, rows):
    """Without what the calendar alone changes, midnight after midnight: a reader works it out from the dates."""
    by_the_day = {"checks": {"state"}}.get(slug, set())
    return {one: {name: value for name, value in row.items() if name not in by_the_day} for one, row in rows.items()}


def _not_yet(done):
    """Acts that have always been refused so far, asked for one by one."""
    for _ in range(LATER):
        for slug, all_of in ACTS.items():
            yield from ((slug, number) for number in range(len(all_of)) if number not in done[slug])


def _apart(copy, whole):
    """What a copy has otherwise than the full read: rows missed, rows kept, and the names of what differs."""
    both = copy.keys() & whole.keys()
    fields = sorted({name for one in both for name in whole[one] if copy[one].get(name) != whole[one][name]})
    return {"missed": len(whole.keys() - copy.keys()), "kept": len(copy.keys() - whole.keys()), "differ": fields}


@pytest.fixture
def clients(site, as_person, time_machine):
    """Two people with every role: one proposes what the other approves. The starters' words stand there."""
    time_machine.move_to(NOW, tick=False)
    people = []
    for name in ("first", "second"):
        people.append(PersonFactory(username=name))
        for role in ("mechanic", "planner", "engineer", "manager", "keeper"):
            MembershipFactory(person=people[-1], site=site, role=role)
    with recording(by=people[0], at=NOW):
        load_starters(site=site)
    return [as_person(person) for person in people]


def test_every_noun_that_is_read_as_a_delta_is_lived_through():
    assert set(NOUNS) == set(ACTS) | ONLY_FOLLOWED


def test_a_copy_kept_by_delta_reads_is_what_a_full_read_gives(site, clients, time_machine):
    wrong, done, readers = _live(8, site, clients, time_machine, TURNS)
    assert wrong == {}
    # Chance left few of the acts without one that was let through, and every kind of removal was told.
    assert sum(map(len, done.values())) > 0.9 * sum(map(len, ACTS.values()))
    assert {slug for slug, numbers in done.items() if not numbers} <= {"limit-changes"}
    assert sum(reader.removals for reader in readers.values()) >= 12


@pytest.mark.long
@pytest.mark.parametrize("seed", range(2, 6))
def test_copies_hold_whatever_the_order(seed, site, clients, time_machine):
    wrong, _done, _readers = _live(seed, site, clients, time_machine, 3 * TURNS)
    assert wrong == {}
