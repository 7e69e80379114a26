"""The daily clearing of what is kept for a time only."""

from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta

from django.contrib.sessions.models import Session
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from plant.jobs.registry import Job, Occasion, register
from plant.models import Delivery, IdempotencyKey, JobRun
from plant.selectors.webhooks import ASIDE_KEPT, SENT_KEPT

KEEP_ANSWERS = timedelta(days=30)
KEEP_RUNS = timedelta(days=90)
DELIVERIES_AT_ONCE = 1000


def purge_due(now: datetime) -> list[Occasion]:
    """Once a day for the whole installation."""
    today = now.astimezone(UTC).date()
    return [Occasion("all", today, datetime(today.year, today.month, today.day, tzinfo=UTC))]


def purge(scope: str, for_date: date, now: datetime, progress: str) -> Iterator[str]:
    """Forget answers under idempotency keys after 30 days, sessions that ended, runs that are done after 90, and what
    webhooks were sent after 90, or a year where it was set aside. The events themselves stay.
    """
    IdempotencyKey.objects.filter(at__lt=now - KEEP_ANSWERS).delete()
    yield "keys"
    Session.objects.filter(expire_date__lt=now).delete()
    yield "sessions"
    sent, aside = Delivery.State.SENT, Delivery.State.ASIDE
    old = Q(state=sent, settled_at__lt=now - SENT_KEPT) | Q(state=aside, settled_at__lt=now - ASIDE_KEPT)
    while some := list(Delivery.objects.filter(old).order_by("pk").values_list("pk", flat=True)[:DELIVERIES_AT_ONCE]):
        # Asked again: one that somebody has just sent once more is waiting, and stays.
        Delivery.objects.filter(old, pk__in=some).delete()
        yield "deliveries"
    done = JobRun.objects.filter(state=JobRun.State.DONE, finished_at__lt=now - KEEP_RUNS)
    done.exclude(for_date__gte=(now - KEEP_RUNS).date()).delete()


PURGE = register(
    Job(
        "purge", purge_due, purge, title=_("Forgetting what is kept for a time only"),
        when=_("every midnight, UTC"), every=timedelta(days=1),
    )
)  # fmt: skip
