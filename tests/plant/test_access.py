"""The access table: roles in force, tokens that narrow, sites that are missing rather than forbidden."""

from datetime import timedelta

import pytest

from plant import access
from plant.models import Person, Site, Train
from plant.refusals import Missing, NotAllowed
from tests.factories import NOW, MembershipFactory, PersonFactory, TrainFactory

pytestmark = pytest.mark.django_db


def afresh(person):
    return Person.objects.get(pk=person.pk)


def test_a_role_counts_from_its_first_to_its_last_day(site, time_machine):
    person = PersonFactory(username="visitor")
    MembershipFactory(
        person=person, site=site, role="mechanic", from_on=NOW.date(), until_on=NOW.date() + timedelta(days=2)
    )
    for days, counts in ((-1, False), (0, True), (2, True), (3, False)):
        time_machine.move_to(NOW + timedelta(days=days), tick=False)
        assert access.may(afresh(person), "visit.fill", site) is counts
        assert Site.objects.visible_to(afresh(person)).exists() is counts


def test_whoever_left_or_was_stopped_may_nothing(mechanic, site, time_machine):
    time_machine.move_to(NOW, tick=False)
    mechanic.until_on = NOW.date() - timedelta(days=1)
    mechanic.save()
    assert not access.may(afresh(mechanic), "read", site)
    mechanic.until_on, mechanic.is_active = None, False
    mechanic.save()
    assert not access.may(afresh(mechanic), "read", site)
    assert not Train.objects.visible_to(afresh(mechanic)).exists()


def test_a_site_one_cannot_see_is_missing_and_an_act_one_may_not_is_refused(mechanic, site, other_site):
    with pytest.raises(NotAllowed, match="does not let you keep the register"):
        access.require(mechanic, "register.write", site)
    with pytest.raises(Missing):
        access.require(mechanic, "visit.fill", other_site)
    access.require(mechanic, "visit.fill", site)
    access.require(None, "people.write", other_site)


def test_a_token_narrows_its_owner_to_scopes_and_sites(keeper, site, other_site):
    MembershipFactory(person=keeper, site=other_site, role="keeper")
    TrainFactory(site=other_site, area__site=other_site)
    token = keeper.tokens.create(
        name="t", prefix="asl_", digest="0" * 64, scopes=["read"], made_at=NOW, expires_at=NOW + timedelta(days=1)
    )
    person = afresh(keeper)
    person.token = token
    assert access.may(person, "read", other_site)
    assert not access.may(person, "register.write", site)
    token.sites.set([site])
    person = afresh(keeper)
    person.token = type(token).objects.get(pk=token.pk)
    assert not access.may(person, "read", other_site)
    assert person.site_ids() == {site.pk}
    assert not Train.objects.visible_to(person).exists()


def test_a_token_of_an_administrator_is_narrowed_too(site, other_site):
    person = PersonFactory(username="root", is_superuser=True)
    person.token = person.tokens.create(
        name="t", prefix="asl_", digest="1" * 64, scopes=["read"], made_at=NOW, expires_at=NOW + timedelta(days=1)
    )
    assert access.may(person, "read", site)
    assert not access.may(person, "register.write", site)
    person.token.sites.set([site])
    person.token.__dict__.pop("_site_ids", None)
    assert not person.sees_everything
    assert list(Site.objects.visible_to(person)) == [site]


def test_nobody_sees_nothing(site):
    assert not Site.objects.visible_to(None).exists()


def test_every_role_has_something_to_do_and_every_action_somebody():
    for role in access.Role.values:
        assert any(role in roles for _, roles in access.ACTIONS.values()), role
    for action, (words, roles) in access.ACTIONS.items():
        assert words, action
        assert roles, action
