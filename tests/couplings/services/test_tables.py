"""A site's own tables: begun from starters with their marks, changed, removed, refused, and kept with their history."""

import pytest

from couplings.models import FailureCode, FitClass, NutFactor, SecondScrewFactor, TighteningScatter, WearWording
from couplings.selectors.tables import fit_classes_at, nut_factors_at, scatter_at, second_screws_at
from couplings.services.starters import load_starters
from couplings.services.tables import TABLES, change_table_row, load_table, remove_table_row, write_table_row
from plant.models import Tombstone
from plant.recording import recording
from plant.refusals import NotAllowed, Refused, Stale
from plant.selectors.history import history_of
from tests.factories import NOW

NEW = {
    NutFactor: {"of_set": "ours", "condition": "waxed", "nut_factor": 0.12},
    TighteningScatter: {"of_set": "ours", "method": "by hand", "scatter": 0.35},
    SecondScrewFactor: {"from_deg": 90.0, "to_deg": 100.0, "factor": 1.5},
    FitClass: {
        "name": "press", "over_mm": 25.4, "up_to_mm": 50.8, "bore_lower_mm": 0.0, "bore_upper_mm": 0.02,
        "shaft_lower_mm": 0.03, "shaft_upper_mm": 0.04,
    },
    FailureCode: {"kind": "mode", "code": "XXX", "name": "stands still"},
}  # fmt: skip
OUR = "test on our own rig"


@pytest.fixture
def starters(site):
    with recording(by=None, at=NOW):
        load_starters(site=site)


def write(site, by, model, **fields):
    with recording(by=by, at=NOW):
        return write_table_row(model=model, site=site, **NEW[model] | {"source": OUR} | fields)


def test_every_table_but_fit_classes_begins_with_marked_starters(site, starters):
    # A site's wording of wear codes begins with none and is tried in test_wear_wordings.py.
    assert set(TABLES) == {*NEW, WearWording}
    assert not WearWording.objects.exists()
    marks = {model: set(model.objects.filter(site=site).values_list("mark", flat=True)) for model in NEW}
    assert marks == {
        NutFactor: {"published"},
        TighteningScatter: {"published"},
        SecondScrewFactor: {"from memory", "common practice"},
        FitClass: set(),
        FailureCode: {"from memory"},
    }
    assert not [row for model in NEW for row in model.objects.all() if not row.source]


def test_shigleys_four_nut_factors_are_there(site, starters):
    # Shigley's Mechanical Engineering Design, 9th ed., table 8-15
    rows = NutFactor.objects.filter(site=site, of_set="shigley")
    assert {row.condition: row.nut_factor for row in rows} == {
        "bare": 0.30,
        "zinc plated": 0.20,
        "lubricated": 0.18,
        "cadmium plated": 0.16,
    }


def test_two_screws_in_line_hold_twice_and_at_65_degrees_one_and_three_quarters(site, starters):
    # Common practice.
    rows = {row.from_deg: row.factor for row in SecondScrewFactor.objects.filter(site=site)}
    assert (rows[0], rows[65]) == (2.0, 1.75)


def test_loading_again_leaves_what_the_site_worded_itself(site, starters, engineer):
    row = NutFactor.objects.get(site=site, of_set="shigley", condition="bare")
    with recording(by=engineer, at=NOW):
        change_table_row(row=row, nut_factor=0.27, source=OUR)
        remove_table_row(row=NutFactor.objects.get(of_set="shigley", condition="lubricated"))
    count = NutFactor.objects.count()
    with recording(by=engineer, at=NOW):
        assert [one.condition for one in load_table(model=NutFactor, site=site)] == ["lubricated"]
        assert load_table(model=NutFactor, site=site) == []
    row.refresh_from_db()
    assert (row.nut_factor, row.source, row.mark, row.version) == (0.27, OUR, "site", 2)
    assert NutFactor.objects.count() == count + 1


def test_no_starter_bends_the_factors_by_angle_that_a_site_wrote(site, engineer):
    write(site, engineer, SecondScrewFactor)
    with recording(by=engineer, at=NOW):
        assert load_table(model=SecondScrewFactor, site=site) == []


@pytest.mark.parametrize("model", list(NEW), ids=lambda model: model.__name__)
def test_a_row_is_written_changed_and_removed_with_its_history(site, engineer, model):
    row = write(site, engineer, model)
    with recording(by=engineer, at=NOW):
        change_table_row(row=row, expected=1, source="another test")
    kept = history_of(model.objects.get(pk=row.pk))
    assert [(one.done, one.by, one.version) for one in kept] == [
        ("changed", str(engineer), 2),
        ("made", str(engineer), 1),
    ]
    assert [(one.field, one.before, one.after) for one in kept[0].changes] == [("source", OUR, "another test")]
    pk = row.pk
    with recording(by=engineer, at=NOW):
        remove_table_row(row=row, expected=2)
    assert not model.objects.exists()
    assert list(model.history.filter(id=pk).values_list("history_type", flat=True)) == ["-", "~", "+"]
    assert Tombstone.objects.get().noun == model._meta.model_name


