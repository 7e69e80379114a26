"""Keeping webhooks: where a site's events go, with which secret, and sending again what was set aside."""

import base64
import secrets
import uuid as uuids
from collections.abc import Iterable
from datetime import timedelta
from typing import Any

from plant import access
from plant.messages.guard import Barred, checked_url
from plant.models import AllowedHost, Delivery, Site, Webhook
from plant.recording import EVENT_KINDS, bump, changed, current, removed
from plant.refusals import Refused
from plant.services.rows import errors_of, refuse_known_uuid

ACTION = "client.write"
BOTH_SIGN = timedelta(hours=24)
TEST_LANE = "test"


def register_webhook(
    *, site: Site, name: str, url: str, kinds: Iterable[str] = (), uuid: uuids.UUID | None = None
) -> tuple[Webhook, str]:
    """A new address and its secret, which is shown this once."""
    access.require(current().by, ACTION, site)
    refuse_known_uuid(Webhook, uuid)
    secret = _new_secret()
    hook = Webhook(site=site, secret=secret, **({"uuid": uuid} if uuid else {}))
    _set(hook, {"name": name, "url": url, "kinds": list(kinds)})
    hook.save()
    changed(hook)
    return hook, secret


def change_webhook(*, webhook: Webhook, expected: int | None = None, **fields: Any) -> Webhook:
    """Name, address, kinds, or whether it is told at all. Switched on again, it goes on with what still waits."""
    access.require(current().by, ACTION, webhook.site_id)
    bump(webhook, expected)
    if fields.get("active"):
        webhook.failures, webhook.rests_until, webhook.stopped_why = 0, None, ""
    elif fields.get("active") is False and webhook.active:
        webhook.stopped_why = "Switched off by a person."
    _set(webhook, fields)
    webhook.save()
    return webhook


def remove_webhook(*, webhook: Webhook) -> None:
    """The address and the log of what was sent there; the events themselves stay."""
    access.require(current().by, ACTION, webhook.site_id)
    removed(webhook)
    webhook.delete()


def rotate_secret(*, webhook: Webhook, expected: int | None = None) -> str:
    """A new secret, shown this once. For a day both sign, so that the receiver can change over without a gap."""
    unit = current()
    access.require(unit.by, ACTION, webhook.site_id)
    bump(webhook, expected)
    webhook.old_secret, webhook.old_secret_until = webhook.secret, unit.at + BOTH_SIGN
    webhook.secret = _new_secret()
    webhook.save()
    return webhook.secret


def send_test(*, webhook: Webhook) -> Delivery:
    """A message of the kind webhook.test, in a lane of its own."""
    unit = current()
    access.require(unit.by, ACTION, webhook.site_id)
    if not webhook.active:
        raise Refused({"": "This webhook is switched off: switch it on first."})
    return Delivery.objects.create(webhook=webhook, lane=TEST_LANE, no=0, next_at=unit.at)


def replay(*, delivery: Delivery) -> Delivery:
    """Send once more what was sent or set aside. It keeps its number, so in its lane it goes before what waits."""
    unit = current()
    access.require(unit.by, ACTION, delivery.webhook.site_id)
    back = Delivery.objects.filter(pk=delivery.pk).exclude(state=Delivery.State.WAITING)
    if not back.update(
        state=Delivery.State.WAITING, settled_at=None, refused_since=None, attempts=0, next_at=unit.at,
        replayed=delivery.replayed + 1,
    ):  # fmt: skip
        raise Refused({"": "This one is still waiting to be sent."})
    delivery.refresh_from_db()
    return delivery


def replay_from(*, webhook: Webhook, no: int) -> int:
    """Send once more every event of this webhook from a number on, in the original order. How many that is."""
    unit = current()
    access.require(unit.by, ACTION, webhook.site_id)
    back = webhook.deliveries.filter(no__gte=no, event__isnull=False).exclude(state=Delivery.State.WAITING)
    return back.update(state=Delivery.State.WAITING, settled_at=None, refused_since=None, attempts=0, next_at=unit.at)


def allow_host(*, site: Site, host: str, reason: str) -> AllowedHost:
    """Let webhooks of this site reach one host inside the network, by its name, for a reason that is kept."""
    access.require(current().by, ACTION, site)
    row = AllowedHost(site=site, host=host.strip().lower(), reason=reason.strip())
    errors = errors_of(row)
    if not errors and ("/" in row.host or (":" in row.host.strip("[]") and not row.host.startswith("["))):
        errors["host"] = "Write the host's name alone, without https:// and without a port."
    if AllowedHost.objects.filter(site=site, host=row.host).exists():
        errors["host"] = "This host is allowed already."
    if errors:
        raise Refused(errors)
    row.save()
    return row


def forbid_host(*, allowed: AllowedHost) -> None:
    """The host is inside the network again like any other."""
    access.require(current().by, ACTION, allowed.site_id)
    allowed.delete()


def _set(hook: Webhook, fields: dict[str, Any]) -> None:
    for name in ("name", "url", "kinds", "active"):
        if name in fields:
            value = fields[name]
            setattr(hook, name, value.strip() if isinstance(value, str) else value)
    errors = errors_of(hook)
    if strange := sorted(set(map(str, hook.kinds)) - EVENT_KINDS):
        errors["kinds"] = f"There is no event {', '.join(strange)}; there are: {', '.join(sorted(EVENT_KINDS))}."
    try:
        checked_url(hook.url)
    except Barred as barred:
        errors["url"] = str(barred)
    twin = Webhook.objects.filter(site_id=hook.site_id, name=hook.name).exclude(pk=hook.pk)
    if hook.name and twin.exists():
        errors["name"] = "A webhook of this site has this name."
    if errors:
        raise Refused(errors)


def _new_secret() -> str:
    return "whsec_" + base64.b64encode(secrets.token_bytes(32)).decode()
