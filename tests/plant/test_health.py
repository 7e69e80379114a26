import pytest
from django.db.migrations.executor import MigrationExecutor

from plant.pages import health


def test_livez_answers_without_a_database(client):
    answer = client.get("/livez")
    assert answer.status_code == 200
    assert answer.json() == {"state": "alive"}


@pytest.mark.django_db
def test_readyz_says_what_is_ready(client, settings):
    settings.CELERY_BROKER_URL = None
    answer = client.get("/readyz")
    assert answer.status_code == 200
    assert answer.json() == {"state": "ready", "database": "ready"}


@pytest.mark.django_db
def test_readyz_says_so_while_the_database_waits_for_migrate(client, settings, monkeypatch):
    settings.CELERY_BROKER_URL = None
    monkeypatch.setattr(health, "_migrated", False)
    monkeypatch.setattr(MigrationExecutor, "migration_plan", lambda self, targets: [("plant", "0002_next")])
    answer = client.get("/readyz")
    assert answer.status_code == 503
    assert answer.json() == {"state": "not ready", "database": "waits for migrate"}


@pytest.mark.parametrize("address", ["/livez", "/readyz"])
@pytest.mark.django_db
def test_health_is_answered_without_https_where_pages_are_sent_there(client, settings, address):
    settings.SECURE_SSL_REDIRECT = True
    settings.CELERY_BROKER_URL = None
    assert client.get(address).status_code == 200
    assert client.get("/sign-in/").status_code == 301


@pytest.mark.django_db
def test_readyz_says_so_when_the_queue_does_not_answer(client, settings):
    # Nothing listens on the discard port of this machine.
    settings.CELERY_BROKER_URL = "redis://127.0.0.1:9/0"
    answer = client.get("/readyz")
    assert answer.status_code == 503
    assert answer.json()["queue"] == "does not answer"


@pytest.mark.django_db
def test_every_page_carries_the_strict_policy(client):
    policy = client.get("/sign-in/").headers["Content-Security-Policy"]
    parts = ("default-src 'none'", "script-src 'self'", "style-src 'self'", "form-action 'self'", "base-uri 'none'")
    for part in parts:
        assert part in policy.split("; ")
    assert "unsafe" not in policy
