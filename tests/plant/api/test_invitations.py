"""Invitations over the API: made by the keeper, the link in one answer only, listed, withdrawn."""

import pytest

from plant.models import Invitation
from tests.factories import NOW

pytestmark = pytest.mark.django_db
WHERE = "/api/v1/invitations/"


@pytest.fixture(autouse=True)
def _now(time_machine):
    time_machine.move_to(NOW, tick=False)


def made(client, site, **more):
    return client.post(WHERE, {"site": str(site.uuid), "role": "planner"} | more, format="json")


def test_the_link_is_in_the_answer_once_and_opens_the_page(as_person, keeper, site, client):
    answer = made(as_person(keeper), site, email="ivo@plant.example")
    assert answer.status_code == 201, answer.content
    assert answer["Cache-Control"] == "no-store"
    link = answer.json()["link"]
    assert client.get(link.removeprefix("http://testserver")).status_code == 200
    (row,) = as_person(keeper).get(WHERE).json()["results"]
    assert "link" not in row
    assert (row["site"], row["role"], row["email"]) == (str(site.uuid), "planner", "ivo@plant.example")
    assert (row["made_by"], row["expires_at"]) == (str(keeper.uuid), "2026-10-19T09:00:00Z")


def test_a_withdrawn_one_stays_in_the_list_and_opens_nothing(as_person, keeper, site, client):
    body = made(as_person(keeper), site).json()
    assert as_person(keeper).delete(f"{WHERE}{body['id']}/").status_code == 204
    assert Invitation.objects.get().withdrawn_at == NOW
    assert client.get(body["link"].removeprefix("http://testserver")).status_code == 410
    assert len(as_person(keeper).get(WHERE).json()["results"]) == 1


@pytest.mark.parametrize(
    ("body", "pointer", "said"),
    [
        ({"role": "owner"}, "/role", '"owner" is not a valid choice.'),
        ({"role": "client"}, "/role", "A program is registered by the keeper, not invited."),
        ({"email": "ivo at plant"}, "/email", "Enter a valid email address."),
        ({"until_on": "2026-10-11"}, "/until_on", "This day is over: it is 2026-10-12 at Greyfen Works."),
        ({"role": "contractor", "until_on": "2026-12-01"}, "/employer", "Say who employs this contractor"),
        ({"password": "x"}, "/password", "This field is not known here."),
    ],
)
def test_what_cannot_be_meant_is_refused_with_its_field(as_person, keeper, site, body, pointer, said):
    answer = made(as_person(keeper), site, **body)
    assert answer.status_code == 422
    (error,) = answer.json()["errors"]
    assert error["pointer"] == pointer
    assert error["detail"].startswith(said)
    assert not Invitation.objects.exists()


def test_another_sites_keeper_sees_and_makes_nothing_here(as_person, keeper, stranger, site):
    body = made(as_person(keeper), site).json()
    assert as_person(stranger).get(WHERE).json()["results"] == []
    assert as_person(stranger).delete(f"{WHERE}{body['id']}/").status_code == 404
    answer = made(as_person(stranger), site)
    assert (answer.status_code, answer.json()["errors"][0]["pointer"]) == (422, "/site")


def test_the_list_asks_as_often_for_many_as_for_few(as_person, keeper, site, django_assert_num_queries):
    for number in range(5):
        made(as_person(keeper), site, email=f"hand{number}@plant.example")
    client = as_person(keeper)
    # Roles of the reader, and the rows with their sites and people.
    with django_assert_num_queries(2):
        client.get(WHERE)
