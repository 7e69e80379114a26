"""The unit of work: every change to the plant's record runs inside `recording()`.

Leaving the outermost block writes tombstones, change numbers, events and the idempotent answer, and takes the touched
sites' next running numbers last of all, so that the order of the numbers is the order of the commits and a reader that
goes by number misses nothing. This module is the only writer of events and tombstones.
"""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

from django.db import IntegrityError, models, transaction
from django.db.models import F
from django.utils import timezone

from plant.models import Delivery, Event, IdempotencyKey, Person, SiteMark, SiteNumber, Tombstone, Webhook
from plant.models.history import author
from plant.refusals import KeyReused, Missing, Stale

EVENT_KINDS = frozenset(
    "visit.signed visit.amended check.due check.overdue check.rescheduled check.deferred check.cancelled check.done "
    "flag.opened flag.cleared element.fitted fit.moved sheet.adopted import.finished".split()
)


# How finely `updated_since` is answered: a reader gets at most this much more than it asked for.
MARK_EVERY = timedelta(minutes=5)


@dataclass(frozen=True)
class RequestKey:
    """One POST as its sender named it: the key, and what was sent under it."""

    key: str
    fingerprint: str
    person: Person


class Replay(Exception):
    """The request under this key was answered before; this is the answer."""

    def __init__(self, kept: IdempotencyKey) -> None:
        super().__init__(kept.key)
        self.status, self.body, self.etag, self.location = kept.status, kept.body, kept.etag, kept.location


@dataclass
class Unit:
    by: Person | None
    at: datetime
    key: RequestKey | None = None
    roots: dict[tuple[type[models.Model], int], Any] = field(default_factory=dict)
    bumped: set[tuple[type[models.Model], int]] = field(default_factory=set)
    gone: list[Tombstone] = field(default_factory=list)
    events: list[Event] = field(default_factory=list)
    answered: dict[str, Any] | None = None

    def answer(self, status: int, body: Any, *, etag: str = "", location: str = "") -> None:
        """Remember what the sender of this unit's key is told; only 2xx is kept."""
        self.answered = {"status": status, "body": body, "etag": etag, "location": location}


# What apps above this one draw from a root that changed, before its unit closes.
_followers: dict[type[models.Model], list[Callable[[list[Any]], None]]] = {}


def follow(model: type[models.Model], draw: Callable[[list[Any]], None]) -> None:
    """Have something done in the same unit with all roots of this model that are new or different in it."""
    if draw not in _followers.setdefault(model, []):
        _followers[model].append(draw)


# What is called once a unit with messages for other programs is committed.
_afterwards: list[Callable[[], None]] = []


def afterwards(nudge: Callable[[], None]) -> None:
    """Have this called after the commit of every unit that left something to be sent."""
    if nudge not in _afterwards:
        _afterwards.append(nudge)


_unit: ContextVar[Unit | None] = ContextVar("unit", default=None)


def current() -> Unit:
    """The open unit: who acts and when. Services read the time here and never from a clock."""
    unit = _unit.get()
    if unit is None:
        raise RuntimeError("A service was called outside recording().")
    return unit


@contextmanager
def recording(*, by: Person | None, at: datetime, key: RequestKey | None = None) -> Iterator[Unit]:
    """Open a unit of work, or join the one already open.

    Parameters
    ----------
    by : Person or None
        Who acts; None is the program itself.
    at : datetime
        When, aware; every instant written inside is this one.
    key : RequestKey or None
        The idempotency key of the request; a twin waits for the first to commit and then raises `Replay`.

    Raises
    ------
    Replay
        The same request was answered before.
    KeyReused
        Another request was answered under this key.
    """
    outer = _unit.get()
    if outer is not None:
        yield outer
        return
    unit = Unit(by=by, at=at, key=key)
    opened, writing = _unit.set(unit), author.set(by)
    try:
        with transaction.atomic():
            kept = _claim(key, at) if key is not None else None
            yield unit
            _draw(unit)
            _write(unit, kept)
    finally:
        _unit.reset(opened)
        author.reset(writing)


@contextmanager
def part() -> Iterator[None]:
    """A part of the unit that may be refused alone, such as one row of many: an exception undoes it and goes on."""
    unit = current()
    roots, bumped, gone, events = dict(unit.roots), set(unit.bumped), len(unit.gone), len(unit.events)
    try:
        with transaction.atomic():
            yield
    except BaseException:
        unit.roots, unit.bumped = roots, bumped
        del unit.gone[gone:], unit.events[events:]
        raise


