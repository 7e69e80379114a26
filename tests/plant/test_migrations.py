"""A database that begins now, in a few steps, is the one that took every step on its way."""

import pytest
from django.db import connection
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.serializer import serializer_factory

OURS = ("plant", "couplings", "inspections")


@pytest.fixture(autouse=True)
def _migrations_are_read(settings):
    settings.MIGRATION_MODULES = {}  # a test run is told to go without


def models_of(state):
    """Fields, indexes, constraints and bases of every model of a state, as text."""
    return {key: as_text(model) for key, model in state.models.items() if key[0] in OURS}


def the_short_way():
    return MigrationLoader(connection).project_state()


def the_long_way():
    """Every step in its order; the apps depend on each other one way."""
    loader = MigrationLoader(connection)
    state = loader.project_state(("auth", "0012_alter_user_first_name_max_length"))
    for app in OURS:
        for where, name in sorted(loader.disk_migrations):
            migration = loader.disk_migrations[where, name]
            if where == app and not migration.replaces:
                state = migration.mutate_state(state, preserve=False)
    return state


def as_text(model):
    fields = {name: serializer_factory(field).serialize()[0] for name, field in model.fields.items()}
    options = dict(model.options)
    for kind in ("indexes", "constraints"):
        options[kind] = sorted(serializer_factory(one).serialize()[0] for one in options.get(kind, []))
    return fields, repr(sorted(options.items())), repr(model.bases)


def test_the_short_way_leads_where_the_long_way_leads(db):
    short, long = models_of(the_short_way()), models_of(the_long_way())
    assert short.keys() == long.keys()
    assert len(short) > 100
    assert {key: short[key] for key in short if short[key] != long[key]} == {}


def test_the_short_way_holds_every_step_up_to_its_last(db):
    loader = MigrationLoader(connection, replace_migrations=False)
    for (app, name), migration in loader.disk_migrations.items():
        if app not in OURS or not migration.replaces:
            continue
        names = sorted(one for where, one in loader.disk_migrations if where == app and one != name)
        steps = sorted(one for _, one in migration.replaces)
        assert names[: len(steps)] == steps
