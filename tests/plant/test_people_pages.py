"""The pages of people: found, given roles, seen off; one's own account."""

from datetime import timedelta

import pytest
from django.test import Client
from zeal import zeal_ignore

from plant.models import AuditEntry, Invitation, Membership, Person
from tests.factories import NOW, TODAY, MembershipFactory, PersonFactory

pytestmark = pytest.mark.django_db
GOOD = "the brass hammer hangs left"


@pytest.fixture(autouse=True)
def _now(time_machine):
    time_machine.move_to(NOW, tick=False)


@pytest.fixture
def kept(keeper, client):
    client.force_login(keeper)
    return client


def page_of(answer, status=200):
    assert answer.status_code == status, answer.content.decode()[:2000]
    return answer.content.decode()


@pytest.fixture
def crew(site):
    people = {}
    for name, employer, until in (("Ada", "", None), ("Bo", "Crew Ltd", TODAY + timedelta(days=9)), ("Cy", "", None)):
        people[name] = PersonFactory(username=name.lower(), first_name=name, employer=employer)
        role = "contractor" if employer else "mechanic"
        MembershipFactory(person=people[name], site=site, role=role, until_on=until)
    return people


def names_in(page):
    return [name for name in ("Ada", "Bo", "Cy", "Kim") if f">{name}</a>" in page]


def test_the_list_is_narrowed_by_name_role_employer_and_end(kept, crew):
    page = page_of(kept.get("/people/"))
    assert names_in(page) == ["Ada", "Bo", "Cy", "Kim"]
    assert "4 people at Greyfen Works" in page
    assert "One ends by 11 November 2026." in page
    for query, found in (
        ("q=ad", ["Ada"]),
        ("role=contractor", ["Bo"]),
        ("role=owner", ["Ada", "Bo", "Cy", "Kim"]),
        ("employer=Crew+Ltd", ["Bo"]),
        ("ending=1", ["Bo"]),
        ("q=nobody", []),
    ):
        assert names_in(page_of(kept.get(f"/people/?{query}"))) == found, query
    assert "Nobody here fits this choice." in page_of(kept.get("/people/?q=nobody"))


def test_the_list_asks_the_database_as_often_for_many_as_for_few(kept, crew, site, django_assert_num_queries):
    kept.get("/people/")
    # Session, person, roles; whether a site is kept, which, the reader's own; how many, how many end soon; the page and
    # its roles; employers; invitations.
    with django_assert_num_queries(12):
        kept.get("/people/")
    for number in range(20):
        MembershipFactory(person=PersonFactory(username=f"more{number}"), site=site, role="mechanic")
    with django_assert_num_queries(12):
        kept.get("/people/")


def test_a_site_one_does_not_keep_is_not_shown(kept, other_site, stranger):
    page = page_of(kept.get(f"/people/?site={other_site.uuid}"))
    assert "Stranger" not in page
    assert "Greyfen Works" in page
    page_of(kept.get(f"/people/{stranger.uuid}/"), 404)


def test_a_role_is_given_and_ended_on_the_persons_page(kept, crew, site):
    bo = crew["Bo"]
    where = f"/people/{bo.uuid}/"
    form = {"site": str(site.uuid), "role": "planner", "from_on": "2026-10-12", "until_on": "2026-10-01"}
    page = page_of(kept.post(f"{where}roles/", form), 422)
    assert "A role ends after it begins." in page
    assert 'value="2026-10-01"' in page
    assert kept.post(f"{where}roles/", form | {"until_on": ""})["Location"] == where
    page = page_of(kept.get(where))
    assert "End planner at Greyfen Works today" in page
    assert kept.post(f"{where}roles/end/", {"site": str(site.uuid), "role": "planner"})["Location"] == where
    assert Membership.objects.get(person=bo, role="planner").until_on == TODAY
    page_of(kept.post(f"{where}roles/end/", {"site": "x", "role": "planner"}), 404)


def test_a_role_at_another_site_cannot_be_chosen(kept, crew, other_site):
    form = {"site": str(other_site.uuid), "role": "planner", "from_on": "2026-10-12"}
    page = page_of(kept.post(f"/people/{crew['Ada'].uuid}/roles/", form), 422)
    assert "Select a valid choice." in page
    assert not Membership.objects.filter(site=other_site).exists()


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"until_on": "tomorrow"}, "Write the day as 2026-10-12."),
        ({"email": "ada at plant"}, "Enter a valid email address."),
        ({"first_name": ""}, "This field is required."),
        ({"employer": "x" * 81}, "Ensure this value has at most 80 characters"),
    ],
)
def test_what_cannot_be_meant_stays_in_its_field_with_its_sentence(kept, crew, given, said):
    form = {"first_name": "Ada", "last_name": "", "email": "", "employer": "", "until_on": ""} | given
    page = page_of(kept.post(f"/people/{crew['Ada'].uuid}/", form), 422)
    assert said in page
    (typed,) = given.values()
    assert f'value="{typed}"' in page or not typed


