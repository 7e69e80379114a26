"""Data sheets: drafts, publishing, and what never changes afterwards."""

import json
from hashlib import sha256

import pytest

from couplings.models import DataSheet, SheetLimit, SheetVersion
from couplings.selectors.sheets import digest_of, text_of
from couplings.services.sheets import begin_version, change_sheet, change_version, publish_version, write_sheet
from plant.recording import recording
from plant.refusals import Missing, NotAllowed, Refused, Stale
from tests.factories import NOW, DataSheetFactory, FamilyFactory

OFFSET = {"quantity": "offset", "stated_as": "length", "stated_value": 0.2}
GAP = {"quantity": "angularity", "stated_as": "gap-difference", "stated_value": 0.1, "over_diameter_mm": 100.0}
BOLTS = {"name": "hub bolts", "thread": "M10", "positions": 8, "torque_nm": 45.0}


def written(by, site, **fields):
    given = {"designation": "Jaw 80", "limits": [OFFSET, GAP], "joints": [BOLTS], "dbse_mm": 140.0} | fields
    with recording(by=by, at=NOW):
        return write_sheet(site=site, family=FamilyFactory(), **given)


def published(by, site, **fields):
    version = written(by, site, **fields).versions.get()
    with recording(by=by, at=NOW):
        return publish_version(version=version)


def refusal(call, **fields):
    """What is said, by field, when a service refuses; and nothing is left behind."""
    with pytest.raises(Refused) as refused, recording(by=fields.pop("by", None), at=NOW):
        call(**fields)
    return refused.value.as_dict()


def test_a_new_sheet_has_one_unpublished_version_with_its_limits_and_joints(engineer, site):
    sheet = written(engineer, site)
    version = sheet.versions.get()
    assert (version.number, version.published_at, version.digest) == (1, None, "")
    assert [limit.quantity for limit in version.limits.all()] == ["angularity", "offset"]
    assert version.joints.get().positions == 8
    sheet.refresh_from_db()
    assert sheet.changed_no > 0


def test_every_error_of_a_sheet_is_told_at_once_and_nothing_is_saved(engineer, site):
    errors = refusal(
        write_sheet,
        by=engineer,
        site=site,
        family=FamilyFactory(),
        designation="",
        dbse_mm=float("nan"),
        hub_length_mm=0.5,
        rule="either",
        limits=[
            OFFSET | {"stated_value": float("inf")},
            OFFSET,
            GAP | {"over_diameter_mm": None},
            {"quantity": "axial", "stated_as": "degrees", "stated_value": 1.0},
        ],
        joints=[BOLTS | {"positions": 0}, BOLTS | {"recheck": "not-allowed"}],
    )
    assert errors["dbse_mm"] == "It must lie between 0 and 20000."
    assert errors["hub_length_mm"] == "It must lie between 1 and 5000."
    assert errors["limits.0.stated_value"] == "Give the limit as a number above zero."
    assert errors["limits.1.quantity"] == "Offset is limited twice: row 1 has it already."
    assert errors["limits.2.over_diameter_mm"] == "Say over which diameter the gap difference is taken."
    assert errors["limits.3.stated_as"] == "A limit on axial is stated as a length."
    assert errors["joints.0.positions"] == "A joint has 1 to 64 positions."
    assert errors["joints.1.name"] == "Another joint of this version has this name."
    assert errors["joints.1.recheck_reason"].startswith("Say why it must not be re-checked")
    assert {"designation", "rule"} <= set(errors)
    assert not DataSheet.objects.exists()


def test_a_limit_far_outside_the_trade_points_at_its_unit(engineer, site):
    slip = GAP | {"stated_value": 900.0, "over_diameter_mm": 1.0}
    errors = refusal(write_sheet, by=engineer, site=site, family=FamilyFactory(), designation="Jaw 80", limits=[slip])
    assert errors == {"limits.0.stated_value": "This is far outside anything in the trade: check its unit."}


def test_a_designation_stands_once_per_site(engineer, site, stranger, other_site):
    written(engineer, site)
    assert refusal(write_sheet, by=engineer, site=site, family=FamilyFactory(), designation=" Jaw 80 ") == {
        "designation": "This site has a data sheet of this designation already."
    }
    written(stranger, other_site)


