"""What keeps its history is never changed behind it: no bulk update in the program reaches such a model."""

import ast
from pathlib import Path

import pytest
from django.apps import apps
from django.conf import settings

FOLDER = Path(settings.BASE_DIR)
# Columns that say where a row stands and not what it says: the unit of work writes them, history leaves them out.
STANDING = {
    ("plant/recording.py", "bump"),
    ("plant/recording.py", "_write"),
    ("plant/messages/deliver.py", "_address"),  # failures and rest of a webhook, which its history leaves out
}


def kept():
    return {
        model.__name__ for model in apps.get_models() if hasattr(model, "history") and model.__module__[:5] != "simpl"
    }


def sources():
    for app in ("plant", "couplings", "inspections"):
        for path in sorted((FOLDER / app).rglob("*.py")):
            if "migrations" not in path.parts:
                yield path.relative_to(FOLDER).as_posix(), path.read_text()


def names_in(node, assigned, depth=4):
    """Names that an expression is made of, looking behind the variables of its function."""
    found = set()
    for each in ast.walk(node):
        if isinstance(each, ast.Name):
            found.add(each.id)
            if depth and each.id in assigned:
                others = {name: values for name, values in assigned.items() if name != each.id}
                for value in assigned[each.id]:
                    found |= names_in(value, others, depth - 1)
        elif isinstance(each, ast.Attribute):
            found.add(each.attr)
    return found


def updates(source, models):
    """Find [(line, function, model)] of queryset updates that touch one of these models, or a model not known there."""
    tree = ast.parse(source)
    for function in [each for each in ast.walk(tree) if isinstance(each, ast.FunctionDef | ast.Module)]:
        assigned = {}
        for each in ast.walk(function):
            for target in each.targets if isinstance(each, ast.Assign) else ():
                if isinstance(target, ast.Name):
                    assigned.setdefault(target.id, []).append(each.value)
        for each in ast.walk(function):
            if not (isinstance(each, ast.Call) and isinstance(each.func, ast.Attribute)):
                continue
            if each.func.attr not in ("update", "bulk_update", "aupdate", "abulk_update"):
                continue
            of = names_in(each.func.value, assigned)
            queried = {"objects", "_base_manager", "_default_manager", "filter", "exclude", "all"} & of
            if not queried and each.func.attr.endswith("update") and "bulk" not in each.func.attr:
                continue  # a dict or a digest
            if "type" in of or "model" in of or models & of:
                yield each.lineno, getattr(function, "name", "module"), sorted(models & of)


def test_there_are_models_with_history_to_look_after():
    assert {"Grade", "Policy", "NutFactor", "GrowthCoefficient", "Train", "DataSheet"} <= kept()


def test_no_update_of_many_rows_goes_past_the_history():
    models = kept()
    wrong = [
        f"{path}:{line} in {function}: {', '.join(of) or 'any model'}"
        for path, source in sources()
        for line, function, of in updates(source, models)
        if function != "module" and (path, function) not in STANDING
    ]
    assert wrong == []


def test_the_places_that_may_are_still_there():
    named = {path for path, _ in STANDING}
    found = {
        (path, function) for path, source in sources() if path in named for _, function, _ in updates(source, kept())
    }
    assert found >= STANDING


@pytest.mark.parametrize(
    "line",
    [
        "Grade.objects.filter(pk=1).update(name='x')",
        "Grade.objects.bulk_update(rows, ['name'])",
        "rows = Grade.objects.all()\n    rows = rows\n    rows.update(name='x')",
        "rows = Grade.objects.filter(site=site)\n    mine = rows.exclude(pk=1)\n    mine.update(name='x')",
        "type(row)._base_manager.filter(pk=1).update(name='x')",
    ],
)
def test_the_search_finds_what_it_is_for(line):
    found = {name for name in (function for _, function, _ in updates(f"def act():\n    {line}\n", {"Grade"}))}
    assert "act" in found


def test_the_search_leaves_dicts_alone():
    assert list(updates("def act():\n    names = {}\n    names.update(x=1)\n", {"Grade"})) == []
