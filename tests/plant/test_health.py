import pytest


def test_livez_answers_without_a_database(client):
    answer = client.get("/livez")
    assert answer.status_code == 200
    assert answer.json() == {"state": "alive"}


@pytest.mark.django_db
def test_readyz_says_what_is_ready(client, settings):
    settings.CELERY_BROKER_URL = None
    answer = client.get("/readyz")
    assert answer.status_code in (200, 503)
    assert answer.json()["database"] in ("ready", "waits for migrate")
