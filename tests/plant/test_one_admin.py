"""One base for the whole administration: searched everywhere, and with history where the model keeps it."""

from django.apps import apps
from django.contrib import admin
from django.contrib.auth.admin import UserAdmin
from simple_history.admin import SimpleHistoryAdmin

from plant.admin.base import ReadOnlyAdmin, RecordedAdmin, SeenAdmin
from plant.models import Root

OURS = {"plant", "couplings", "inspections"}


def ours():
    return {model: one for model, one in admin.site._registry.items() if model._meta.app_label in OURS}


def test_everything_registered_stands_on_the_one_base():
    strange = [
        model.__name__
        for model, one in ours().items()
        if not isinstance(one, RecordedAdmin | ReadOnlyAdmin | SeenAdmin | UserAdmin)
    ]
    # Rows of every site, and the one row of maintenance: not a site's, so they have no access by site.
    assert sorted(strange) == ["Family", "Maintenance", "WearCode"]


def test_everything_registered_can_be_searched():
    assert [model.__name__ for model, one in ours().items() if not one.search_fields] == ["Maintenance"]


def test_history_is_read_where_it_is_kept():
    lacking = [
        model.__name__
        for model, one in ours().items()
        if hasattr(model, "history") and not isinstance(one, SimpleHistoryAdmin)
    ]
    assert lacking == []


def test_every_root_with_history_is_registered():
    kept = {model for model in apps.get_models() if hasattr(model, "history") and issubclass(model, Root)}
    assert sorted(model.__name__ for model in kept - set(ours())) == []
