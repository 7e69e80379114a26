"""An amendment beside what it amends, field by field, in the reader's units."""

import pytest
import time_machine

from inspections.selectors.comparison import changes_of
from inspections.services.amendments import amend_visit
from inspections.services.signing import sign_visit
from plant.recording import recording
from tests.factories import NOW
from tests.inspections.visits import IN_LINE, PLACEMENT

LEFT = IN_LINE | {"set0.3": "0.30", "set0.9": "-0.34", "read_by": "Per"}
pytestmark = pytest.mark.django_db


@pytest.fixture
def amended(filled, mechanic, engineer):
    with recording(by=mechanic, at=NOW):
        sign_visit(visit=filled)
    filled.refresh_from_db()
    with recording(by=engineer, at=NOW):
        record = amend_visit(
            visit=filled,
            steps={
                "placement": PLACEMENT | {"dbse": "140.5"},
                "as-left": IN_LINE | {"set0.3": "0.30", "set0.9": "-0.34", "read_by": "Per"},
            },
            reason="Two readings were misread.",
            left_so_reason="The plant must run.",
        )
    return filled, record


def rows(record, visit, system):
    return {(one.step, one.name): (one.was, one.became) for one in changes_of(record, visit, system)}


def test_every_field_that_differs_is_there_and_no_other(amended):
    visit, record = amended
    found = rows(record, visit, "metric")
    assert set(found) == {
        ("placement", "dbse"), ("as-left", "set0.3"), ("as-left", "set0.9"), ("as-left", "read_by"), ("as-left", ""),
        ("signature", "left_so_reason"),
    }  # fmt: skip
    assert found[("placement", "dbse")] == ("140.2\u00a0mm", "140.5\u00a0mm")
    assert found[("as-left", "read_by")] == ("", "Per")
    assert found[("as-left", "")] == ("in tolerance", "out of tolerance")
    assert changes_of(record.amends, visit, "metric") == []


def test_a_reader_in_inches_sees_inches_and_what_was_typed(amended):
    visit, record = amended
    was, became = rows(record, visit, "us")[("placement", "dbse")]
    # 140.2 mm / 25.4 = 5.520 inch, 140.5 mm / 25.4 = 5.531 inch.
    assert (was, became) == ("5.520\u00a0inch (typed: 140.2 mm)", "5.531\u00a0inch (typed: 140.5 mm)")


def test_the_record_and_the_api_show_it(amended, client, engineer):
    visit, _record = amended
    client.force_login(engineer)
    with time_machine.travel(NOW, tick=False):
        page = client.get(f"/visits/{visit.uuid}/record/").content.decode()
        listed = client.get(f"/api/v1/visits/{visit.uuid}/records/").json()["results"]
    assert "6 fields differ from record 1" in page
    assert "140.5\u00a0mm" in page
    assert [len(one["changes"]) for one in listed] == [0, 6]
