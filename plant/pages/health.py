"""Two addresses for those who watch the site: is the process alive, and can it serve."""

from django.conf import settings
from django.db import DatabaseError, connection
from django.db.migrations.executor import MigrationExecutor
from django.http import HttpRequest, JsonResponse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe
from redis import Redis, RedisError

# Once every migration is applied, this process need not ask again.
_migrated = False


@require_safe
@never_cache
def livez(request: HttpRequest) -> JsonResponse:
    """The process answers; nothing else is asked, so that a slow database does not get it killed."""
    return JsonResponse({"state": "alive"})


@require_safe
@never_cache
def readyz(request: HttpRequest) -> JsonResponse:
    """The database answers and is up to date, and the queue answers where there is one; else 503."""
    parts = {"database": _database()}
    if settings.CELERY_BROKER_URL:
        parts["queue"] = _queue(settings.CELERY_BROKER_URL)
    ready = all(word == "ready" for word in parts.values())
    return JsonResponse({"state": "ready" if ready else "not ready", **parts}, status=200 if ready else 503)


def _database() -> str:
    global _migrated
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1")
        if not _migrated:
            executor = MigrationExecutor(connection)
            if executor.migration_plan(executor.loader.graph.leaf_nodes()):
                return "waits for migrate"
            _migrated = True
    except DatabaseError:
        return "does not answer"
    return "ready"


def _queue(url: str) -> str:
    try:
        with Redis.from_url(url, socket_connect_timeout=2, socket_timeout=2) as client:
            client.ping()
    except RedisError:
        return "does not answer"
    return "ready"
