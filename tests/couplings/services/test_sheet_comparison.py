"""Two versions side by side: every field that differs is told once, in the reader's units and words."""

import pytest

from couplings.models import SheetVersion, WearCode
from couplings.selectors.sheet_comparison import compare_versions
from couplings.selectors.sheet_lists import ROW_LISTS, rows_of
from couplings.selectors.sheet_words import COLUMNS, ROW_COLUMNS
from couplings.selectors.sheets import VERSION_FIELDS, with_rows
from couplings.services.sheets import begin_version, change_version
from plant.recording import recording
from tests.couplings.sheets_written import publish, write_full
from tests.factories import NOW

# What each column is changed into: one other value that no rule refuses.
OTHER = {
    "rule": "vector", "combined": False, "set_screw_size": "M10", "set_screw_holding_source": "a test at the bench",
    "fit_hole": "H8", "fit_shaft": "k6", "key_standard": "asme-b17-1", "mounting_kind": "clamp",
    "element_part": "E-80-H", "element_polymer": "CR", "hardness_scale": "D", "lubricant": "grease", "note": "other",
    "set_screw_count": 4, "lubricant_months": 6,
}  # fmt: skip
OTHER_ROWS = {
    ("limits", "quantity"): (2, "flex-angle", {"stated_as": "slope"}),
    ("limits", "stated_as"): (0, "degrees", {"over_diameter_mm": None}),
    ("limits", "over_diameter_mm"): (0, 120.0, {}),
    ("joints", "positions"): (1, 6, {}),
    ("joints", "segments"): (1, 2, {}),
    ("joints", "strength_standard"): (1, "SAE J429", {"strength_class": "5"}),
    ("joints", "strength_class"): (1, "10.9", {}),
    ("joints", "nut_factor"): (1, 0.15, {}),
    ("joints", "nut_factor_source"): (1, "a book", {}),
    ("joints", "thread"): (1, "M12", {}),
    ("joints", "pass_shares"): (1, [0.4, 1.0], {}),
    ("joints", "order"): (1, "round", {}),
    ("joints", "feature"): (1, "locking-compound", {"prevailing_nm": None}),
    ("joints", "recheck"): (1, "not-allowed", {"recheck_reason": "single use"}),
    ("hubs", "side"): None,
    ("hubs", "orientation"): (0, "out", {}),
    ("hubs", "mounting_kind"): (0, "clamp", {}),
    ("screws", "kind"): None,
    ("screws", "up_to_bore_mm"): (2, 70.0, {}),
    ("screws", "over_bore_mm"): (0, 5.0, {}),
    ("element_parts", "standard"): (0, False, {}),
    ("hold_points", "step"): (0, "as-left", {}),
    ("hold_points", "role"): (0, "manager", {}),
}


@pytest.fixture
def pair(engineer, site):
    """A published version and a draft that says the same."""
    first = publish(engineer, write_full(engineer, site))
    with recording(by=engineer, at=NOW):
        return first, begin_version(sheet=first.sheet)


def fresh(version):
    return with_rows(SheetVersion.objects.filter(pk=version.pk)).get()


def apart(pair, system="metric"):
    return compare_versions(*(fresh(version) for version in pair), system)


def changed(by, version, **fields):
    with recording(by=by, at=NOW):
        change_version(version=version, **fields)


def test_two_versions_that_say_the_same_have_no_difference(pair):
    assert apart(pair) == []


def test_the_words_know_every_column_of_a_version_and_of_its_lists():
    assert sorted(column.name for column in COLUMNS) == sorted(VERSION_FIELDS)
    for name, given in ROW_LISTS.items():
        assert tuple(column.name for column in ROW_COLUMNS[name]) == given.fields


@pytest.mark.parametrize("column", COLUMNS, ids=lambda column: column.name)
def test_every_field_of_a_version_that_is_changed_is_told_once(pair, engineer, column):
    before = getattr(pair[1], column.name)
    after = OTHER.get(column.name, before * 1.1 if isinstance(before, float) else None)
    assert after is not None, "say in OTHER what it is changed into"
    if column.name == "element_part":
        changed(engineer, pair[1], element_parts=[])
        SheetVersion.objects.get(pk=pair[0].pk).element_parts.all().delete()
    changed(engineer, pair[1], **{column.name: after})
    (found,) = apart(pair)
    assert (found.field, found.part, found.what) == (column.name, str(column.part), str(column.label))
    assert found.before != found.after


ROW_CASES = [(name, column) for name in ROW_LISTS for column in ROW_COLUMNS[name]]


@pytest.mark.parametrize(("name", "column"), ROW_CASES, ids=[f"{name}.{column.name}" for name, column in ROW_CASES])
def test_every_field_of_a_row_that_is_changed_is_told_once(pair, name, column):
    """Straight in the table: a rule between two columns is another test's, the comparison has to see each."""
    rows = list(getattr(pair[1], name).all())
    place, after, _beside = OTHER_ROWS.get((name, column.name)) or (0, None, {})
    row = rows[place]
    if column.name == "code":
        row.code = WearCode.objects.get(code="set")
    elif (name, column.name) in {("hubs", "side"), ("screws", "kind")}:
        getattr(pair[1], name).exclude(pk=row.pk).delete()
        getattr(pair[0], name).exclude(**{key: getattr(row, key) for key in ROW_LISTS[name].key}).delete()
        setattr(
            row,
            column.name,
            {"side": "both", "kind": "clamp" if row.__dict__.get("kind") == "set" else "set"}[column.name],
        )
    else:
        value = getattr(row, column.name)
        if after is None:
            after = value * 1.1 + 0.1 if isinstance(value, float) else ("other" if isinstance(value, str) else 3.0)
        setattr(row, column.name, after)
    if name == "limits" and column.name == "quantity":
        row.quantity = "flex-angle"
    row.save()
    (found,) = apart(pair)
    assert found.field.startswith(f"{name}.")
    assert found.field.endswith(f".{column.name}")
    assert found.what == str(column.label)
    assert found.before != found.after


@pytest.mark.parametrize("name", sorted(ROW_LISTS))
def test_a_row_added_and_a_row_left_out_are_each_told_once_with_all_they_say(pair, name):
    getattr(pair[1], name).last().delete()
    (left_out,) = apart(pair)
    (added,) = compare_versions(fresh(pair[1]), fresh(pair[0]), "metric")
    assert (left_out.after, added.before) == ("not stated", "not stated")
    assert left_out.before == added.after != "not stated"
    assert (left_out.what, added.what) == ("row left out", "row added")


def test_a_difference_is_told_in_the_readers_units_with_as_many_decimals_as_it_takes(pair, engineer):
    changed(engineer, pair[1], dbse_mm=101.6, torque_rating_nm=900.001)
    dbse, rating = sorted(apart(pair), key=lambda one: one.field)
    assert (dbse.before, dbse.after) == ("90.0\u00a0mm", "101.6\u00a0mm")
    assert rating.before != rating.after
    dbse = next(one for one in apart(pair, "us") if one.field == "dbse_mm")
    # 1 in = 25.4 mm exactly.
    assert (dbse.before, dbse.after) == ("3.543\u00a0inch", "4.000\u00a0inch")


def test_what_visits_are_judged_by_is_marked(pair, engineer):
    limits = [
        row | ({"stated_value": 0.3} if row["quantity"] == "offset" else {}) for row in rows_of(pair[1], "limits")
    ]
    changed(engineer, pair[1], limits=limits, note="other")
    assert {one.field: one.held_to for one in apart(pair)} == {"limits.offset.stated_value": True, "note": False}
