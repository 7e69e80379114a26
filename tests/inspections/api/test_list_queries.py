"""How many statements a list costs, and that it costs no more with more rows."""

import pytest

from inspections.services.flags import open_flag
from inspections.services.policies import load_policies
from inspections.services.signing import sign_visit
from plant.recording import recording
from tests.factories import NOW, CouplingFactory, FitFactory, InstrumentFactory, WorkOrderFactory
from tests.inspections.visits import PRINTED, begin, fill_installation, save

pytestmark = pytest.mark.django_db


@pytest.fixture
def busy(site, mechanic, wrench):
    """Three couplings, each installed with two surveys, one visit begun after it, and a flag."""
    InstrumentFactory(site=site, serial="D-1")
    with recording(by=None, at=NOW):
        load_policies(site=site, kinds=("alignment", "torque"))
    for _ in range(3):
        fit = FitFactory(coupling=CouplingFactory(train__site=site))
        order = WorkOrderFactory(train=fit.coupling.train, isolated=True)
        visit = begin(fit, order, mechanic)
        save(visit, "alignment", PRINTED | {"set0.instrument": "D-1"}, mechanic, number=1)
        fill_installation(visit, mechanic, wrench)
        with recording(by=mechanic, at=NOW):
            sign_visit(visit=visit)
            open_flag(coupling=fit.coupling, kind="out-of-tolerance", evidence={})
        begin(fit, order, mechanic, kind="torque")


# The reader's roles come first in each, and the sites where a noun prints its own.
LISTS = [
    ("work-orders", 5, "the orders with who isolated, their crews, their names in other systems"),
    ("visits", 3, "the visits joined with all they print"),
    ("surveys", 5, "the surveys with their results, then sets, readings and instruments"),
    ("checks", 3, "the checks joined with coupling and settling visit"),
    ("checks/?due_before=2027-01-01", 3, "the same through the due list's question"),
    ("flags", 3, "the flags joined with coupling, owner and the flag before"),
    ("policies", 3, "the policies"),
]


def test_every_list_prints_in_a_fixed_number_of_statements(as_person, planner, busy, django_assert_num_queries):
    for noun, count, why in LISTS:
        where = f"/api/v1/{noun}" if "?" in noun else f"/api/v1/{noun}/"
        client = as_person(planner)
        with django_assert_num_queries(count, info=f"{noun}: {why}"):
            rows = client.get(where).json()["results"]
        assert len(rows) > 1, noun