def test_closing_every_door_ends_the_session_the_tokens_and_the_links_at_once(kept, crew, site):
    ada = crew["Ada"]
    theirs = Client()
    theirs.force_login(ada)
    assert theirs.get("/account/").status_code == 200
    token = ada.tokens.create(name="t", prefix="asl_", digest="0" * 64, made_at=NOW, expires_at=NOW + timedelta(days=9))
    link = Invitation.objects.create(
        site=site, role="planner", digest="1" * 64, made_by=ada, made_at=NOW, expires_at=NOW + timedelta(days=7)
    )
    assert kept.post(f"/people/{ada.uuid}/stop/")["Location"] == f"/people/{ada.uuid}/"
    assert theirs.get("/account/").status_code == 302
    token.refresh_from_db()
    link.refresh_from_db()
    assert (token.revoked_at, link.withdrawn_at) == (NOW, NOW)
    assert "stopped: nobody comes in under this name" in page_of(kept.get(f"/people/{ada.uuid}/"))


def test_a_session_ends_with_the_last_day(crew, time_machine):
    ada = crew["Ada"]
    Person.objects.filter(pk=ada.pk).update(until_on=TODAY)
    theirs = Client()
    theirs.force_login(ada)
    assert theirs.get("/account/").status_code == 200
    time_machine.move_to(NOW + timedelta(days=1), tick=False)
    assert theirs.get("/account/").status_code == 302


def test_an_invitation_is_seen_in_the_list_and_withdrawn(kept, site):
    form = {"site": str(site.uuid), "role": "contractor", "email": "bad", "language": "en", "until_on": "2026-12-01"}
    page = page_of(kept.post("/people/invite/", form), 422)
    assert "Enter a valid email address." in page
    assert "Say who employs this contractor" in page
    page = page_of(kept.post("/people/invite/", form | {"email": "bo@plant.example", "employer": "Crew Ltd"}))
    assert "Shown this once." in page
    assert "http://testserver/invitation/" in page
    row = Invitation.objects.get()
    assert "bo@plant.example, contractor’s mechanic, by Kim" in page_of(kept.get("/people/"))
    kept.post(f"/invitations/{row.uuid}/withdraw/")
    row.refresh_from_db()
    assert row.withdrawn_at == NOW
    assert "bo@plant.example, contractor" not in page_of(kept.get("/people/"))


def test_ones_own_name_and_password_are_changed_and_other_sessions_end(mechanic, client):
    mechanic.set_password("the first password")
    mechanic.save()
    client.force_login(mechanic)
    other = Client()
    other.force_login(mechanic)
    page_of(client.post("/account/", {"first_name": "", "language": "en"}), 422)
    page = page_of(client.post("/account/", {"first_name": "Mia", "language": "tlh"}), 422)
    assert "Select a valid choice." in page
    assert client.post("/account/", {"first_name": "Maria", "language": "en"}).status_code == 302
    wrong = {"old": "no", "password": GOOD, "again": GOOD}
    assert "This is not your password until now." in page_of(client.post("/account/password/", wrong), 422)
    weak = {"old": "the first password", "password": "maria12345", "again": "maria1234"}
    assert "This is not the same as above." in page_of(client.post("/account/password/", weak), 422)
    assert client.post("/account/password/", wrong | {"old": "the first password"}).status_code == 302
    mechanic.refresh_from_db()
    assert (mechanic.first_name, mechanic.check_password(GOOD)) == ("Maria", True)
    page_of(client.get("/account/"))
    # Django asks for the ended session twice, which is no list.
    with zeal_ignore():
        assert other.get("/due/").status_code == 302
    assert AuditEntry.objects.filter(kind="password", person=mechanic).exists()


def test_people_stand_in_the_strip_for_keepers_alone(kept, mechanic):
    assert 'href="/people/"' in page_of(kept.get("/account/"))
    kept.force_login(mechanic)
    assert 'href="/people/"' not in page_of(kept.get("/account/"))
    page_of(kept.get("/people/"), 403)
