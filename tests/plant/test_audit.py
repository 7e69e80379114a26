"""What happened at the door is written down, without secrets, for the keeper of whoever it was."""

from datetime import timedelta

import pytest

from plant.models import AuditEntry, Person
from plant.recording import recording
from plant.selectors.audit import audit_for, audit_matching
from plant.services.people import change_person, give_role
from plant.services.tokens import make_token, revoke_token
from tests.factories import NOW, TODAY, PersonFactory

pytestmark = pytest.mark.django_db
PASSWORD = "the brass hammer hangs left"


def kinds():
    return list(AuditEntry.objects.order_by("id").values_list("kind", "person__username"))


def test_good_and_refused_sign_ins_are_written_down(mechanic, client):
    mechanic.set_password(PASSWORD)
    mechanic.save()
    client.post("/sign-in/", {"username": "mia", "password": "wrong"})
    client.post("/sign-in/", {"username": "my password, in the wrong field", "password": "x"})
    client.post("/sign-in/", {"username": "mia", "password": PASSWORD})
    assert kinds() == [("refused", "mia"), ("refused", None), ("signed-in", "mia")]
    assert AuditEntry.objects.first().address == "127.0.0.1"
    assert "wrong field" not in str(list(AuditEntry.objects.values()))


def test_a_lock_out_has_a_page_that_says_what_to_do_and_one_entry(mechanic, client, settings):
    tried = {"username": "mia", "password": "wrong"}
    for _ in range(settings.AXES_FAILURE_LIMIT - 1):
        assert client.post("/sign-in/", tried).status_code == 200
    for _ in range(3):
        locked = client.post("/sign-in/", tried)
    assert (locked.status_code, locked["Retry-After"]) == (429, "900")
    page = locked.content.decode()
    assert "Too many wrong passwords" in page
    assert "rests for 15 minutes" in page
    assert AuditEntry.objects.filter(kind="locked-out").count() == 1


def test_tokens_and_roles_are_written_down_with_who_did_it(keeper, mechanic, site, time_machine):
    time_machine.move_to(NOW, tick=False)
    with recording(by=mechanic, at=NOW):
        token, secret = make_token(
            person=mechanic, name="Reader", scopes=["read"], sites=[], expires_at=NOW + timedelta(days=1)
        )
        revoke_token(token=token)
    with recording(by=keeper, at=NOW):
        give_role(person=mechanic, site=site, role="planner", from_on=TODAY)
        change_person(person=mechanic, is_active=False)
    assert [kind for kind, _who in kinds()] == ["token-made", "token-revoked", "role-given", "stopped", "changed"]
    assert secret not in str(list(AuditEntry.objects.values()))


def test_a_keeper_reads_of_her_own_people_only(keeper, mechanic, stranger, site):
    for person in (mechanic, stranger, PersonFactory(username="nobody's")):
        AuditEntry.objects.create(kind="signed-in", at=NOW, person=person)
    AuditEntry.objects.create(kind="refused", at=NOW)
    assert [row.person for row in audit_for(keeper)] == [mechanic]
    assert audit_for(PersonFactory(username="root", is_superuser=True)).count() == 4
    assert not audit_for(Person.objects.get(pk=mechanic.pk)).exists()
    assert [row.person for row in audit_matching(keeper, text="MI", kind="signed-in")] == [mechanic]
    assert not audit_matching(keeper, kind="export").exists()


def test_the_page_shows_it_and_is_searched(keeper, mechanic, client):
    AuditEntry.objects.create(kind="signed-in", at=NOW, person=mechanic, address="10.1.2.3")
    client.force_login(keeper)
    assert "10.1.2.3" in client.get("/people/audit/?q=mia&kind=signed-in").content.decode()
    assert "Nothing of this kind yet." in client.get("/people/audit/?q=mia&kind=export").content.decode()
