"""The fit, the key and the mounting that a data sheet specifies."""

import pytest

from couplings.models import SheetVersion
from couplings.selectors.sheets import text_of
from couplings.services.sheets import begin_version, change_version, publish_version, write_sheet
from plant.recording import recording
from tests.couplings.services.test_sheets import published, refusal, written
from tests.factories import NOW, FamilyFactory

SPECIFIED = {
    "bore_mm": 50.0, "fit_hole": "H7", "fit_shaft": "m6", "key_standard": "din-6885", "mounting_kind": "heated",
}  # fmt: skip


@pytest.mark.parametrize(
    ("fields", "errors"),
    [
        ({"fit_hole": "H7"}, {"fit_shaft": "Give the class of the shaft as well, or leave the bore's out."}),
        ({"fit_shaft": "m6"}, {"fit_hole": "Give the class of the bore as well, or leave the shaft's out."}),
        ({"fit_hole": "F7", "fit_shaft": "m6"}, {"fit_hole": "Choose one of: H6, H7, H8."}),
        (
            {"fit_hole": "H7", "fit_shaft": "s6"},
            {"fit_shaft": "Choose one of: g6, h6, j6, js6, k6, m6, n6, p6."},
        ),
        (
            {"fit_hole": "H7", "fit_shaft": "m6", "bore_mm": 260.0},
            {"bore_mm": "No row of the table holds 260 mm: the sizes served are over 3 up to 250 mm."},
        ),
    ],
)
def test_a_fit_is_two_served_classes_or_none(engineer, site, fields, errors):
    given = {"site": site, "family": FamilyFactory(), "designation": "Jaw 50", **fields}
    assert refusal(write_sheet, by=engineer, **given) == errors
    assert not SheetVersion.objects.exists()


def test_key_and_mounting_are_choices(engineer, site):
    given = {"site": site, "family": FamilyFactory(), "designation": "Jaw 50"}
    said = refusal(write_sheet, by=engineer, **given, key_standard="mine", mounting_kind="glue")
    assert set(said) == {"key_standard", "mounting_kind"}


def test_what_is_specified_is_changed_copied_and_covered_by_the_digest(engineer, site):
    version = written(engineer, site).versions.get()
    with recording(by=engineer, at=NOW):
        change_version(version=version, **SPECIFIED)
    before = text_of(version)
    with recording(by=engineer, at=NOW):
        change_version(version=version, fit_shaft="k6")
    assert text_of(version) != before
    with recording(by=engineer, at=NOW):
        publish_version(version=version)
        copy = begin_version(sheet=version.sheet)
    assert {name: getattr(copy, name) for name in SPECIFIED} == SPECIFIED | {"fit_shaft": "k6"}


def test_a_fit_may_be_specified_without_a_bore(engineer, site):
    assert published(engineer, site, fit_hole="H7", fit_shaft="m6").fit_shaft == "m6"
