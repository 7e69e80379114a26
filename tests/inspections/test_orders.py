"""Work orders: opened with their crew, isolated, verified, removed, closed."""

import pytest

from inspections.models import WorkOrder
from inspections.selectors.orders import open_orders, order_for
from inspections.services.orders import (
    change_order,
    close_order,
    isolate,
    open_order,
    remove_isolation,
    verify_isolation,
)
from plant.recording import recording
from plant.refusals import Missing, NotAllowed, Refused, Stale
from tests.factories import NOW, TODAY, TrainFactory, WorkOrderFactory
from tests.inspections.visits import begin


@pytest.fixture
def train(site):
    return TrainFactory(site=site)


def act(service, by, **given):
    with recording(by=by, at=NOW):
        return service(**given)


def test_an_order_is_one_outing_with_its_crew(train, planner, mechanic):
    crew = [{"person": mechanic}, {"person": None, "name": "Ivo", "employer": "Contractor"}]

    order = act(open_order, planner, train=train, number=" WO-1 ", title="Re-check", planned_on=TODAY, crew=crew)

    assert (order.number, order.site, order.state) == ("WO-1", train.site, "open")
    assert [(one.name, one.employer) for one in order.crew.all()] == [("Ivo", "Contractor"), ("Mia", "")]
    assert list(open_orders(train)) == [order]
    assert order_for(mechanic, order.uuid) == order


def test_isolation_goes_from_permit_to_verified_to_removed(train, mechanic):
    order = WorkOrderFactory(train=train)

    act(isolate, mechanic, order=order, permit="P-77")
    assert not order.isolation_stands, "written down is not yet tried"
    act(verify_isolation, mechanic, order=order)
    assert order.isolation_stands
    act(remove_isolation, mechanic, order=order)
    assert not order.isolation_stands
    act(close_order, mechanic, order=order)

    order.refresh_from_db()
    assert (order.isolated_by, order.verified_at, order.removed_by) == (mechanic, NOW, mechanic)
    assert (order.state, order.version) == ("closed", 5)


def test_a_reason_stands_in_for_a_permit(train, mechanic):
    order = WorkOrderFactory(train=train)
    act(isolate, mechanic, order=order, no_permit_reason="plant never energised")
    assert order.isolated_at == NOW


def test_a_second_isolation_after_removal_has_to_be_verified_anew(train, mechanic):
    order = WorkOrderFactory(train=train, isolated=True)
    act(remove_isolation, mechanic, order=order)
    act(isolate, mechanic, order=order, permit="P-101")

    assert (order.verified_at, order.removed_at) == (None, None)


@pytest.mark.parametrize(
    "given, field, message",
    [
        ({"number": ""}, "number", "number is missing"),
        ({"number": "W" * 41}, "number", "At most 40 characters"),
        ({"number": "WO-1"}, "number", "This site has a work order WO-1 already"),
        ({"number": "WO-2", "title": "t" * 121}, "title", "At most 120 characters"),
        ({"number": "WO-2", "crew": [{"name": " "}]}, "crew.0.name", "Name this member"),
        ({"number": "WO-2", "crew": [{"name": "Ivo"}, {"name": "Ivo"}]}, "crew.1.name", "is in this crew already"),
    ],
)
def test_an_order_is_refused_when(train, planner, given, field, message):
    WorkOrderFactory(train=train, number="WO-1")
    with recording(by=planner, at=NOW), pytest.raises(Refused) as refused:
        open_order(train=train, **given)
    assert message in refused.value.as_dict()[field]
    assert WorkOrder.objects.count() == 1


def test_somebody_without_a_role_here_is_not_in_the_crew(train, planner, stranger):
    with pytest.raises(Refused, match="has no role at this site"):
        act(open_order, planner, train=train, number="WO-3", crew=[{"person": stranger}])


@pytest.mark.parametrize(
    "given, field, message",
    [
        ({}, "permit", "Enter the permit's number"),
        ({"permit": "  "}, "permit", "Enter the permit's number"),
        ({"permit": "P-1", "no_permit_reason": "bench"}, "no_permit_reason", "not both"),
        ({"permit": "P" * 61}, "permit", "At most 60 characters"),
    ],
)
def test_isolation_is_refused_when(train, mechanic, given, field, message):
    order = WorkOrderFactory(train=train)
    with recording(by=mechanic, at=NOW), pytest.raises(Refused) as refused:
        isolate(order=order, **given)
    assert message in refused.value.as_dict()[field]
    assert WorkOrder.objects.get().isolated_at is None


def test_steps_of_isolation_keep_their_order(train, mechanic):
    order = WorkOrderFactory(train=train)
    with pytest.raises(Refused, match="Nothing is isolated yet"):
        act(verify_isolation, mechanic, order=order)
    with pytest.raises(Refused, match="so there is nothing to remove"):
        act(remove_isolation, mechanic, order=order)
    standing = WorkOrderFactory(train=train, isolated=True)
    with pytest.raises(Refused, match="isolation stands already"):
        act(isolate, mechanic, order=standing, permit="P-2")
    with pytest.raises(Refused, match="The isolation still stands"):
        act(close_order, mechanic, order=standing)
    act(remove_isolation, mechanic, order=standing)
    with pytest.raises(Refused, match="isolate the machine again first"):
        act(verify_isolation, mechanic, order=standing)


def test_an_order_with_a_draft_is_not_closed(fit, mechanic):
    order = WorkOrderFactory(train=fit.coupling.train)
    begin(fit, order, mechanic)
    with pytest.raises(Refused, match=f"Still being written: {fit.coupling.tag}"):
        act(close_order, mechanic, order=order)


def test_a_closed_order_takes_nothing_more(train, planner):
    order = WorkOrderFactory(train=train, state="closed")
    with pytest.raises(Refused, match="is closed: open another for new work"):
        act(change_order, planner, order=order, title="more")


def test_a_change_names_the_version_it_saw(train, planner):
    order = WorkOrderFactory(train=train)
    act(change_order, planner, order=order, expected=1, title="Re-check", crew=[{"name": "Ivo"}])
    assert (order.version, order.crew.get().name) == (2, "Ivo")
    with pytest.raises(Stale):
        act(change_order, planner, order=order, expected=1, title="Other")
    with pytest.raises(Refused, match="cannot be changed on a work order"):
        act(change_order, planner, order=order, permit="P-1")


def test_who_may_do_what(train, planner, manager, stranger):
    order = WorkOrderFactory(train=train)
    with pytest.raises(NotAllowed, match="confirm isolation"):
        act(isolate, planner, order=order, permit="P-1")
    with pytest.raises(NotAllowed, match="write work orders"):
        act(open_order, manager, train=train, number="WO-9")
    with pytest.raises(Missing):
        act(open_order, stranger, train=train, number="WO-9")
    with pytest.raises(Missing):
        order_for(stranger, order.uuid)
