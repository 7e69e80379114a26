"""Webhooks a person keeps, and the log of what was sent."""

from datetime import timedelta
from typing import Any

from django.db.models import Count, Max, Min, Q, QuerySet

from plant.access import sites_where
from plant.models import AllowedHost, Delivery, Person, Webhook

ACTION = "client.write"
# How long the log holds what was sent. What an address refused for a day somebody may still have sent again.
SENT_KEPT = timedelta(days=90)
ASIDE_KEPT = timedelta(days=365)


def webhooks_kept_by(person: Person) -> Any:
    """Webhooks of the sites where the person keeps them; an address may itself be a secret, so others see none."""
    return Webhook.objects.filter(site_id__in=sites_where(person, ACTION)).select_related("site")


def with_counts(hooks: Any) -> Any:
    """How many deliveries wait, since when, and how many were set aside."""
    waiting, aside = Q(deliveries__state="waiting"), Q(deliveries__state="aside")
    return hooks.annotate(
        waiting=Count("deliveries", filter=waiting),
        waiting_since=Min("deliveries__event__at", filter=waiting),
        set_aside=Count("deliveries", filter=aside),
        last_sent_at=Max("deliveries__settled_at", filter=Q(deliveries__state="sent")),
    )


def deliveries_of(webhook: Webhook, state: str = "") -> QuerySet[Delivery]:
    """The log, the latest first, with every try."""
    rows = webhook.deliveries.select_related("event").prefetch_related("tries")
    return (rows.filter(state=state) if state else rows).order_by("-id")


def hosts_allowed(person: Person) -> QuerySet[AllowedHost]:
    """Hosts inside the network that webhooks may reach, at the sites the person keeps them for."""
    return AllowedHost.objects.filter(site_id__in=sites_where(person, ACTION)).select_related("site")
