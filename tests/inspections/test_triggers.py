"""Signed rows cannot be changed in the database itself, whoever asks."""

import pytest
from django.core.management import CommandError, call_command
from django.db import IntegrityError, connection, transaction

from inspections import triggers
from inspections.checks import signed_records_are_guarded
from inspections.models import (
    Breakdown,
    HandOver,
    JointLook,
    Maintenance,
    Reading,
    ReadingSet,
    RunningLook,
    RunUp,
    SignedRecord,
    StatedValues,
    Survey,
    SurveyResult,
    Torque,
    Witness,
)
from inspections.models.findings import Fact
from inspections.services.signing import sign_visit
from inspections.steps.rows import FACTS
from plant.recording import recording
from tests.factories import NOW
from tests.inspections.visits import AROUND, MACHINE_STEPS
from tests.inspections.worn import LOOKED_OVER, SHORE, starters

COLUMN = {
    "inspections_signedrecord": "text = 'x'",
    "inspections_surveyresult": "verdict = 'in tolerance'",
    "inspections_survey": "as_left = as_found",
    "inspections_readingset": "sag_mm = 0",
    "inspections_reading": "mm = 0",
    "inspections_runout": "run_out_mm = 0",
    "inspections_pipestrain": "vertical_mm = 0",
    "inspections_softfoot": "size_mm = 0",
    "inspections_shimpack": "total_mm = 0",
    "inspections_mounting": "kind = 'clamp'",
    "inspections_placement": "dbse_mm = 0",
    "inspections_setscrew": "count = 1",
    "inspections_torque": "torque_nm = 1",
    "inspections_jointlook": "seen = 'loose'",
    "inspections_elementfact": "batch = 'x'",
    "inspections_wear": "grade = 0",
    "inspections_hardness": "median = 0",
    "inspections_wearnote": "text = 'x'",
    "inspections_lubrication": "act = 'looked'",
    "inspections_cleaning": "agent = 'x'",
    "inspections_conditions": "note = 'x'",
    "inspections_holddown": "foot = 'x'",
    "inspections_rotation": "note = 'x'",
    "inspections_guardstate": "why = 'x'",
    "inspections_runninglook": "odd = 'x'",
    "inspections_breakdown": "part = 'x'",
    "inspections_statedvalues": "done = 'x'",
    "inspections_runup": "remarks = 'x'",
    "inspections_witness": "what = 'x'",
    "inspections_handover": "text = 'x'",
}


def concrete(model):
    """The tables below an abstract model, however deep."""
    below = {one for child in model.__subclasses__() for one in concrete(child)}
    return below if model._meta.abstract else below | {model}


def test_every_row_below_a_record_is_guarded_and_compared():
    """A new kind of fact that was forgotten here could be changed unseen."""
    facts = concrete(Fact)
    assert facts == {model for models in FACTS.values() for model in models}
    beside = {Witness, HandOver}
    assert facts | beside | {SignedRecord, Survey, ReadingSet, Reading, SurveyResult} == set(triggers.KEPT)


@pytest.fixture
def record(filled, mechanic):
    filled.entries.create(
        step="set-screws", typed={f"{side}_count": "2" for side in ("driver", "driven")}, at=NOW, version=1
    )
    for step, typed in (MACHINE_STEPS | {"mounting": {"driver.cleaned": "yes"}}).items():
        filled.entries.create(step=step, typed=typed, at=NOW, version=1)
    starters()
    filled.sheet_version.lubricant = "Assembly paste"
    filled.sheet_version.save()
    looked = LOOKED_OVER | SHORE | {"note": "seen by torch"}
    for step, typed in {"wear": looked, "lubricant": {"act": "looked", "state": "darkened"}}.items():
        filled.entries.create(step=step, typed=typed, at=NOW, version=1)
    for step, typed in AROUND.items():
        filled.entries.create(step=step, typed=typed, at=NOW, version=1)
    with recording(by=mechanic, at=NOW):
        record = sign_visit(visit=filled)
    # These belong to visits of other kinds, and the run-up to a record of its own.
    RunningLook.objects.create(visit=filled, record=record, ordinary=True)
    Breakdown.objects.create(visit=filled, record=record, noticed="a bang")
    StatedValues.objects.create(visit=filled, record=record, source="card 7")
    Witness.objects.create(
        visit=filled, step="placement", what="gap", role="engineer", seen_version=1, by=mechanic, at=NOW
    )
    HandOver.objects.create(visit=filled, text="guard is in the shop", by=mechanic, at=NOW)
    RunUp.objects.create(visit=filled, record=record, outcome="accepted", ran_at=NOW)
    # An installation tightens every joint, so that none is only looked at.
    JointLook.objects.create(visit=filled, record=record, joint="hub bolts", seen="undisturbed", verdict="in tolerance")
    return record