def test_the_same_id_twice_is_told_beside_the_id(engineer, site):
    sheet = written(engineer, site)
    errors = refusal(write_sheet, by=engineer, site=site, family=FamilyFactory(), designation="Jaw 90", uuid=sheet.uuid)
    assert errors == {"id": "Something with this id exists already."}


def test_only_those_who_write_sheets_write_them(mechanic, stranger, keeper, site):
    with pytest.raises(NotAllowed):
        written(mechanic, site)
    with pytest.raises(Missing):
        written(stranger, site)
    written(keeper, site)


def test_publishing_takes_somebody_who_approves_limits(keeper, engineer, site):
    version = written(keeper, site).versions.get()
    with pytest.raises(NotAllowed), recording(by=keeper, at=NOW):
        publish_version(version=version)
    with recording(by=engineer, at=NOW):
        publish_version(version=version)
    version.refresh_from_db()
    assert (version.published_by, version.published_at) == (engineer, NOW)


def test_a_published_version_refuses_every_change(engineer, site):
    version = published(engineer, site)
    before = text_of(version)
    sentence = "Version 1 is published and stays as it is: begin a new version to change it."
    for change in [{"note": "x"}, {"limits": []}, {"joints": [BOLTS]}, {"dbse_mm": 141.0}]:
        assert refusal(change_version, by=engineer, version=version, **change) == {"": sentence}
    assert refusal(publish_version, by=engineer, version=version) == {"": sentence}
    version = SheetVersion.objects.get(pk=version.pk)
    assert text_of(version) == before
    assert version.digest == digest_of(version)


def test_the_digest_is_taken_over_everything_a_visit_could_be_judged_by(engineer, site):
    version = published(engineer, site)
    # The independent route: the text read back by the standard library, without our writer.
    content = json.loads(text_of(version))
    assert sha256(json.dumps(content, sort_keys=True, separators=(",", ":")).encode()).hexdigest() == version.digest
    assert content["sheet"] == str(version.sheet.uuid)
    # Behind the services' back, as somebody with a database shell could.
    SheetLimit.objects.filter(version=version, quantity="offset").update(value=0.4)
    assert digest_of(SheetVersion.objects.get(pk=version.pk)) != version.digest


def test_a_new_version_begins_as_a_copy_and_the_old_one_stays(engineer, site):
    first = published(engineer, site)
    with recording(by=engineer, at=NOW):
        second = begin_version(sheet=first.sheet)
        change_version(version=second, limits=[OFFSET | {"stated_value": 0.1}])
    assert (second.number, second.dbse_mm, second.joints.get().torque_nm) == (2, 140.0, 45.0)
    assert second.limits.get().value == 0.1
    assert first.limits.get(quantity="offset").value == 0.2
    assert refusal(begin_version, by=engineer, sheet=first.sheet) == {
        "": "Version 2 is not published yet: change that one, or publish it first."
    }


def test_a_stale_version_of_the_sheet_is_refused(engineer, site):
    sheet = written(engineer, site)
    with recording(by=engineer, at=NOW):
        change_version(version=sheet.versions.get(), expected=1, note="first")
    with pytest.raises(Stale), recording(by=engineer, at=NOW):
        change_version(version=sheet.versions.get(), expected=1, note="second")
    assert sheet.versions.get().note == "first"


def test_the_family_stays_once_a_version_is_published(engineer, site):
    version = published(engineer, site)
    other = FamilyFactory(code="disc", name="Disc", kind="spacer")
    errors = refusal(change_sheet, by=engineer, sheet=version.sheet, family=other)
    assert errors == {"family": "A version is published: the family stays. Write another data sheet."}
    with recording(by=engineer, at=NOW):
        change_sheet(sheet=version.sheet, designation="Jaw 81")
    assert DataSheet.objects.get().designation == "Jaw 81"


def test_renaming_to_a_taken_designation_is_refused(engineer, site):
    DataSheetFactory(site=site, designation="Jaw 90")
    sheet = written(engineer, site)
    assert "designation" in refusal(change_sheet, by=engineer, sheet=sheet, designation="Jaw 90")
