"""Personal tokens: what they open, what they do not, and what happens to those who guess."""

from datetime import timedelta

import pytest
from django.test.utils import CaptureQueriesContext
from rest_framework.test import APIClient

from plant.models import Token
from plant.recording import recording
from plant.refusals import NotAllowed
from plant.services.tokens import make_token
from tests.factories import NOW, MembershipFactory, TrainFactory

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("time_machine_at")]


def token_for(person, *, scopes=("read", "register.write"), sites=(), days=30):
    with recording(by=person, at=NOW):
        return make_token(
            person=person, name="loader", scopes=scopes, sites=sites, expires_at=NOW + timedelta(days=days)
        )


def with_token(secret):
    client = APIClient()
    client.credentials(HTTP_AUTHORIZATION=f"Bearer {secret}")
    return client


def test_a_token_is_made_shown_once_and_kept_as_a_digest(as_person, keeper, site):
    body = {"name": "loader", "scopes": ["read"], "sites": [str(site.uuid)], "expires_at": "2026-11-01T00:00:00Z"}
    made = as_person(keeper).post("/api/v1/tokens/", body, format="json")
    assert made.status_code == 201, made.json()
    assert made["Cache-Control"] == "no-store"
    secret = made.json()["secret"]
    row = Token.objects.get()
    assert secret not in {row.digest, row.prefix, row.name}
    listed = as_person(keeper).get("/api/v1/tokens/").json()["results"][0]
    assert "secret" not in listed
    assert (listed["id"], listed["sites"]) == (str(row.uuid), [str(site.uuid)])
    assert with_token(secret).get("/api/v1/trains/").status_code == 200


@pytest.mark.parametrize(
    "change, pointer",
    [
        ({"expires_at": "2026-10-12T08:59:59Z"}, "/expires_at"),
        ({"expires_at": "2028-01-01T00:00:00Z"}, "/expires_at"),
        ({"scopes": []}, "/scopes"),
        ({"scopes": ["fly"]}, "/scopes/0"),
        ({"name": " "}, "/name"),
        ({"sites": ["7d6fa1d2-58a7-4c47-9a5d-1f0f4b2b7c11"]}, "/sites/0"),
    ],
)
def test_a_token_that_cannot_be_is_refused(as_person, keeper, change, pointer):
    body = {"name": "loader", "scopes": ["read"], "expires_at": "2026-11-01T00:00:00Z"} | change
    answer = as_person(keeper).post("/api/v1/tokens/", body, format="json")
    assert answer.status_code == 422, answer.json()
    assert pointer.rstrip("/0") in answer.json()["errors"][0]["pointer"]
    assert not Token.objects.exists()


def test_a_token_does_what_its_scopes_and_its_owners_role_both_allow(keeper, mechanic, site, train):
    where, change = f"/api/v1/trains/{train.uuid}/", {"headers": {"If-Match": "*"}, "format": "json"}
    reading = with_token(token_for(keeper, scopes=["read"])[1])
    assert reading.get(where).status_code == 200
    assert reading.patch(where, {"name": "x"}, **change).status_code == 403
    writing = with_token(token_for(keeper, scopes=["register.write"])[1])
    refused = writing.get(where)
    assert (refused.status_code, refused.json()["detail"]) == (403, "This token does not have the scope read.")
    assert writing.patch(where, {"name": "x"}, **change).status_code == 200
    more_than_its_owner = with_token(token_for(mechanic)[1])
    assert more_than_its_owner.patch(where, {"name": "x"}, **change).status_code == 403


def test_a_token_for_one_site_sees_that_site_alone(keeper, site, other_site, train):
    MembershipFactory(person=keeper, site=other_site, role="keeper")
    elsewhere = TrainFactory(site=other_site, area__site=other_site, tag="X-1")
    client = with_token(token_for(keeper, sites=[site])[1])
    assert [row["tag"] for row in client.get("/api/v1/trains/").json()["results"]] == ["BF-21"]
    assert client.get(f"/api/v1/trains/{elsewhere.uuid}/").status_code == 404
    assert [row["name"] for row in client.get("/api/v1/sites/").json()["results"]] == ["Greyfen Works"]


