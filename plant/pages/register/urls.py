"""Addresses of the register: the contents, and those of every noun, named register-<noun>(-<page>)."""

from collections.abc import Iterator

from django.urls import URLPattern, path

from plant.pages.register import batch, views
from plant.pages.register.registry import Noun, all_nouns


def _of(noun: Noun) -> Iterator[URLPattern]:
    key, here = noun.key, f"register/{noun.key}/"
    row = f"{here}<{'uuid' if noun.lookup == 'uuid' else 'slug'}:{noun.lookup}>/"
    kept = {"key": key}
    yield path(here, views.listed, kept, name=f"register-{key}")
    yield path(f"register/{noun.key}.<slug:form>", views.listed_export, kept, name=f"register-{key}-export")
    if noun.create is not None:
        yield path(f"{here}new/", views.new, kept, name=f"register-{key}-new")
    for one in noun.whole:
        yield path(f"{here}{one.key}/", views.whole, kept | {"act": one.key}, name=f"register-{key}-{one.key}")
    if noun.batch:
        yield path(f"{here}batch/", batch.batch, kept, name=f"register-{key}-batch")
    yield path(row, views.one, kept, name=f"register-{key}-one")
    if noun.change is not None:
        yield path(f"{row}edit/", views.edit, kept, name=f"register-{key}-edit")
    for act in noun.acts:
        yield path(f"{row}{act.key}/", views.act, kept | {"act": act.key}, name=f"register-{key}-{act.key}")


urlpatterns = [
    path("register/", views.contents, name="register"),
    *(pattern for noun in all_nouns() for pattern in _of(noun)),
]