def bump(root: Any, expected: int | None = None) -> None:
    """Raise a root's version before changing it, and read the row again under the lock this takes.

    With `expected` (the ETag the caller saw) a row that somebody changed since raises `Stale`.
    """
    unit = current()
    place = (type(root), root.pk)
    if place in unit.bumped and expected is None:
        return
    rows = type(root)._base_manager.filter(pk=root.pk)
    if expected is not None:
        rows = rows.filter(version=expected)
    if not rows.update(version=F("version") + 1):
        if type(root)._base_manager.filter(pk=root.pk).exists():
            raise Stale()
        raise Missing()
    root.refresh_from_db()
    unit.bumped.add(place)
    # A person belongs to no one site, so has a version and no place in delta reads.
    if hasattr(root, "site_id"):
        changed(root)


def changed(root: Any) -> None:
    """Say that a root is new or different; it gets its change number when the unit closes."""
    current().roots[(type(root), root.pk)] = root


def removed(root: Any) -> None:
    """Say that a root is gone; delta reads tell it as removed."""
    unit = current()
    unit.roots.pop((type(root), root.pk), None)
    noun = root._meta.model_name
    unit.gone.append(Tombstone(site_id=root.site_id, noun=noun, uuid=root.uuid, at=unit.at))


def told(kind: str, coupling: Any, payload: dict[str, Any], *, site_id: int | None = None) -> None:
    """Write down something the outside may want to know about one coupling (None: about the site)."""
    if kind not in EVENT_KINDS:
        raise ValueError(f"{kind} is not an event kind.")
    unit = current()
    place: Any = coupling.site_id if coupling is not None else site_id
    unit.events.append(
        Event(
            site_id=place,
            kind=kind,
            lane=coupling.uuid if coupling is not None else None,
            payload=payload,
            at=unit.at,
            by=unit.by,
        )
    )


def _draw(unit: Unit) -> None:
    # What followers change themselves is followed no further: consequences have no consequences here.
    by_model: dict[type[models.Model], list[Any]] = {}
    for (model, _), root in unit.roots.items():
        by_model.setdefault(model, []).append(root)
    for model, roots in by_model.items():
        for draw in _followers.get(model, ()):
            draw(roots)


def _claim(key: RequestKey, at: datetime) -> IdempotencyKey:
    try:
        with transaction.atomic():
            return IdempotencyKey.objects.create(person=key.person, key=key.key, fingerprint=key.fingerprint, at=at)
    except IntegrityError:
        kept = IdempotencyKey.objects.get(person=key.person, key=key.key)
    if kept.fingerprint != key.fingerprint:
        raise KeyReused()
    raise Replay(kept)


def _write(unit: Unit, kept: IdempotencyKey | None) -> None:
    if kept is not None:
        if unit.answered is not None and 200 <= unit.answered["status"] < 300:
            for name, value in unit.answered.items():
                setattr(kept, name, value)
            kept.save()
        else:
            kept.delete()
    # From here to the commit nothing else is done: the row of SiteNumber is what other writers of this site wait for.
    waiting: dict[int, list[Any]] = {}
    for thing in [*unit.roots.values(), *unit.gone, *unit.events]:
        waiting.setdefault(thing.site_id, []).append(thing)
    for site_id in sorted(waiting):
        things = waiting[site_id]
        SiteNumber.objects.filter(site_id=site_id).update(last=F("last") + len(things))
        number = SiteNumber.objects.get(site_id=site_id)
        last = number.last
        _mark(number, last - len(things))
        for no, thing in enumerate(things, start=last - len(things) + 1):
            if isinstance(thing, (Event, Tombstone)):
                thing.no = no
            else:
                thing.changed_no = no
                type(thing)._base_manager.filter(pk=thing.pk).update(changed_no=no)
        Tombstone.objects.bulk_create([thing for thing in things if isinstance(thing, Tombstone)])
        events = Event.objects.bulk_create([thing for thing in things if isinstance(thing, Event)])
        if events:
            _address(site_id, events, unit.at)


def _address(site_id: int, events: list[Event], at: datetime) -> None:
    """What other programs are to be told, in the same transaction as the events themselves."""
    waiting = [
        Delivery(webhook=hook, event=event, lane=str(event.lane or "site"), no=event.no, next_at=at)
        for hook in Webhook.objects.filter(site_id=site_id, active=True)
        for event in events
        if hook.wants(event.kind)
    ]
    if waiting:
        Delivery.objects.bulk_create(waiting)
        for nudge in _afterwards:
            transaction.on_commit(nudge, robust=True)


def _mark(number: SiteNumber, before: int) -> None:
    """Now and then, write down a number that was committed before now. We hold the site's row, so it surely was.

    The clock is read here and not taken from the unit, whose instant may lie long before it got the row.
    """
    now = timezone.now()
    if number.marked_at is not None and number.marked_at <= now < number.marked_at + MARK_EVERY:
        return
    SiteMark.objects.create(site_id=number.site_id, no=before, at=now)
    SiteNumber.objects.filter(pk=number.pk).update(marked_at=now)
