"""Invitations and sign-in links: shown once, used once, and what each refusal says."""

from datetime import date, timedelta

import pytest
from django.core import mail
from zeal import zeal_ignore

from plant.models import AuditEntry, Invitation, Membership, Person
from plant.recording import recording
from plant.refusals import Gone, Missing, NotAllowed, Refused
from plant.services.invitations import (
    accept_invitation,
    invite,
    make_sign_in_link,
    set_password_by_link,
    withdraw_invitation,
)
from tests.factories import NOW, TODAY, MembershipFactory, PersonFactory

pytestmark = pytest.mark.django_db
GOOD = "the brass hammer hangs left"
ACCOUNT = {"username": "ivo", "first_name": "Ivo", "last_name": "", "password": GOOD}


@pytest.fixture(autouse=True)
def _now(time_machine):
    time_machine.move_to(NOW, tick=False)


def by(person, at=NOW):
    return recording(by=Person.objects.get(pk=person.pk) if person is not None else None, at=at)


def invited(keeper, site, **given):
    with by(keeper):
        return invite(**{"site": site, "role": "planner", "email": "ivo@plant.example"} | given)


def refusal(error, call, who, at=NOW, **given):
    with pytest.raises(error) as refused, by(who, at):
        call(**given)
    return refused.value.as_dict()


def test_an_invitation_makes_an_account_with_the_role_once(keeper, site):
    row, secret = invited(keeper, site, until_on=date(2026, 12, 31))
    assert secret not in "".join(str(value) for value in Invitation.objects.values_list().get())
    with by(keeper):
        person = accept_invitation(secret=secret, **ACCOUNT)
    role = Membership.objects.get(person=person)
    assert (role.site, role.role, role.from_on, role.until_on) == (site, "planner", TODAY, date(2026, 12, 31))
    assert person.check_password(GOOD)
    assert person.email == "ivo@plant.example"
    assert role.history.get().history_user == keeper
    used = "This link was used already. Sign in, or ask for a new one."
    assert refusal(Gone, accept_invitation, keeper, secret=secret, **ACCOUNT | {"username": "x"}) == {"": used}
    assert refusal(Refused, withdraw_invitation, keeper, invitation=Invitation.objects.get(pk=row.pk)) == {
        "": "This link was used already: end the role instead."
    }


def test_the_same_address_invited_again_replaces_the_earlier_link(keeper, site):
    _row, first = invited(keeper, site)
    _row, second = invited(keeper, site, email="Ivo@plant.example", role="manager")
    assert refusal(Gone, accept_invitation, keeper, secret=first, **ACCOUNT) == {
        "": "This link was replaced or withdrawn. Use the newest one, or ask for it."
    }
    with by(keeper):
        assert Membership.objects.get(person=accept_invitation(secret=second, **ACCOUNT)).role == "manager"


def test_a_link_ends_after_a_week_and_with_its_maker_and_its_days(keeper, site, time_machine):
    _row, secret = invited(keeper, site, until_on=TODAY)
    given = {"secret": secret, **ACCOUNT}
    week = NOW + timedelta(days=7)
    assert refusal(Gone, accept_invitation, keeper, week, **given) == {"": "This link is too old. Ask for a new one."}
    assert refusal(Gone, accept_invitation, keeper, NOW + timedelta(days=1), **given) == {
        "": "The days this invitation was for are over. Ask the keeper for a new one."
    }
    Membership.objects.filter(person=keeper).delete()
    assert refusal(Gone, accept_invitation, None, **given) == {
        "": "Whoever made this link is not the keeper any more. Ask the keeper for a new one."
    }
    for wrong in ("", "guessed", secret + "x", secret.replace(":", "")):
        assert refusal(Gone, accept_invitation, None, secret=wrong, **ACCOUNT) == {
            "": "This link is not known. Ask for a new one."
        }


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"role": "owner"}, {"role": "Value 'owner' is not a valid choice."}),
        ({"role": ""}, {"role": "Choose the role the invitation is for."}),
        ({"role": "client"}, {"role": "A program is registered by the keeper, not invited."}),
        ({"email": "ivo at plant"}, {"email": "Enter a valid email address."}),
        ({"until_on": TODAY - timedelta(days=1)}, {"until_on": "This day is over: it is 2026-10-12 at Greyfen Works."}),
        ({"language": "tlh"}, {"language": "Choose one of: en."}),
        (
            {"role": "contractor"},
            {
                "until_on": "A contractor’s role has a last day: say until when.",
                "employer": "Say who employs this contractor: crew lists name contractors with it.",
            },
        ),
        (
            {"employer": "x" * 81},
            {"employer": "Ensure this value has at most 80 characters (it has 81)."},
        ),
    ],
)
def test_what_an_invitation_cannot_say_is_refused_beside_its_field(keeper, site, given, said):
    assert refusal(Refused, invite, keeper, **{"site": site, "role": "planner"} | given) == said
    assert not Invitation.objects.exists()


def test_nobody_invites_to_a_site_that_is_not_theirs(keeper, mechanic, site, other_site):
    with pytest.raises(Missing), by(keeper):
        invite(site=other_site, role="planner")
    with pytest.raises(NotAllowed, match="does not let you keep people and roles"), by(mechanic):
        invite(site=site, role="keeper")


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"password": "short"}, "password"),
        ({"password": "12345678901"}, "password"),
        ({"password": "password123"}, "password"),
        ({"password": ""}, "password"),
        ({"username": "mia"}, "username"),
        ({"username": "a b"}, "username"),
        ({"username": ""}, "username"),
        ({"first_name": " "}, "first_name"),
    ],
)
def test_an_account_that_cannot_be_made_leaves_the_link_open(keeper, mechanic, site, given, said):
    _row, secret = invited(keeper, site)
    assert set(refusal(Refused, accept_invitation, keeper, secret=secret, **ACCOUNT | given)) == {said}
    with by(keeper):
        accept_invitation(secret=secret, **ACCOUNT)


