"""Everything a data sheet may hold: kept as written, copied whole, refused with a sentence, frozen once published."""

import json

import pytest

from couplings.models import SheetHoldPoint
from couplings.selectors.sheet_lists import ROW_LISTS, all_rows_of
from couplings.selectors.sheets import (
    VERSION_FIELDS,
    digest_of,
    hold_points_of,
    hub_of,
    mounting_kind_of,
    screw_at,
    text_of,
)
from couplings.services.sheets import begin_version, change_version, copy_sheet, write_sheet
from plant.recording import recording
from plant.refusals import NotAllowed, Refused
from tests.couplings.sheets_written import FIELDS, LISTS, family, publish, write_full
from tests.factories import NOW, FamilyFactory


def said(version):
    """All that a version says, whatever it is called."""
    return {name: getattr(version, name) for name in VERSION_FIELDS}, all_rows_of(version)


def refusal(by, version, **fields):
    with pytest.raises(Refused) as refused, recording(by=by, at=NOW):
        change_version(version=version, **fields)
    return refused.value.as_dict()


def test_a_sheet_keeps_every_field_and_every_row_it_was_written_with(engineer, site):
    version = write_full(engineer, site)
    fields, rows = said(version)
    assert fields == FIELDS | {"element_part": "E-80"}
    for name, given in LISTS.items():
        kept = {tuple(row[key] for key in ROW_LISTS[name].key): row for row in rows[name]}
        for row in given:
            assert kept[tuple(row[key] for key in ROW_LISTS[name].key)].items() >= row.items()
        assert len(kept) == len(given)
    assert set(LISTS) | {"wear_limits"} == set(ROW_LISTS)


@pytest.mark.parametrize("code", ["gear", "disc", "rigid", "generic"])
def test_a_sheet_of_any_family_takes_hubs_lengths_and_hold_points(engineer, site, code):
    kept = FamilyFactory(code=code, name=code, kind="other", element_name="")
    lists = {name: LISTS[name] for name in ("hubs", "spacers", "screws", "hold_points")}
    with recording(by=engineer, at=NOW):
        version = write_sheet(site=site, family=kept, designation=code, **lists).versions.get()
    assert version.hubs.count() == 2


def test_a_copy_says_exactly_what_the_original_says_and_is_a_draft(engineer, site):
    original = publish(engineer, write_full(engineer, site))
    with recording(by=engineer, at=NOW):
        copy = copy_sheet(sheet=original.sheet, designation=" Full 90 ")
    version = copy.versions.get()
    assert said(version) == said(original)
    assert (copy.designation, copy.family, copy.note) == ("Full 90", original.sheet.family, original.sheet.note)
    assert (version.number, version.published_at, version.published_by, version.digest) == (1, None, None, "")
    assert copy.uuid != original.sheet.uuid
    copy.refresh_from_db()
    assert copy.changed_no > 0


def test_a_copy_may_be_of_an_older_version(engineer, site):
    first = publish(engineer, write_full(engineer, site))
    with recording(by=engineer, at=NOW):
        second = begin_version(sheet=first.sheet)
        change_version(version=second, note="later")
        copy = copy_sheet(sheet=first.sheet, designation="Full 90", number=1)
        latest = copy_sheet(sheet=first.sheet, designation="Full 95")
    assert (copy.versions.get().note, latest.versions.get().note) == ("invented", "later")


def test_a_copy_is_refused_under_a_taken_name_of_no_version_and_to_a_mechanic(engineer, mechanic, site):
    version = write_full(engineer, site)
    for given, errors in (
        ({"designation": "Full 80"}, {"designation": "This site has a data sheet of this designation already."}),
        ({"designation": "X", "number": 7}, {"number": "This data sheet has no such version to copy."}),
    ):
        with pytest.raises(Refused) as refused, recording(by=engineer, at=NOW):
            copy_sheet(sheet=version.sheet, **given)
        assert refused.value.as_dict() == errors
    with pytest.raises(NotAllowed), recording(by=mechanic, at=NOW):
        copy_sheet(sheet=version.sheet, designation="X")


def test_a_published_version_refuses_every_field_and_every_list(engineer, site):
    version = publish(engineer, write_full(engineer, site))
    before = text_of(version)
    for change in [{name: None} for name in VERSION_FIELDS] + [{name: []} for name in ROW_LISTS]:
        assert refusal(engineer, version, **change) == {
            "": "Version 1 is published and stays as it is: begin a new version to change it."
        }
    version.refresh_from_db()
    assert text_of(version) == before
    assert version.digest == digest_of(version)


def test_the_digest_covers_the_new_lists_and_leaves_out_empty_ones(engineer, site):
    version = write_full(engineer, site)
    before = digest_of(version)
    SheetHoldPoint.objects.filter(version=version).update(role="manager")
    assert digest_of(type(version).objects.get(pk=version.pk)) != before
    bare = write_full(engineer, site, "Bare", hubs=[], spacers=[], screws=[], element_parts=[], hold_points=[])
    # A version published before these lists existed has none of them in its text.
    assert not {"hubs", "spacers", "screws", "element_parts", "hold_points"} & set(json.loads(text_of(bare)))


def test_a_step_asks_for_its_hold_points_and_a_side_for_its_hub(engineer, site):
    version = write_full(engineer, site)
    assert [(point.what, point.role) for point in hold_points_of(version, "placement")] == [
        ("Engagement of both hubs", "engineer")
    ]
    assert hold_points_of(version, "as-left") == []
    assert (hub_of(version, "driver").bore_length_mm, hub_of(version, "driven").bore_length_mm) == (60.0, 70.0)
    assert (mounting_kind_of(version, "driver"), mounting_kind_of(version, "driven")) == ("heated", "clearance")