@pytest.mark.parametrize("model", list(NEW), ids=lambda model: model.__name__)
def test_only_who_sets_policies_writes_and_nobody_over_a_change_not_seen(site, engineer, mechanic, model):
    row = write(site, engineer, model)
    with pytest.raises(NotAllowed):
        write(site, mechanic, model)
    for act in (change_table_row, remove_table_row):
        with pytest.raises(NotAllowed), recording(by=mechanic, at=NOW):
            act(row=row)
        with pytest.raises(Stale), recording(by=engineer, at=NOW):
            act(row=row, expected=7)
    with pytest.raises(NotAllowed), recording(by=mechanic, at=NOW):
        load_table(model=model, site=site)
    assert model.objects.get().version == 1


@pytest.mark.parametrize(
    ("model", "fields", "errors"),
    [
        (NutFactor, {"source": " "}, {"source": "Name the source of this row: published ones do not agree."}),
        (NutFactor, {"nut_factor": 20.0}, {"nut_factor": "It must lie between 0.03 and 1."}),
        (NutFactor, {"nut_factor": float("nan")}, {"nut_factor": "It must lie between 0.03 and 1."}),
        (NutFactor, {"low": 0.1}, {"high": "A range has both ends: give this one too, or leave both out."}),
        (
            NutFactor,
            {"low": 0.2, "high": 0.3},
            {"nut_factor": "This lies outside the range beside it, 0.2 to 0.3."},
        ),
        (NutFactor, {"condition": ""}, {"condition": "This field cannot be blank."}),
        (TighteningScatter, {"scatter": 25.0}, {"scatter": "It must lie between 0 and 0.99."}),
        (TighteningScatter, {"scatter": float("inf")}, {"scatter": "It must lie between 0 and 0.99."}),
        (SecondScrewFactor, {"factor": 2.5}, {"factor": "It must lie between 1 and 2."}),
        (SecondScrewFactor, {"to_deg": 200.0}, {"to_deg": "It must lie between 0 and 180."}),
        (SecondScrewFactor, {"to_deg": 80.0}, {"to_deg": "The range ends before it begins: exchange the two."}),
        (FitClass, {"up_to_mm": 20.0}, {"up_to_mm": "The band ends below its beginning."}),
        (FitClass, {"bore_upper_mm": -0.1}, {"bore_upper_mm": "The upper deviation lies below the lower one."}),
        (FitClass, {"shaft_lower_mm": 25.0}, {"shaft_lower_mm": "It must lie between -5 and 5."}),
        (FitClass, {"over_mm": float("nan")}, {"over_mm": "It must lie between 0 and 2000."}),
        (FailureCode, {"kind": "mood"}, {"kind": "Value 'mood' is not a valid choice."}),
        (FailureCode, {"name": ""}, {"name": "This field cannot be blank."}),
    ],
)
def test_a_row_that_cannot_be_meant_is_refused_beside_its_field(site, engineer, model, fields, errors):
    with pytest.raises(Refused) as refused:
        write(site, engineer, model, **fields)
    assert refused.value.as_dict() == errors
    assert not model.objects.exists()


@pytest.mark.parametrize(
    ("model", "fields", "errors"),
    [
        (NutFactor, {}, {"condition": "This site has a nut factor for waxed in ours: change that one."}),
        (TighteningScatter, {}, {"method": "This site has a scatter for by hand in ours already: change that one."}),
        (
            SecondScrewFactor,
            {"from_deg": 95.0, "to_deg": 120.0},
            {"from_deg": "The row from 90 to 100 degrees has this angle already."},
        ),
        (FitClass, {"over_mm": 30.0}, {"over_mm": "Another band of this class has some of these sizes already."}),
        (FailureCode, {}, {"code": "This site has the mode XXX already: change that one."}),
    ],
)
def test_a_row_that_says_again_what_another_says_is_refused(site, engineer, model, fields, errors):
    write(site, engineer, model)
    with pytest.raises(Refused) as refused:
        write(site, engineer, model, **fields)
    assert refused.value.as_dict() == errors


def test_a_site_goes_by_its_own_rows_and_by_the_starters_where_it_has_none(site, other_site, engineer):
    for model in NEW:
        write(site, engineer, model)
    assert [(key, row.condition, row.mark) for key, rows in nut_factors_at(site).items() for row in rows] == [
        ("ours", "waxed", "site")
    ]
    assert [(key, row.method) for key, rows in scatter_at(site).items() for row in rows] == [("ours", "by hand")]
    assert [(row.angle_deg, row.factor) for row in second_screws_at(site)] == [(90, 1.5), (100, 1.5)]
    (row,) = fit_classes_at(site)
    assert (row.over_in, row.up_to_in, row.source) == (1.0, 2.0, OUR)
    assert set(nut_factors_at(other_site)) == {"shigley", "nasa-tm-106943"}
    assert len(scatter_at(other_site)) == 3
    assert second_screws_at(other_site)[0].factor == 2.0
    assert fit_classes_at(other_site) == ()
