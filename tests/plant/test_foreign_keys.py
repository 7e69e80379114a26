"""Relations point inspections -> couplings -> plant, also those named by a string, which no import contract sees."""

import ast
from pathlib import Path

import pytest
from django.apps import apps
from django.conf import settings

HEIGHT = {"plant": 0, "couplings": 1, "inspections": 2}
RELATIONS = {"ForeignKey", "OneToOneField", "ManyToManyField"}


def ours():
    return [model for model in apps.get_models(include_auto_created=True) if model._meta.app_label in HEIGHT]


def upward(low, high):
    return HEIGHT.get(high, 0) > HEIGHT[low]


def test_all_three_apps_have_models_to_look_at():
    assert {model._meta.app_label for model in ours()} == set(HEIGHT)


def test_no_relation_points_to_an_app_above():
    wrong = [
        f"{model._meta.label}.{field.name} -> {field.related_model._meta.label}"
        for model in ours()
        for field in model._meta.get_fields()
        if field.is_relation
        and not field.auto_created
        and field.related_model
        and upward(model._meta.app_label, field.related_model._meta.app_label)
    ]
    assert wrong == []


def string_targets(source):
    """Find the app labels that relations in a source text name by string: [(line, target)]."""
    found = []
    for node in ast.walk(ast.parse(source)):
        if not isinstance(node, ast.Call):
            continue
        name = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
        if name not in RELATIONS:
            continue
        given = [*node.args[:1], *(keyword.value for keyword in node.keywords if keyword.arg in {"to", "through"})]
        found += [
            (node.lineno, value.value)
            for value in given
            if isinstance(value, ast.Constant) and isinstance(value.value, str) and "." in value.value
        ]
    return found


@pytest.mark.parametrize("app", ["plant", "couplings"])
def test_no_string_in_models_or_migrations_names_an_app_above(app):
    wrong = []
    for file in sorted((Path(settings.BASE_DIR) / app).rglob("*.py")):
        for line, target in string_targets(file.read_text()):
            if upward(app, target.split(".")[0]):
                wrong.append(f"{file.name}:{line} {target}")
    assert wrong == []


def test_walk_finds_a_string_that_points_up():
    source = (
        "f = models.ForeignKey('inspections.Visit', on_delete=models.CASCADE)\ng = ManyToManyField(to='plant.Site')"
    )
    assert string_targets(source) == [(1, "inspections.Visit"), (2, "plant.Site")]
    assert upward("couplings", "inspections")
    assert not upward("couplings", "plant")