def test_the_page_takes_the_account_and_says_what_is_wrong_beside_the_field(keeper, site, client):
    _row, secret = invited(keeper, site)
    where = f"/invitation/{secret}/"
    assert "You are invited to Greyfen Works as planner" in client.get(where).content.decode()
    form = {"first_name": "Ivo", "username": "ivo", "password": "short", "again": "shorter"}
    page = client.post(where, form)
    assert page.status_code == 422
    assert "This is not the same as above." in page.content.decode()
    page = client.post(where, form | {"again": "short"})
    assert "This password is too short. It must contain at least 10 characters." in page.content.decode()
    assert 'value="ivo"' in page.content.decode()
    assert client.post(where, form | {"password": GOOD, "again": GOOD})["Location"] == "/sign-in/"
    assert Person.objects.get(username="ivo").check_password(GOOD)
    gone = client.get(where)
    assert gone.status_code == 410
    assert "This link was used already. Sign in, or ask for a new one." in gone.content.decode()


def test_whoever_is_signed_in_takes_the_role_with_the_account_there_is(keeper, stranger, site, client):
    _row, secret = invited(keeper, site, email="")
    client.force_login(stranger)
    assert client.post(f"/invitation/{secret}/", {"as": "me"})["Location"] == "/"
    assert Membership.objects.get(person=stranger, site=site).role == "planner"


def test_a_sign_in_link_sets_a_password_and_ends_sessions_and_tokens(keeper, mechanic, client):
    client.force_login(mechanic)
    token = mechanic.tokens.create(
        name="t", prefix="asl_", digest="0" * 64, made_at=NOW, expires_at=NOW + timedelta(days=9)
    )
    with by(keeper):
        _row, first = make_sign_in_link(person=mechanic)
    with by(keeper):
        _row, secret = make_sign_in_link(person=mechanic)
    assert client.get(f"/new-password/{first}/").status_code == 410
    assert client.get("/account/").status_code == 200
    weak = client.post(f"/new-password/{secret}/", {"password": "mia", "again": "mia"})
    assert weak.status_code == 422
    assert client.post(f"/new-password/{secret}/", {"password": GOOD, "again": GOOD})["Location"] == "/sign-in/"
    # Django asks for the ended session twice, which is no list.
    with zeal_ignore():
        assert client.get("/account/").status_code == 302
    token.refresh_from_db()
    assert token.revoked_at == NOW
    again = refusal(Gone, set_password_by_link, keeper, secret=secret, password=GOOD)
    assert again[""].startswith("This link was used")


def test_a_sign_in_link_is_made_by_the_keeper_of_all_their_sites(keeper, mechanic, planner, other_site):
    with pytest.raises(NotAllowed), by(planner):
        make_sign_in_link(person=mechanic)
    MembershipFactory(person=mechanic, site=other_site, role="mechanic")
    with pytest.raises(NotAllowed, match="also works where you are not the keeper"), by(keeper):
        make_sign_in_link(person=mechanic)
    stopped = PersonFactory(username="gone", is_active=False)
    MembershipFactory(person=stopped, site=keeper.memberships.get().site)
    assert "does not sign in" in refusal(Refused, make_sign_in_link, keeper, person=stopped)[""]


def test_mail_carries_the_link_in_text_and_html_and_without_mail_it_is_copied(keeper, site, client, settings):
    client.force_login(keeper)
    form = {"site": str(site.uuid), "role": "planner", "email": "ivo@plant.example", "language": "en"}
    page = client.post("/people/invite/", form).content.decode()
    assert "Copy the link now" in page
    assert not mail.outbox
    settings.MAIL_ON = True
    page = client.post("/people/invite/", form).content.decode()
    assert "The link went to ivo@plant.example" in page
    message = mail.outbox[0]
    assert message.subject == "Your invitation to Asleft at Greyfen Works"
    link = next(line for line in message.body.splitlines() if line.startswith("http"))
    assert link in page
    assert link in message.alternatives[0][0]
    assert client.get(link).status_code == 200


def test_a_forgotten_password_answers_everybody_alike_and_mails_once(mechanic, client, settings):
    Person.objects.filter(pk=mechanic.pk).update(email="mia@plant.example")
    assert "Ask the keeper for a link" in client.get("/forgotten-password/").content.decode()
    client.post("/forgotten-password/", {"email": "mia@plant.example"})
    assert not mail.outbox
    settings.MAIL_ON = True
    said = "If somebody here has this address, a link is on its way."
    for address in ("mia@plant.example", "nobody@plant.example"):
        assert said in client.post("/forgotten-password/", {"email": address}).content.decode()
    client.post("/forgotten-password/", {"email": "MIA@plant.example"})
    assert [message.to for message in mail.outbox] == [["mia@plant.example"]]
    bad = client.post("/forgotten-password/", {"email": "mia"})
    assert bad.status_code == 422
    assert "Enter a valid email address." in bad.content.decode()


def test_the_audit_tells_who_was_invited_and_who_came_without_any_secret(keeper, site):
    _row, secret = invited(keeper, site)
    with by(keeper):
        accept_invitation(secret=secret, **ACCOUNT)
    rows = list(AuditEntry.objects.order_by("id").values_list("kind", "person__username", "by__username", "note"))
    assert rows == [
        ("invited", None, "kim", "planner, ivo@plant.example"),
        ("role-given", "ivo", "kim", "planner from 2026-10-12"),
        ("invitation-used", "ivo", "kim", "planner"),
    ]
    assert not any(secret[:20] in str(row) or GOOD in str(row) for row in rows)