def test_a_token_that_ended_was_revoked_or_lost_its_owner_opens_nothing(keeper, time_machine):
    for spoil in ["expire", "revoke", "leave", "stop"]:
        token, secret = token_for(keeper, days=1)
        client = with_token(secret)
        assert client.get("/api/v1/sites/").status_code == 200
        if spoil == "expire":
            time_machine.move_to(NOW + timedelta(days=1), tick=False)
        elif spoil == "revoke":
            Token.objects.filter(pk=token.pk).update(revoked_at=NOW)
        elif spoil == "leave":
            keeper.until_on = NOW.date() - timedelta(days=1)
            keeper.save()
        else:
            keeper.is_active = False
            keeper.save()
        answer = client.get("/api/v1/sites/")
        assert (answer.status_code, answer["WWW-Authenticate"]) == (401, 'Bearer realm="Asleft"'), spoil
        time_machine.move_to(NOW, tick=False)
        keeper.until_on, keeper.is_active = None, True
        keeper.save()


def test_a_token_makes_no_tokens(keeper):
    client = with_token(token_for(keeper, scopes=["read", "people.write"])[1])
    body = {"name": "more", "scopes": ["read"], "expires_at": "2026-11-01T00:00:00Z"}
    assert client.post("/api/v1/tokens/", body, format="json").status_code == 403
    assert Token.objects.count() == 1


def test_nobody_makes_a_token_for_somebody_else(keeper, mechanic):
    with pytest.raises(NotAllowed), recording(by=keeper, at=NOW):
        make_token(person=mechanic, name="x", scopes=["read"], sites=[], expires_at=NOW + timedelta(days=1))


def test_a_token_is_revoked_by_its_owner_and_stays_in_the_list(as_person, keeper, mechanic):
    token, secret = token_for(keeper)
    where = f"/api/v1/tokens/{token.uuid}/"
    assert as_person(mechanic).delete(where).status_code == 404
    assert as_person(keeper).delete(where).status_code == 204
    assert with_token(secret).get("/api/v1/sites/").status_code == 401
    assert as_person(keeper).get("/api/v1/tokens/").json()["results"][0]["revoked_at"] is not None


def test_use_is_noted_at_most_once_a_minute(keeper, time_machine):
    token, secret = token_for(keeper)
    for seconds, noted in ((0, 0), (59, 0), (60, 60)):
        time_machine.move_to(NOW + timedelta(seconds=seconds), tick=False)
        with_token(secret).get("/api/v1/sites/")
        token.refresh_from_db()
        assert token.last_used_at == NOW + timedelta(seconds=noted)


def test_whoever_guesses_is_locked_out_and_the_right_token_still_opens(keeper, settings, time_machine):
    _, secret = token_for(keeper)
    for _ in range(settings.AXES_FAILURE_LIMIT - 1):
        assert with_token("asl_wrong").get("/api/v1/sites/").status_code == 401
    locked = with_token("asl_wrong").get("/api/v1/sites/")
    assert (locked.status_code, locked["Retry-After"]) == (429, "900")
    assert locked.json()["type"] == "/problems/too-many"
    assert with_token("asl_wrong").get("/api/v1/sites/").status_code == 429
    assert with_token(secret).get("/api/v1/sites/").status_code == 200
    time_machine.move_to(NOW + timedelta(minutes=16), tick=False)
    assert with_token("asl_wrong").get("/api/v1/sites/").status_code == 401


@pytest.mark.parametrize("header", ["Bearer", "Bearer ", "Bearer a b", "Bearer \xff", "bearer asl_x"])
def test_a_header_that_holds_no_token_opens_nothing(header):
    client = APIClient()
    client.credentials(HTTP_AUTHORIZATION=header)
    assert client.get("/api/v1/sites/").status_code == 401


def test_a_request_with_a_token_costs_two_queries_more(keeper, train, as_person, django_assert_num_queries):
    """The token with its person, the token's sites; the note of use is written once a minute."""
    from django.db import connection

    _, secret = token_for(keeper)
    with_token(secret).get("/api/v1/trains/")
    with CaptureQueriesContext(connection) as signed_in:
        as_person(keeper)
        fetched = len(signed_in)
        as_person(keeper).get("/api/v1/trains/")
    with django_assert_num_queries(len(signed_in) - 2 * fetched + 2):
        with_token(secret).get("/api/v1/trains/")
