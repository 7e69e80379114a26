"""`Authorization: Bearer <token>`: personal tokens, looked up by their digest."""

from datetime import timedelta
from typing import Any

from axes.handlers.proxy import AxesProxyHandler
from django.conf import settings
from django.db.models import Q
from django.utils import timezone
from rest_framework.authentication import BaseAuthentication, get_authorization_header
from rest_framework.exceptions import AuthenticationFailed, Throttled
from rest_framework.request import Request

from plant.models import Person, Token

REALM = 'Bearer realm="Asleft"'
_USED_EVERY = timedelta(minutes=1)
# The name under which wrong tokens are counted beside wrong passwords, in the same table and with the same limit.
_COUNTED_AS = {"username": "an API token"}


class TokenAuthentication(BaseAuthentication):
    """The person behind a token; what the token may do narrows what the person may do (plant/access.py)."""

    def authenticate(self, request: Request) -> tuple[Person, Token] | None:
        words = get_authorization_header(request).split()
        if not words or words[0].lower() != b"bearer":
            return None
        try:
            secret = words[1].decode("ascii") if len(words) == 2 else ""
        except UnicodeDecodeError:
            secret = ""
        token = _in_force(secret) if secret else None
        if token is None:
            _count(request)
            raise AuthenticationFailed("This token is not known, has ended or was revoked.")
        person = token.person
        person.token = token
        _used(token)
        return person, token

    def authenticate_header(self, request: Request) -> str:
        return REALM


def _in_force(secret: str) -> Token | None:
    now = timezone.now()
    token = Token.objects.select_related("person").filter(digest=Token.digest_of(secret)).first()
    if token is None or token.revoked_at is not None or token.expires_at <= now or not token.person.is_active:
        return None
    until = token.person.until_on
    return None if until is not None and until < now.date() else token


def _used(token: Token) -> None:
    """Note the use, at most once a minute, so that reading does not write all the time."""
    now = timezone.now()
    if token.last_used_at is None or token.last_used_at <= now - _USED_EVERY:
        stale = Q(last_used_at__isnull=True) | Q(last_used_at__lte=now - _USED_EVERY)
        Token.objects.filter(stale, pk=token.pk).update(last_used_at=now)


def _count(request: Request) -> None:
    """Count a wrong token against its address; beyond the limit the answer is 429 until the cool-off is over.

    Asked only after a token was wrong: a right one costs nothing here, and a program with a stale token cannot lock
    out the others behind the same address.
    """
    plain: Any = request._request
    if not AxesProxyHandler.is_locked(plain, _COUNTED_AS):
        AxesProxyHandler.user_login_failed(TokenAuthentication, dict(_COUNTED_AS), plain)
        locked = AxesProxyHandler.is_locked(plain, _COUNTED_AS)
        # Axes would put its sign-in page in place of our answer.
        plain.axes_locked_out = False
        if not locked:
            return
    wait = settings.AXES_COOLOFF_TIME.total_seconds()
    raise Throttled(wait=wait, detail="Too many wrong tokens from this address.")
