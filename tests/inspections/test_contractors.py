"""A contractor works within the orders he is on, for as long as his role lasts."""

from datetime import timedelta

import pytest

from couplings.models import Coupling
from inspections.models import Visit, WorkOrder
from inspections.selectors.people import colleagues_of
from inspections.services.drafts import begin_visit
from inspections.services.orders import change_order, open_order
from plant.models import Person, Train
from plant.recording import recording
from plant.refusals import NotAllowed, Refused
from tests.factories import NOW, TODAY, FitFactory, MembershipFactory, PersonFactory, TrainFactory, WorkOrderFactory

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _now(time_machine):
    time_machine.move_to(NOW, tick=False)


@pytest.fixture
def fitter(site):
    person = PersonFactory(username="fitter", employer="Crew Ltd")
    MembershipFactory(person=person, site=site, role="contractor", until_on=TODAY)
    return person


@pytest.fixture
def order(site, planner, fitter):
    """Opened by the planner, with the contractor in its crew."""
    fit = FitFactory(coupling__train__site=site)
    with recording(by=planner, at=NOW):
        return open_order(train=fit.coupling.train, number="WO-1", crew=[{"person": fitter}])


def afresh(person):
    return Person.objects.get(pk=person.pk)


def test_the_crew_names_a_contractor_with_the_employer(order):
    assert [(one.name, one.employer) for one in order.crew.all()] == [("Fitter", "Crew Ltd")]


def test_he_reads_the_train_of_his_order_and_no_other(order, fitter, site):
    other = TrainFactory(site=site)
    assert list(Train.objects.visible_to(fitter)) == [order.train]
    assert list(WorkOrder.objects.visible_to(fitter)) == [order]
    assert other not in Train.objects.visible_to(fitter)


def test_his_reading_ends_with_the_role_and_with_his_place_in_the_crew(order, fitter, planner, time_machine):
    with recording(by=planner, at=NOW):
        change_order(order=order, crew=[])
    assert not Coupling.objects.visible_to(afresh(fitter)).exists()
    with recording(by=planner, at=NOW):
        change_order(order=order, crew=[{"person": fitter}])
    assert Coupling.objects.visible_to(afresh(fitter)).exists()
    time_machine.move_to(NOW + timedelta(days=1), tick=False)
    assert not Coupling.objects.visible_to(afresh(fitter)).exists()


def test_he_begins_visits_under_his_own_order_only(order, fitter, site):
    coupling = order.train.couplings.get()
    another = WorkOrderFactory(train=order.train)
    given = {"coupling": coupling, "kind": "installation", "on": TODAY}
    with recording(by=fitter, at=NOW), pytest.raises(Refused) as refusal:
        begin_visit(work_order=another, **given)
    assert refusal.value.as_dict() == {"work_order": "You are not in the crew of this work order: choose one of yours."}
    with recording(by=fitter, at=NOW):
        begun = begin_visit(work_order=order, **given)
    assert list(Visit.objects.visible_to(fitter)) == [begun]


def test_he_does_the_running_check_of_his_order_as_a_visit_and_on_a_walk(order, fitter, client):
    coupling = order.train.couplings.get()
    client.force_login(fitter)
    area = order.train.area.uuid
    where = f"/walk/{area}/{coupling.uuid}/"
    assert client.get(f"/walk/{area}/").status_code == 200
    assert client.post(where, {"same": "1"}).status_code == 302
    look = Visit.objects.get(kind="running")
    assert (look.state, look.work_order, look.signed_by) == ("signed", order, fitter)
    assert list(Visit.objects.visible_to(fitter)) == [look]
    with recording(by=fitter, at=NOW):
        begun = begin_visit(coupling=coupling, kind="running", on=TODAY, work_order=order)
    assert begun.work_order == order
    with recording(by=afresh(fitter), at=NOW), pytest.raises(Refused, match="not in the crew of this work order"):
        begin_visit(coupling=coupling, kind="running", on=TODAY)


def test_he_opens_no_orders_and_names_only_his_mates(order, fitter, planner, mechanic):
    with recording(by=fitter, at=NOW), pytest.raises(NotAllowed, match="does not let you write work orders"):
        open_order(train=order.train, number="WO-2")
    assert set(colleagues_of(fitter)) == {fitter}
    with recording(by=planner, at=NOW):
        change_order(order=order, crew=[{"person": fitter}, {"person": mechanic}])
    assert set(colleagues_of(fitter)) == {fitter, mechanic}


def test_the_coupling_page_shows_him_his_visits_and_offers_his_orders(order, fitter, mechanic, client):
    coupling = order.train.couplings.get()
    another = WorkOrderFactory(train=order.train, number="WO-77")
    with recording(by=mechanic, at=NOW):
        theirs = begin_visit(coupling=coupling, work_order=another, kind="installation", on=TODAY)
    client.force_login(fitter)
    page = client.get(f"/couplings/{coupling.uuid}/").content.decode()
    assert "WO-1" in page
    assert "WO-77" not in page
    assert str(theirs.uuid) not in page
    assert "a new one" not in page
    assert client.get(f"/visits/{theirs.uuid}/").status_code == 404