@pytest.mark.parametrize(
    ("bore", "kind", "size"),
    [
        (20, "set", "M8"),
        (38, "set", "M8"),
        (38.1, "set", "M10"),
        (75, "clamp", "M12"),
        (76, "set", None),
        (None, "set", None),
    ],
)
def test_the_screw_of_a_bore_is_that_of_its_band_upper_end_included(engineer, site, bore, kind, size):
    row = screw_at(write_full(engineer, site), bore, kind)
    assert (row.size if row else None) == size


def test_the_element_follows_the_standard_part(engineer, site):
    version = write_full(engineer, site)
    parts = [row | {"standard": row["part_number"] == "E-80-H"} for row in LISTS["element_parts"]]
    with recording(by=engineer, at=NOW):
        change_version(version=version, element_parts=parts)
    version.refresh_from_db()
    assert version.element_part == "E-80-H"
    assert refusal(engineer, version, element_part="E-90") == {
        "element_part": "The list of parts has E-80-H as the standard one, not E-90."
    }


HUB, SCREW, POINT = LISTS["hubs"][1] | {"side": "both"}, LISTS["screws"][0], LISTS["hold_points"][0]
PART, LENGTH = LISTS["element_parts"][0], LISTS["spacers"][0]


@pytest.mark.parametrize(
    ("fields", "where", "sentence"),
    [
        ({"hubs": [HUB, HUB]}, "hubs.1.side", "The hub of both sides has a row already."),
        (
            {"hubs": [HUB, HUB | {"side": "driver"}]},
            "hubs.1.side",
            "Give one row for both sides, or one for each side, not both kinds.",
        ),
        (
            {"hubs": [HUB | {"side": "driver"}]},
            "hubs",
            "The hub of the driven side is missing: give its row too, or one row for both sides.",
        ),
        ({"hubs": [HUB | {"bore_length_mm": None}]}, "hubs.0.bore_length_mm", "Give the length of this hub's bore."),
        (
            {"hubs": [HUB | {"bore_length_mm": float("nan")}]},
            "hubs.0.bore_length_mm",
            "It must lie between 1 and 5000.",
        ),
        (
            {"hubs": [HUB | {"flange_mm": 800.0}]},
            "hubs.0.flange_mm",
            "This flange plane is far off the hub: look for a slipped decimal.",
        ),
        (
            {"hubs": [HUB | {"overhang_mm": 70.0}]},
            "hubs.0.overhang_mm",
            "With this overhang no shaft is left in the bore.",
        ),
        ({"hubs": [HUB | {"protrusion_mm": -1.0}]}, "hubs.0.protrusion_mm", "It must lie between 0 and 5000."),
        ({"spacers": [LENGTH, LENGTH]}, "spacers.1.name", "Another position of this version has this name."),
        ({"spacers": [LENGTH | {"name": " "}]}, "spacers.0.name", "Name this position, such as “inner holes”."),
        (
            {"spacers": [LENGTH | {"length_mm": None}]},
            "spacers.0.length_mm",
            "Give the length from flange plane to flange plane.",
        ),
        (
            {"spacers": [LENGTH | {"length_mm": float("inf")}]},
            "spacers.0.length_mm",
            "It must lie between 0 and 20000.",
        ),
        (
            {"screws": [SCREW, SCREW | {"over_bore_mm": 20.0, "up_to_bore_mm": 50.0}]},
            "screws.1.over_bore_mm",
            "This band of bores overlaps that of row 1.",
        ),
        (
            {"screws": [SCREW | {"up_to_bore_mm": 0.0}]},
            "screws.0.up_to_bore_mm",
            "The band of bores ends below its beginning.",
        ),
        ({"screws": [SCREW | {"source": ""}]}, "screws.0.source", "Name the source of this row."),
        ({"screws": [SCREW | {"size": " "}]}, "screws.0.size", "Name the screw's thread, such as M10 or 3/8."),
        ({"screws": [SCREW | {"torque_nm": None}]}, "screws.0.torque_nm", "Give the torque of this screw."),
        ({"element_parts": [PART, PART]}, "element_parts.1.part_number", "This part number is in the list already."),
        (
            {"element_parts": [PART, PART | {"part_number": "E-81"}]},
            "element_parts.1.standard",
            "E-80 is the standard one already: only one can be.",
        ),
        ({"element_parts": [PART | {"part_number": ""}]}, "element_parts.0.part_number", "Give the part number."),
        (
            {"hold_points": [POINT | {"step": "lunch"}]},
            "hold_points.0.step",
            "No step of a visit has this key. There are: isolation,",
        ),
        ({"hold_points": [POINT | {"what": ""}]}, "hold_points.0.what", "Say what is witnessed."),
        ({"hold_points": [POINT, POINT]}, "hold_points.1.what", "The same is witnessed in this step already."),
        ({"hold_points": [POINT | {"role": ""}]}, "hold_points.0.role", "Say whose role may witness it."),
    ],
)
def test_a_bad_row_is_refused_beside_its_field_and_nothing_is_saved(engineer, site, fields, where, sentence):
    version = write_full(engineer, site)
    before = text_of(version)
    assert refusal(engineer, version, **fields)[where].startswith(sentence)
    assert text_of(type(version).objects.get(pk=version.pk)) == before


def test_a_list_nobody_knows_is_a_fault_of_the_caller(engineer, site):
    with pytest.raises(TypeError), recording(by=engineer, at=NOW):
        write_sheet(site=site, family=family(), designation="X", belts=[])
