"""A draft begun before the program changed opens after the migration, is completed and signed."""

import json

import pytest
from django.db import connection
from django.db.migrations.loader import MigrationLoader

from inspections import triggers
from inspections.models import Entry, PipeStrain, Visit
from inspections.selectors.summary import summary_of
from inspections.selectors.verification import verify
from inspections.services.signing import sign_visit, to_read
from plant.models import Machine
from plant.recording import recording
from tests.factories import NOW, TODAY, CouplingFactory, FitFactory, InstrumentFactory
from tests.inspections.visits import ELEMENT, IN_LINE, PLACEMENT, begin, fasteners, save

pytestmark = pytest.mark.django_db(transaction=True)
APP = "inspections"
BEFORE = "0022_flags_of_drift_and_the_risk_of_a_deferral"
# As the step was laid out then: an upright machine too was asked from which end right and left were seen.
STRAIN_THEN = {"viewed_from": "driver", "driven.vertical": "0.02", "driven.horizontal": "-0.01"}


def by_hand(row, version=1):
    """How an entry noted who changed which field."""
    return {name: {"version": version, "by": "Mia", "at": NOW.isoformat()} for name in row}


@pytest.fixture
def before(settings, db):
    """The tables as they were after BEFORE with the models of then; calling it goes forward again, step by step."""
    settings.MIGRATION_MODULES = {}  # a test run is told to go without
    loader = MigrationLoader(connection, replace_migrations=False)
    later = sorted(name for app, name in loader.disk_migrations if app == APP and name > BEFORE)
    states = {name: loader.project_state(nodes=(APP, name), at_end=False) for name in later}
    assert later
    gone_back = False

    def move(back: bool) -> None:
        nonlocal gone_back
        connection.disable_constraint_checking()
        for name in reversed(later) if back else later:
            with connection.schema_editor(atomic=True) as editor:
                migration = loader.disk_migrations[(APP, name)]
                (migration.unapply if back else migration.apply)(states[name].clone(), editor)
        connection.enable_constraint_checking()
        gone_back = back

    def forward() -> None:
        if gone_back:
            move(back=False)
            triggers.install()  # as migrate does at its end

    move(back=True)
    yield states[later[0]].apps, forward
    forward()


def begun_then(then, fit, by):
    """A draft with its order, isolation standing, written with the columns of then."""
    place = {"site_id": fit.site_id, "version": 1}
    order = then.get_model(APP, "WorkOrder").objects.create(
        **place, train_id=fit.coupling.train_id, number="WO-1", state="open", permit="P-1",
        isolated_at=NOW, isolated_by_id=by.pk, verified_at=NOW, verified_by_id=by.pk,
    )  # fmt: skip
    return then.get_model(APP, "Visit").objects.create(
        **place, coupling_id=fit.coupling_id, fit_id=fit.pk, sheet_version_id=fit.sheet_version_id,
        work_order_id=order.pk, kind="installation", on=TODAY, zone=fit.site.zone, state="draft",
        taken_by_id=by.pk, taken_at=NOW, entered_by_id=by.pk, entered_at=NOW,
    ).pk  # fmt: skip


def columns_of(table):
    with connection.cursor() as cursor:
        return {column.name for column in connection.introspection.get_table_description(cursor, table)}


def test_a_draft_of_the_schema_before_opens_is_completed_and_signed(before, site, mechanic, client):
    then, forward = before
    assert "positions" not in columns_of("inspections_pipestrain")
    fit = FitFactory(coupling=CouplingFactory(train__site=site))
    wrench = InstrumentFactory(site=site, kind="torque-set", name="Click wrench", serial="T-1")
    visit = begun_then(then, fit, mechanic)
    drafted = {"pipe-strain": STRAIN_THEN, "as-left": IN_LINE, "placement": {"dbse": "140.2"}}
    for step, typed in drafted.items():
        then.get_model(APP, "Entry").objects.create(
            visit_id=visit, step=step, typed=typed, errors={}, touched=by_hand(typed), by_id=mechanic.pk, at=NOW
        )
    forward()
    visit = Visit.objects.get(pk=visit)
    assert "positions" in columns_of("inspections_pipestrain")
    assert triggers.missing() == []

    client.force_login(mechanic)
    assert client.get(f"/visits/{visit.uuid}/").status_code == 200
    for step, typed in drafted.items():
        page = client.get(f"/visits/{visit.uuid}/steps/{step}/")
        assert page.status_code == 200
        for text in typed.values():
            assert f'value="{text}"' in page.content.decode(), (step, text)
    assert [one.step for one in summary_of(to_read(visit.pk)).missing] == [
        "placement",
        "placement",
        "element",
        "fasteners",
    ]
    # Completed where it was left: the version it was typed at counts on.
    save(visit, "placement", {name: text for name, text in PLACEMENT.items() if name != "dbse"}, mechanic, seen=1)
    save(visit, "element", ELEMENT, mechanic)
    save(visit, "fasteners", fasteners(wrench), mechanic)
    with recording(by=mechanic, at=NOW):
        record = sign_visit(visit=visit)
    assert verify().findings == []
    row = PipeStrain.objects.get(record=record)
    assert (row.positions, row.vertical_mm, row.horizontal_mm) == ("", 0.02, -0.01)
    facts = json.loads(record.text)["facts"]["pipe-strain"][0]
    assert "positions" not in facts, "a column of today says nothing where it was never asked"


def test_a_step_drafted_in_an_older_layout_opens_and_is_signed_in_todays(fit, order, mechanic, wrench, client):
    """The step's fields have changed since: what is not asked any more stays as typed and stands in nobody's way."""
    Machine.objects.filter(train=fit.coupling.train).update(mounting="vertical")
    visit = begin(fit, order, mechanic)
    Entry.objects.create(visit=visit, step="pipe-strain", typed=STRAIN_THEN, touched=by_hand(STRAIN_THEN), at=NOW)
    client.force_login(mechanic)
    page = client.get(f"/visits/{visit.uuid}/steps/pipe-strain/").content.decode()
    assert "Moved to the north" in page
    assert 'value="-0.01"' in page
    save(visit, "pipe-strain", {"north_is": "discharge nozzle"}, mechanic, seen=1)
    save(visit, "placement", PLACEMENT, mechanic)
    left = {"method": "rim-and-face", "stationary": "driven", "set0.x": "0", "set1.swing_radius": "90"}
    left |= {f"set{number}.{hour}": "0" for number in (0, 1) for hour in (12, 3, 6, 9)}
    save(visit, "as-left", left, mechanic)
    save(visit, "element", ELEMENT, mechanic)
    save(visit, "fasteners", fasteners(wrench), mechanic)
    with recording(by=mechanic, at=NOW):
        record = sign_visit(visit=visit)
    row = PipeStrain.objects.get(record=record)
    assert (row.positions, row.north_is) == ("compass", "discharge nozzle")
    assert verify().findings == []
