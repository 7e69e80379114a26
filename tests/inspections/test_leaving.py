"""Somebody leaves: what they have in hand is listed and handed over, what they signed keeps their name."""

from datetime import UTC, date, datetime, timedelta

import pytest

from inspections.services.drafts import begin_visit
from plant.models import AuditEntry, Membership, Person
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
    world.check.owner = mechanic
    world.check.save()
    things = in_hand(mechanic, {site.pk}, NOW)
    tag = flag.coupling.tag
    assert [(thing.words, thing.passes_on) for thing in things] == [
        (f"Flag “{flag.get_kind_display()}” at {tag}", True),
        (f"Check “Alignment” at {tag}, due on 2026-10-12", True),
        (f"Visit at {tag} on 2026-10-12, still being written", True),
        (f"Work order WO-7 at {world.train}, in its crew", True),
    ]
    assert in_hand(mechanic, set(), NOW) == []


def test_flags_go_to_whoever_takes_over_and_the_roles_end(flag, mechanic, engineer, keeper, site):
    with recording(by=keeper, at=NOW):
        assert leave_site(person=mechanic, site=site, on=TODAY, to=engineer) == 1
    flag.refresh_from_db()
    assert flag.owner == engineer
    assert flag.version == 2
    assert Membership.objects.get(person=mechanic).until_on == TODAY


def test_drafts_checks_and_crew_places_go_too_and_what_was_done_stays_written(world, mechanic, engineer, keeper, site):
    order, other = (WorkOrderFactory(train=world.train, number=number) for number in ("WO-7", "WO-8"))
    for one in (order, other):
        one.crew.create(person=mechanic, name="Mia", employer="Crew Ltd")
    order.isolated_at, order.permit, order.isolated_by = NOW, "P-1", mechanic
    order.save()
    world.check.owner = mechanic
    world.check.save()
    draft = world.visit
    numbers = [row.version for row in (order, other, world.check, draft)]
    with recording(by=keeper, at=NOW):
        assert leave_site(person=mechanic, site=site, on=TODAY, to=engineer) == 4
    for row in (order, other, world.check, draft):
        row.refresh_from_db()
    assert [row.version for row in (order, other, world.check, draft)] == [number + 1 for number in numbers]
    assert world.check.owner == engineer
    assert (draft.in_hand_of, draft.entered_by, draft.taken_by) == (engineer, mechanic, mechanic)
    crew = {one: set(one.crew.values_list("name", "person__username")) for one in (order, other)}
    assert crew == {order: {("Mia", None), ("Ana", "ana")}, other: {("Ana", "ana")}}, "she isolated under one of them"
    assert in_hand(mechanic, {site.pk}, NOW) == []
    assert len(in_hand(engineer, {site.pk}, NOW)) == 4


def test_what_comes_back_finds_its_name_in_the_crew(world, mechanic, engineer, keeper, site):
    order = WorkOrderFactory(train=world.train, number="WO-7", isolated_by=mechanic)
    order.crew.create(person=mechanic, name="Mia")
    with recording(by=keeper, at=NOW):
        hand_over(person=mechanic, to=engineer, site=site)
        hand_over(person=engineer, to=mechanic, site=site)
    assert list(order.crew.values_list("name", "person__username")) == [("Mia", "mia")]


def test_whoever_takes_over_finds_the_draft_among_todays_work_and_is_named_on_its_page(
    world, mechanic, engineer, keeper, site, client
):
    draft = world.visit
    MembershipFactory(person=engineer, site=site, role="mechanic")
    with recording(by=keeper, at=NOW):
        hand_over(person=mechanic, to=engineer, site=site)
    client.force_login(engineer)
    assert f"/visits/{draft.uuid}/" in client.get("/today/").content.decode()
    assert "Ana goes on with it." in client.get(f"/visits/{draft.uuid}/").content.decode()


def test_tokens_that_open_this_site_alone_end_with_the_last_day(mechanic, keeper, site, other_site):
    def token(name, *sites):
        one = mechanic.tokens.create(
            name=name, prefix="asl_", digest=f"{name:0<64}", made_at=NOW, expires_at=NOW + timedelta(days=90)
        )
        one.sites.set(sites)
        return one

    rows = [token("all"), token("here", site), token("both", site, other_site)]
    with recording(by=keeper, at=NOW):
        leave_site(person=mechanic, site=site, on=date(2026, 10, 20))
    ends = [row.__class__.objects.get(pk=row.pk).expires_at for row in rows]
    # Midnight at the end of the 20th in Oslo, two hours before that of Greenwich.
    last = datetime(2026, 10, 20, 22, tzinfo=UTC)
    assert ends == [last, last, NOW + timedelta(days=90)]
    assert AuditEntry.objects.filter(kind=AuditEntry.Kind.TOKEN_REVOKED, person=mechanic, site=site).count() == 2


def test_a_token_for_all_sites_goes_on_where_there_is_another(mechanic, keeper, site, other_site):
    MembershipFactory(person=mechanic, site=other_site, role="mechanic")
    one = mechanic.tokens.create(
        name="all", prefix="asl_", digest="0" * 64, made_at=NOW, expires_at=NOW + timedelta(days=90)
    )
    with recording(by=keeper, at=NOW):
        leave_site(person=mechanic, site=site, on=TODAY)
    one.refresh_from_db()
    assert one.expires_at == NOW + timedelta(days=90)


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
