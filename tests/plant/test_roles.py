"""Roles at a site: who may give and end them, what stays in their history, and that a site keeps its keeper."""

from datetime import timedelta

import pytest

from plant.models import Membership, Person
from plant.recording import recording
from plant.refusals import Missing, NotAllowed, Refused
from plant.services.people import change_person, end_role, give_role
from tests.factories import NOW, TODAY, MembershipFactory, PersonFactory

pytestmark = pytest.mark.django_db
TOMORROW = TODAY + timedelta(days=1)


@pytest.fixture(autouse=True)
def _now(time_machine):
    time_machine.move_to(NOW, tick=False)


def by(person):
    return recording(by=Person.objects.get(pk=person.pk), at=NOW)


def refused(call, **given):
    with pytest.raises(Refused) as refusal:
        call(**given)
    return refusal.value.as_dict()


def test_who_gave_and_who_ended_a_role_can_be_read_in_its_history(keeper, mechanic, site):
    with by(keeper):
        row = give_role(person=mechanic, site=site, role="planner", from_on=TODAY, until_on=TOMORROW)
    with by(keeper):
        end_role(membership=row, until_on=TODAY)
    kept = [(one.history_type, one.until_on, one.history_user) for one in row.history.all()]
    assert kept == [("~", TODAY, keeper), ("+", TOMORROW, keeper)]


def test_a_keeper_gives_and_ends_no_role_at_a_site_that_is_not_hers(keeper, mechanic, other_site, stranger):
    with pytest.raises(Missing), by(keeper):
        give_role(person=mechanic, site=other_site, role="planner", from_on=TODAY)
    theirs = stranger.memberships.get(role="planner")
    with pytest.raises(Missing), by(keeper):
        end_role(membership=theirs, until_on=TODAY)
    assert Membership.objects.get(pk=theirs.pk).until_on is None


def test_a_keeper_does_not_change_an_administrator(keeper, site):
    admin = PersonFactory(username="root", is_superuser=True, is_staff=True)
    MembershipFactory(person=admin, site=site, role="manager")
    with pytest.raises(NotAllowed, match="the administrator can change them"), by(keeper):
        change_person(person=admin, is_active=False)


def test_the_last_keeper_of_a_site_keeps_the_role(keeper, site):
    row = keeper.memberships.get()
    said = "Kim is the last keeper of Greyfen Works after that day. Make somebody else the keeper first."
    with by(keeper):
        assert refused(end_role, membership=row, until_on=TODAY) == {"": said}
    with by(keeper):
        assert refused(change_person, person=keeper, is_active=False) == {"": said}
    with by(keeper):
        assert refused(change_person, person=keeper, until_on=TOMORROW) == {"": said}
    # Another who leaves on the same day is no successor; one who stays is.
    second = PersonFactory(username="second", until_on=TODAY)
    MembershipFactory(person=second, site=site, role="keeper")
    with by(keeper):
        assert refused(end_role, membership=row, until_on=TODAY) == {"": said}
    Person.objects.filter(pk=second.pk).update(until_on=None)
    with by(keeper):
        end_role(membership=row, until_on=TODAY)
    assert Membership.objects.get(pk=row.pk).until_on == TODAY


def test_a_contractors_role_has_a_last_day_and_an_employer(keeper, site):
    fitter = PersonFactory(username="fitter")
    with by(keeper):
        assert refused(give_role, person=fitter, site=site, role="contractor", from_on=TODAY) == {
            "until_on": "A contractor’s role has a last day: say until when.",
            "role": "Write down Fitter’s employer first: crew lists name contractors with it.",
        }
    fitter.employer = "Crew Ltd"
    with by(keeper):
        give_role(person=fitter, site=site, role="contractor", from_on=TODAY, until_on=TOMORROW)


def test_a_role_does_not_end_before_it_begins_and_is_one_that_is_known(keeper, mechanic, site):
    with by(keeper):
        given = {"person": mechanic, "site": site, "from_on": TOMORROW, "until_on": TODAY}
        assert refused(give_role, role="planner", **given) == {"until_on": "A role ends after it begins."}
        assert refused(give_role, role="owner", person=mechanic, site=site, from_on=TODAY) == {
            "role": "Value 'owner' is not a valid choice."
        }
        assert refused(give_role, role="mechanic", person=mechanic, site=site, from_on=TODAY) == {
            "role": "Mia is mechanic at Greyfen Works already."
        }