def run(sql):
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(sql)


def refuses_every_change(record):
    assert set(COLUMN) == set(triggers.TABLES)
    for table, change in COLUMN.items():
        with connection.cursor() as cursor:
            cursor.execute(f"SELECT COUNT(*) FROM {table}")
            assert cursor.fetchone()[0] > 0, f"{table} is empty, so nothing is tried on it"
        for sql in (f"UPDATE {table} SET {change}", f"DELETE FROM {table}"):
            with pytest.raises(IntegrityError, match="A signed record never changes"):
                run(sql)
        if connection.vendor == "postgresql":
            connection.check_constraints()  # rows whose references wait for their check cannot be truncated anyway
            with pytest.raises(IntegrityError, match="A signed record never changes"):
                run(f"TRUNCATE {table} CASCADE")


def test_no_signed_row_is_updated_or_deleted(record):
    refuses_every_change(record)


@pytest.mark.engine
@pytest.mark.django_db
def test_no_signed_row_is_updated_deleted_or_truncated_on_the_server_database(record):
    assert connection.vendor == "postgresql"
    refuses_every_change(record)


def test_the_models_themselves_cannot_change_a_signed_row(record):
    result = SurveyResult.objects.get()
    result.verdict = "too close to call"
    with transaction.atomic(), pytest.raises(IntegrityError):
        result.save()
    with transaction.atomic(), pytest.raises(IntegrityError):
        Reading.objects.first().delete()


def test_maintenance_opens_the_rows_and_closes_them_again(record):
    with triggers.opened(reason="restore of last night", at=NOW):
        Torque.objects.update(torque_nm=44)
        assert Maintenance.objects.get().reason == "restore of last night"

    assert not Maintenance.objects.get().open
    with transaction.atomic(), pytest.raises(IntegrityError):
        Torque.objects.update(torque_nm=45)


def test_maintenance_is_closed_also_after_an_error(record):
    with pytest.raises(ZeroDivisionError), triggers.opened(reason="restore", at=NOW):
        1 / 0  # noqa: B018
    assert not Maintenance.objects.get().open


def test_a_missing_trigger_is_said_by_a_system_check_and_mended_by_migrate(db):
    assert signed_records_are_guarded(None, databases=["default"]) == []
    name, table = sorted(triggers.trigger_names(connection.vendor))[0]
    run(f"DROP TRIGGER {name}" + (f" ON {table}" if connection.vendor == "postgresql" else ""))

    (warning,) = signed_records_are_guarded(None, databases=["default"])
    assert (warning.id, name in warning.msg) == ("inspections.W001", True)

    triggers.install_after_migrate(sender=None, using="default")
    assert signed_records_are_guarded(None, databases=["default"]) == []


def test_every_migrate_installs_the_triggers(db):
    name, table = sorted(triggers.trigger_names(connection.vendor))[0]
    run(f"DROP TRIGGER {name}" + (f" ON {table}" if connection.vendor == "postgresql" else ""))

    call_command("migrate", verbosity=0)

    assert triggers.missing() == []


def test_a_check_without_a_database_asks_none(db, django_assert_num_queries):
    with django_assert_num_queries(0):
        assert signed_records_are_guarded(None, databases=None) == []


@pytest.mark.django_db(transaction=True)
def test_a_flush_of_signed_records_is_refused(record):
    """`manage.py flush` empties a plant's record only where maintenance was opened for it."""
    with pytest.raises(CommandError, match="couldn't be flushed"):
        call_command("flush", interactive=False, verbosity=0)
    assert SignedRecord.objects.filter(pk=record.pk).exists()


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("turn", ["first", "second"])
def test_what_one_test_signed_the_next_does_not_find(record, turn):
    """Both turns sign for real; the flush between them empties the record and shuts it again."""
    assert SignedRecord.objects.count() == 1
    assert not Maintenance.objects.filter(open=True).exists()
    with pytest.raises(IntegrityError):
        SignedRecord.objects.all().delete()
