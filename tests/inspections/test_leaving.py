"""Somebody leaves: what they have in hand is listed and handed over, what they signed keeps their name."""

import pytest

from inspections.services.drafts import begin_visit
from plant.models import Membership, Person
from plant.recording import recording
from plant.refusals import Missing, NotAllowed, Refused
from plant.selectors.belongings import in_hand, signed_last
from plant.services.leaving import hand_over, leave_site
from tests.factories import NOW, TODAY, MembershipFactory, PersonFactory, WorkOrderFactory
from tests.world import World

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _now(time_machine):
    time_machine.move_to(NOW, tick=False)


@pytest.fixture
def world(site, mechanic):
    return World(site, mechanic)


@pytest.fixture
def flag(world, mechanic):
    world.flag.owner = mechanic
    world.flag.save()
    return world.flag


def test_flags_drafts_and_orders_in_hand_are_listed_with_what_becomes_of_them(world, flag, mechanic, site):
    order = WorkOrderFactory(train=world.train, number="WO-7", isolated=True)
    order.crew.create(person=mechanic, name="Mia")
    with recording(by=mechanic, at=NOW):
        begin_visit(coupling=world.fit.coupling, kind="installation", on=TODAY, work_order=order)
    things = in_hand(mechanic, {site.pk}, NOW)
    tag = flag.coupling.tag
    assert [(thing.words, thing.passes_on) for thing in things] == [
        (f"Flag “{flag.get_kind_display()}” at {tag}", True),
        (f"Visit at {tag} on 2026-10-12, still being written", False),
        (f"Work order WO-7 at {world.train}", False),
    ]
    assert in_hand(mechanic, set(), NOW) == []


def test_flags_go_to_whoever_takes_over_and_the_roles_end(flag, mechanic, engineer, keeper, site):
    with recording(by=keeper, at=NOW):
        assert leave_site(person=mechanic, site=site, on=TODAY, to=engineer) == 1
    flag.refresh_from_db()
    assert flag.owner == engineer
    assert flag.version == 2
    assert Membership.objects.get(person=mechanic).until_on == TODAY


def test_what_was_signed_keeps_its_name(world, mechanic, keeper, site):
    signed = world.signed
    with recording(by=keeper, at=NOW):
        leave_site(person=mechanic, site=site, on=TODAY)
    signed.refresh_from_db()
    assert signed.signed_by == mechanic
    assert [one.url for one in signed_last(mechanic, {site.pk})] == [f"/visits/{signed.uuid}/record/"]


def test_nothing_is_handed_to_oneself_or_to_somebody_from_elsewhere(flag, mechanic, stranger, keeper, site, other_site):
    fitter = PersonFactory(username="fitter")
    MembershipFactory(person=fitter, site=site, role="contractor", until_on=TODAY)
    for to, said in (
        (mechanic, "Choose somebody else: these things are theirs already."),
        (stranger, "Stranger has no role at Greyfen Works."),
        (fitter, "Fitter has no role at Greyfen Works."),
    ):
        with pytest.raises(Refused) as refused, recording(by=keeper, at=NOW):
            hand_over(person=mechanic, to=to, site=site)
        assert refused.value.as_dict() == {"to": said}
    with pytest.raises(Missing), recording(by=keeper, at=NOW):
        hand_over(person=stranger, to=mechanic, site=other_site)
    with pytest.raises(NotAllowed), recording(by=Person.objects.get(pk=mechanic.pk), at=NOW):
        leave_site(person=mechanic, site=site, on=TODAY)


def test_the_page_lists_them_and_ends_the_roles(flag, mechanic, engineer, keeper, site, client):
    client.force_login(keeper)
    where = f"/people/{mechanic.uuid}/leave/{site.uuid}/"
    page = client.get(where).content.decode()
    assert "Mia leaves Greyfen Works with one thing in hand" in page
    assert "goes to whoever takes over" in page
    late = client.post(where, {"on": "2026-10-01", "to": str(engineer.uuid)})
    assert late.status_code == 422
    assert "Choose today or a later day: earlier days were worked." in late.content.decode()
    assert client.post(where, {"on": "2026-10-31", "to": str(engineer.uuid)}).status_code == 302
    flag.refresh_from_db()
    assert flag.owner == engineer
    assert Membership.objects.get(person=mechanic).until_on.isoformat() == "2026-10-31"
