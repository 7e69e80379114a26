"""Idempotency-Key: the same request is done once and answered alike."""

import threading

import pytest
from django.db import connection, connections
from rest_framework.test import APIClient

from plant.models import Area, IdempotencyKey, Person

KEY = "1f0c9d4e-key"


def send(client, body, key=KEY, url="/api/v1/areas/"):
    return client.post(url, body, format="json", headers={"Idempotency-Key": key})


@pytest.mark.django_db
def test_a_repeated_post_gets_the_same_answer_and_makes_one_thing(as_person, keeper, site):
    client, body = as_person(keeper), {"site": str(site.uuid), "name": "Pump house"}
    first = send(client, body)
    again = send(client, dict(reversed(body.items())))
    assert (first.status_code, again.status_code) == (201, 201)
    assert first.json() == again.json()
    assert (first["ETag"], first["Location"]) == (again["ETag"], again["Location"])
    assert "Idempotency-Replayed" not in first
    assert again["Idempotency-Replayed"] == "true"
    assert Area.objects.count() == 1


@pytest.mark.django_db
def test_another_body_or_address_under_the_key_is_refused(as_person, keeper, site):
    client, body = as_person(keeper), {"site": str(site.uuid), "name": "Pump house"}
    assert send(client, body).status_code == 201
    for answer in [send(client, body | {"name": "Other"}), send(client, body, url="/api/v1/areas/?units=us")]:
        assert answer.status_code == 422
        assert answer.json()["type"] == "/problems/idempotency-key-reused"
    assert Area.objects.count() == 1


@pytest.mark.django_db
def test_what_was_refused_may_be_mended_under_the_same_key(as_person, keeper, site):
    client = as_person(keeper)
    assert send(client, {"site": str(site.uuid), "name": ""}).status_code == 422
    assert send(client, {"site": str(site.uuid), "name": "Pump house"}).status_code == 201


@pytest.mark.django_db
def test_a_key_that_is_none_is_refused(as_person, keeper, site):
    for key in ["", " ", "k" * 256, "schlüssel", "two words"]:
        answer = send(as_person(keeper), {"site": str(site.uuid), "name": "Pump house"}, key=key)
        assert (answer.status_code, answer.json()["type"]) == (400, "/problems/idempotency-key-invalid"), key
    assert not Area.objects.exists()


@pytest.mark.django_db
def test_an_answer_with_a_secret_is_never_kept(as_person, keeper, time_machine_at):
    body = {"name": "loader", "scopes": ["read"], "expires_at": "2026-11-01T00:00:00Z"}
    first = send(as_person(keeper), body, url="/api/v1/tokens/")
    again = send(as_person(keeper), body, url="/api/v1/tokens/")
    assert first.json()["secret"] != again.json()["secret"]
    assert not IdempotencyKey.objects.exists()


def _two_at_once(site, keeper):
    body, answers, barrier = {"site": str(site.uuid), "name": "Pump house"}, [], threading.Barrier(2)

    def post():
        try:
            client = APIClient()
            client.force_authenticate(Person.objects.get(pk=keeper.pk))
            barrier.wait()
            answers.append(send(client, body))
        finally:
            connections.close_all()

    threads = [threading.Thread(target=post) for _ in range(2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    print(f"\n{connection.vendor}: 2 posts, {Area.objects.count()} made")  # noqa: T201
    assert [answer.status_code for answer in answers] == [201, 201]
    assert answers[0].json() == answers[1].json()
    assert sorted(answer.get("Idempotency-Replayed", "") for answer in answers) == ["", "true"]
    assert Area.objects.count() == 1


@pytest.mark.django_db(transaction=True)
def test_two_posts_with_one_key_at_once_make_one_thing(site, keeper):
    _two_at_once(site, keeper)


@pytest.mark.engine
@pytest.mark.django_db(transaction=True)
def test_two_posts_with_one_key_at_once_make_one_thing_on_postgresql(site, keeper):
    assert connection.vendor == "postgresql"
    _two_at_once(site, keeper)
