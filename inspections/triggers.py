"""Triggers that keep signed records and their measurements as they were signed, on SQLite and PostgreSQL alike.

Rows below a signed record are inserted and then stay: the database itself refuses to update, delete or truncate them,
whoever asks. One row (`Maintenance`, pk 1) opens them for a restore, a move, and the tests' flush; it is meant to be
seen open, and `verify_records` finds what was changed meanwhile. Django rebuilds tables on SQLite when it alters them,
and the triggers go with the old table, so they are installed again after every migrate and a system check looks for
them.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from typing import Any

from django.db import connections, transaction

from inspections.models import (
    Breakdown,
    Cleaning,
    Conditions,
    ElementFact,
    GuardState,
    HandOver,
    Hardness,
    HoldDown,
    JointLook,
    Lubrication,
    Maintenance,
    Mounting,
    PipeStrain,
    Placement,
    Reading,
    ReadingSet,
    Rotation,
    RunningLook,
    RunOut,
    RunUp,
    SetScrew,
    ShimPack,
    SignedRecord,
    SoftFoot,
    StatedValues,
    Survey,
    SurveyResult,
    Torque,
    Wear,
    WearNote,
    Witness,
)

# Children before the rows they hang on, the order in which they can be emptied.
KEPT = (
    Reading, SurveyResult, ReadingSet, Survey, RunOut, PipeStrain, SoftFoot, ShimPack, Mounting, Placement, SetScrew,
    Torque, JointLook, ElementFact, Wear, Hardness, WearNote, Lubrication, Cleaning, Conditions,
    HoldDown, Rotation, GuardState, RunningLook, Breakdown, StatedValues, RunUp, Witness, HandOver,
    SignedRecord,
)  # fmt: skip
TABLES = tuple(model._meta.db_table for model in KEPT)
MAINTENANCE = Maintenance._meta.db_table
REFUSAL = "A signed record never changes. Correct it by an amendment."
FUNCTION = "asleft_kept_as_signed"


def trigger_names(vendor: str) -> set[tuple[str, str]]:
    """(trigger, table) of every trigger there should be."""
    acts = ("update", "delete") if vendor == "sqlite" else ("update_or_delete", "truncate")
    return {(f"{table}_kept_{act}", table) for table in TABLES for act in acts}


def statements(vendor: str) -> list[str]:
    """SQL that puts every trigger in place, also where it is there already."""
    return _sqlite() if vendor == "sqlite" else _postgresql()


def _sqlite() -> list[str]:
    found = []
    for table in TABLES:
        for act in ("update", "delete"):
            found += [
                f"DROP TRIGGER IF EXISTS {table}_kept_{act}",
                f"CREATE TRIGGER {table}_kept_{act} BEFORE {act.upper()} ON {table} FOR EACH ROW "
                f"WHEN NOT EXISTS (SELECT 1 FROM {MAINTENANCE} WHERE id = 1 AND open) "
                f"BEGIN SELECT RAISE(ABORT, '{REFUSAL}'); END",
            ]
    return found


def _postgresql() -> list[str]:
    found = [
        f"""CREATE OR REPLACE FUNCTION {FUNCTION}() RETURNS trigger LANGUAGE plpgsql AS $$
        BEGIN
            IF NOT EXISTS (SELECT 1 FROM {MAINTENANCE} WHERE id = 1 AND open) THEN
                RAISE EXCEPTION '{REFUSAL}' USING ERRCODE = 'integrity_constraint_violation';
            END IF;
            IF TG_OP = 'DELETE' THEN RETURN OLD; END IF;
            RETURN NEW;
        END $$"""
    ]
    for table in TABLES:
        for act, each in (("update_or_delete", "ROW"), ("truncate", "STATEMENT")):
            name = f"{table}_kept_{act}"
            found += [
                f"DROP TRIGGER IF EXISTS {name} ON {table}",
                f"CREATE TRIGGER {name} BEFORE {act.upper().replace('_', ' ')} ON {table} "
                f"FOR EACH {each} EXECUTE FUNCTION {FUNCTION}()",
            ]
    return found


def install(using: str = "default") -> None:
    """Put the triggers in place where all tables exist; a half-migrated database gets them at the end."""
    connection = connections[using]
    if not {*TABLES, MAINTENANCE} <= set(connection.introspection.table_names()):
        return
    with transaction.atomic(using=using), connection.cursor() as cursor:
        for statement in statements(connection.vendor):
            cursor.execute(statement)


def missing(using: str = "default") -> list[str]:
    """Names of triggers that should be there and are not, or are switched off."""
    connection = connections[using]
    tables = set(connection.introspection.table_names())
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute("SELECT name, tbl_name FROM sqlite_master WHERE type = 'trigger'")
        else:
            cursor.execute(
                "SELECT tgname, relname FROM pg_trigger JOIN pg_class ON pg_class.oid = tgrelid "
                "WHERE NOT tgisinternal AND tgenabled IN ('O', 'A') AND relnamespace = current_schema()::regnamespace"
            )
        there = {(name, table) for name, table in cursor.fetchall()}
    return sorted(name for name, table in trigger_names(connection.vendor) - there if table in tables)


@contextmanager
def opened(*, reason: str, at: datetime | None, using: str = "default") -> Iterator[None]:
    """Open signed records for a restore or a move, and close them again whatever happens."""
    open_for_good(reason=reason, at=at, using=using)
    try:
        yield
    finally:
        Maintenance.objects.using(using).filter(pk=1).update(open=False)


def open_for_good(*, reason: str, at: datetime | None = None, using: str = "default") -> None:
    """Open signed records until somebody closes them, or the row goes with a flush."""
    rows = Maintenance.objects.using(using)
    rows.update_or_create(pk=1, defaults={"open": True, "reason": reason, "since": at})


def empty(using: str = "default") -> None:
    """Delete every signed record and what hangs on it; only where maintenance is open."""
    with transaction.atomic(using=using), connections[using].cursor() as cursor:
        cursor.execute("UPDATE inspections_visit SET record_id = NULL WHERE record_id IS NOT NULL")
        # What was worked out from surveys names them; it is worked out again from whatever is there.
        cursor.execute("UPDATE inspections_driftstate SET left_survey_id = NULL WHERE left_survey_id IS NOT NULL")
        cursor.execute("DELETE FROM inspections_leg")
        for table in TABLES:
            cursor.execute(f"DELETE FROM {table}")


def install_after_migrate(sender: Any, using: str = "default", **kwargs: Any) -> None:
    """Receiver of post_migrate."""
    install(using)
