"""Writing down what happened at the door: from services inside their unit, from the sign-in outside any."""

from datetime import timedelta
from typing import Any

from axes.signals import user_locked_out
from django.conf import settings
from django.contrib.auth.signals import user_logged_in, user_login_failed
from django.core.exceptions import ValidationError
from django.core.validators import validate_ipv46_address
from django.http import HttpRequest
from django.utils import timezone

from plant.models import AuditEntry, Person, Site
from plant.recording import current

Kind = AuditEntry.Kind
LONGEST_NOTE = 200


def noted(
    kind: str, *, person: Person | None = None, site: Site | None = None, note: str = "", address: str | None = None
) -> AuditEntry:
    """Write an entry in the open unit: whoever acts in it, at its instant."""
    unit = current()
    return AuditEntry.objects.create(
        kind=kind, at=unit.at, by=unit.by, person=person, site=site, note=note[:LONGEST_NOTE], address=address
    )


def listen() -> None:
    """Have sign-ins written down; Django and the lock-out tell of them by signals and in no other way."""
    user_logged_in.connect(_signed_in, dispatch_uid="plant.audit.signed_in")
    user_login_failed.connect(_refused, dispatch_uid="plant.audit.refused")
    user_locked_out.connect(_locked_out, dispatch_uid="plant.audit.locked_out")


def _signed_in(sender: Any, request: HttpRequest | None, user: Person, **_more: Any) -> None:
    _write(Kind.SIGNED_IN, user, _address(request))


def _refused(sender: Any, credentials: dict[str, Any], request: HttpRequest | None = None, **_more: Any) -> None:
    _write(Kind.REFUSED, _known(credentials.get("username")), _address(request))


def _locked_out(sender: Any, request: HttpRequest, username: str | None, ip_address: str | None, **_more: Any) -> None:
    person, address = _known(username), _address(request)
    now = timezone.now()
    # Every further try tells of it again; one entry per lock-out is enough.
    since = AuditEntry.objects.filter(kind=Kind.LOCKED_OUT, person=person, address=address)
    if not since.filter(at__gt=now - _cool_off(), at__lte=now).exists():
        _write(Kind.LOCKED_OUT, person, address, note="wrong tokens" if username == "an API token" else "")


def _write(kind: str, person: Person | None, address: str | None, note: str = "") -> None:
    AuditEntry.objects.create(kind=kind, at=timezone.now(), person=person, by=None, address=address, note=note)


def _known(username: Any) -> Person | None:
    # A name that nobody has is not kept: it may be a password typed into the wrong field.
    return Person.objects.filter(username=username).first() if isinstance(username, str) and username else None


def _address(request: HttpRequest | None) -> str | None:
    given = getattr(request, "META", {}).get("REMOTE_ADDR") if request is not None else None
    try:
        validate_ipv46_address(given or "")
    except ValidationError:
        return None
    return given


def _cool_off() -> timedelta:
    cool_off: timedelta = settings.AXES_COOLOFF_TIME
    return cool_off
