"""Bringing events to their addresses: claim the lowest waiting delivery of a lane, commit, send, settle by the lease.

What is sent is sent at least once and, per coupling, in order. A failing address rests with all its lanes, longer each
time, a day at most. An event that an address refuses by itself waits without holding up other lanes; after a day it is
set aside, its lane goes on, and a person may replay it.
"""

import uuid
from collections.abc import Callable
from datetime import datetime, timedelta
from time import monotonic
from typing import Any

import structlog
from django.db.models import Exists, F, OuterRef, Q

from plant.messages.send import Answer, post
from plant.models import Attempt, Delivery, Webhook
from plant.recording import bump, recording

LEASE = timedelta(seconds=60)
SKEW = timedelta(seconds=60)
# After the first, second ... failure in a row.
RESTS = [timedelta(seconds=s) for s in (5, 30, 120, 600, 3600, 6 * 3600, 24 * 3600)]
LONGEST_REST = RESTS[-1]
SET_ASIDE_AFTER = timedelta(days=1)
TRIES_KEPT = 20

log = structlog.get_logger(__name__)


def deliver(now: datetime, budget_seconds: float = 30, stopping: Callable[[], bool] = lambda: False) -> int:
    """Send what may be sent now, one after the other, until nothing is left or the time is used up.

    Returns
    -------
    int
        How many were sent or tried.
    """
    begun, tried = monotonic(), 0
    while not stopping() and (passed := monotonic() - begun) < budget_seconds:
        held = claim(now + timedelta(seconds=passed))
        if held is None:
            break
        tried += 1
        answer = _send(held, now + timedelta(seconds=monotonic() - begun))
        settle(held, answer, now + timedelta(seconds=monotonic() - begun))
    return tried


def ready(now: datetime) -> Any:
    """Deliveries that may be claimed: the first of their lane, due, held by nobody, to an address that does not rest.

    Rests and leases further ahead than the longest count as over: the clock was set back.
    """
    free = Q(leased_until__isnull=True) | Q(leased_until__lte=now) | Q(leased_until__gt=now + LEASE + SKEW)
    due = Q(next_at__lte=now) | Q(next_at__gt=now + LONGEST_REST + SKEW)
    rested = (
        Q(webhook__rests_until__isnull=True)
        | Q(webhook__rests_until__lte=now)
        | Q(webhook__rests_until__gt=now + LONGEST_REST + SKEW)
    )
    before = Delivery.objects.filter(
        Q(no__lt=OuterRef("no")) | Q(no=OuterRef("no"), id__lt=OuterRef("id")),
        webhook=OuterRef("webhook"),
        lane=OuterRef("lane"),
        state=Delivery.State.WAITING,
    )
    return Delivery.objects.filter(free & due & rested, ~Exists(before), state="waiting", webhook__active=True)


def claim(now: datetime) -> Delivery | None:
    """Take the delivery that has waited longest under a new lease; None where there is none."""
    while (pk := ready(now).order_by("next_at", "id").values_list("pk", flat=True).first()) is not None:
        lease = uuid.uuid4()
        # `ready` is asked again in the same statement: of many workers one gets it.
        mine = Delivery.objects.filter(pk=pk, pk__in=ready(now).values("pk"))
        if mine.update(lease=lease, leased_until=now + LEASE, attempts=F("attempts") + 1):
            return Delivery.objects.select_related("webhook__site", "event").get(pk=pk)
    return None


def _send(held: Delivery, now: datetime) -> Answer:
    hook = held.webhook
    secrets = [hook.secret]
    if hook.old_secret and hook.old_secret_until is not None and hook.old_secret_until > now:
        secrets.append(hook.old_secret)
    allowed = list(hook.site.allowed_hosts.values_list("host", flat=True))
    return post(hook.url, message_id(held), now, content_of(held), secrets=secrets, allowed=allowed)


def message_id(held: Delivery) -> str:
    """The same for every try and replay of one event, so that a receiver can tell a repetition."""
    if held.event is None:
        return f"test_{held.pk}"
    return f"{held.webhook.site.uuid.hex}_{held.event.no}"


def content_of(held: Delivery) -> dict[str, Any]:
    """Type, time and data, as the Standard Webhooks specification proposes."""
    site = str(held.webhook.site.uuid)
    if held.event is None:
        return {"type": "webhook.test", "timestamp": held.next_at.isoformat(), "data": {"site": site}}
    event = held.event
    data = {"site": site, "no": event.no, "coupling": str(event.lane) if event.lane else None, **event.payload}
    return {"type": event.kind, "timestamp": event.at.isoformat(), "data": data}


def settle(held: Delivery, answer: Answer, now: datetime) -> bool:
    """Write down what came of it, on the condition that the lease still stands; False where somebody else has it."""
    mine = Delivery.objects.filter(pk=held.pk, lease=held.lease, state=Delivery.State.WAITING)
    free: dict[str, Any] = {"lease": None, "leased_until": None}
    if answer.taken:
        done = mine.update(state=Delivery.State.SENT, settled_at=now, refused_since=None, **free)
    elif answer.refused:
        since = held.refused_since or now
        if now - since >= SET_ASIDE_AFTER:
            done = mine.update(state=Delivery.State.ASIDE, settled_at=now, refused_since=since, **free)
            log.warning("event set aside", webhook=str(held.webhook.uuid), no=held.no, status=answer.status)
        else:
            again = min(now + _rest(held.attempts), since + SET_ASIDE_AFTER)
            done = mine.update(next_at=again, refused_since=since, **free)
    else:
        done = mine.update(next_at=now, **free)
    if not done:
        return False
    Attempt.objects.create(
        delivery=held, at=now, status=answer.status, said=answer.said, milliseconds=answer.milliseconds
    )
    old = Attempt.objects.filter(delivery=held).order_by("-id").values_list("pk", flat=True)[TRIES_KEPT:]
    Attempt.objects.filter(pk__in=list(old)).delete()
    _address(held.webhook, answer, now)
    return True


def _address(hook: Webhook, answer: Answer, now: datetime) -> None:
    """A working address is trusted again at once; a failing one rests. Its state is no change of the register."""
    row = Webhook._base_manager.filter(pk=hook.pk)
    if answer.taken or answer.refused:
        if hook.failures or hook.rests_until is not None:
            row.update(failures=0, rests_until=None)
    elif answer.status == 410:
        with recording(by=None, at=now):
            bump(hook)
            hook.active, hook.stopped_why = False, "The address answered that it is gone for good (410)."
            hook.save()
        log.warning("webhook stopped", webhook=str(hook.uuid))
    else:
        row.update(failures=F("failures") + 1, rests_until=now + _rest(hook.failures + 1))


def _rest(failures: int) -> timedelta:
    return RESTS[min(max(failures, 1), len(RESTS)) - 1]
