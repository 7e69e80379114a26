"""System checks: settings that are each allowed and make no sense together. `manage.py check` prints them."""

import stat
from typing import Any

from django.conf import settings
from django.core.checks import CheckMessage, Error, Tags, Warning, register


@register(Tags.security)
def data_is_private(app_configs: Any, **kwargs: Any) -> list[CheckMessage]:
    """The data folder and the secret key are readable by their owner alone."""
    found: list[CheckMessage] = []
    for path in (settings.DATA, settings.DATA / "secret_key"):
        if path.exists() and stat.S_IMODE(path.stat().st_mode) & 0o077:
            found.append(
                Error(
                    f"Other users of this machine can read {path}.",
                    hint=f"Take their rights away: chmod go= {path}",
                    id="plant.E001",
                )
            )
    return found


@register(Tags.database)
def broker_has_a_server_database(app_configs: Any, **kwargs: Any) -> list[CheckMessage]:
    """Workers on a queue need a database that serves several machines."""
    if settings.CELERY_BROKER_URL and settings.DATABASES["default"]["ENGINE"].endswith("sqlite3"):
        return [
            Error(
                "CELERY_BROKER_URL is set while the database is an SQLite file.",
                hint="Set DATABASE_URL to a PostgreSQL database, or leave CELERY_BROKER_URL out.",
                id="plant.E002",
            )
        ]
    return []


@register(Tags.security)
def debug_stays_at_home(app_configs: Any, **kwargs: Any) -> list[CheckMessage]:
    """ASLEFT_DEBUG shows settings and source in error pages."""
    if settings.DEBUG and (settings.HOSTS or settings.HTTPS):
        return [
            Error(
                "ASLEFT_DEBUG is on while the site has a name outside this machine.",
                hint="Set ASLEFT_DEBUG=0, or leave ASLEFT_HOSTS and ASLEFT_HTTPS out.",
                id="plant.E003",
            )
        ]
    return []


@register(Tags.security)
def origins_fit_https(app_configs: Any, **kwargs: Any) -> list[CheckMessage]:
    """An http origin never reaches a site whose cookies travel over HTTPS only."""
    plain = [origin for origin in settings.CSRF_TRUSTED_ORIGINS if origin.startswith("http://")]
    if settings.HTTPS and plain:
        return [
            Error(
                f"ASLEFT_ORIGINS has {', '.join(plain)} while ASLEFT_HTTPS is on.",
                hint="Write these origins with https://.",
                id="plant.E004",
            )
        ]
    return []


@register(Tags.security, deploy=True)
def named_site_uses_https(app_configs: Any, **kwargs: Any) -> list[CheckMessage]:
    """A site with a name outside this machine sends passwords over the network."""
    if settings.HOSTS and not settings.HTTPS:
        return [
            Warning(
                "ASLEFT_HOSTS names the site for others while ASLEFT_HTTPS is off.",
                hint="Put a proxy that speaks HTTPS in front and set ASLEFT_HTTPS=1.",
                id="plant.W001",
            )
        ]
    return []
