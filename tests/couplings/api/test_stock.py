"""Stock, reasons of removal, moves, hub halves and calibrations over the API, and what it refuses of them."""

import pytest

from couplings.models import StockLot, StockMovement
from tests.couplings.api.conftest import faults, mm
from tests.factories import CouplingFactory, InstrumentFactory, TrainFactory

FITS, ELEMENTS, INSTRUMENTS = "/api/v1/fits/", "/api/v1/elements/", "/api/v1/instruments/"
LOTS, REASONS, COUPLINGS = "/api/v1/stock-lots/", "/api/v1/removal-reasons/", "/api/v1/couplings/"


@pytest.fixture
def receipt(site):
    return {"site": str(site.uuid), "part_number": "E-80", "batch": "B-1", "cured_on": "2024-03-01", "number": 4}


@pytest.fixture
def other_place(site):
    return CouplingFactory(train=TrainFactory(site=site, tag="BF-22"))


def test_a_receipt_makes_a_lot_and_the_next_adds_to_it(as_person, keeper, receipt, site):
    client = as_person(keeper)
    made = client.post(LOTS, receipt, format="json")
    assert (made.status_code, made.json()["count"]) == (201, 4), made.json()
    again = client.post(LOTS, receipt | {"number": 2, "place": "Shelf 3"}, format="json")
    assert (again.json()["id"], again.json()["count"], again.json()["place"]) == (made.json()["id"], 6, "Shelf 3")
    where = made["Location"]
    stale = client.patch(where, {"place": "x"}, format="json", headers={"If-Match": made["ETag"]})
    assert stale.status_code == 412
    read = client.get(where)
    patched = client.patch(where, read.json() | {"polymer": "nbr"}, format="json", headers={"If-Match": read["ETag"]})
    assert (patched.status_code, patched.json()["polymer"]) == (200, "NBR"), patched.json()
    assert patched.json()["storage"]["verdict"] == "not known", "no rule is in use"
    counted = client.post(where + "move/", {"kind": "correction", "number": 5, "note": "one lost"}, format="json")
    assert counted.json()["count"] == 5
    rows = client.get(where + "movements/").json()["results"]
    assert [(row["kind"], row["change"], row["count_after"]) for row in rows] == [
        ("receipt", 4, 4), ("receipt", 2, 6), ("correction", -1, 5),
    ]  # fmt: skip
    assert len(client.get(f"{LOTS}?site={site.uuid}&part_number=E-80&in_store=true").json()["results"]) == 1


def test_receipts_come_in_bulk_and_a_delta_shows_each_lot_once(as_person, keeper, mechanic, receipt, site):
    rows = [receipt, receipt, receipt | {"number": 0}, receipt | {"batch": "B-2"}]
    answer = as_person(keeper).post(LOTS + "bulk/", {"rows": rows}, format="json").json()
    assert [row["status"] for row in answer["rows"]] == [201, 201, 422, 201]
    assert answer["rows"][2]["errors"][0]["pointer"] == "/number"
    client = as_person(mechanic)
    page = client.get(LOTS, {"site": str(site.uuid), "updated_since": "2020-01-01T00:00:00Z"}).json()
    assert sorted((row["batch"], row["count"]) for row in page["results"]) == [("B-1", 8), ("B-2", 4)]
    lot = StockLot.objects.get(batch="B-2")
    as_person(keeper).post(f"{LOTS}{lot.uuid}/move/", {"kind": "issue", "number": 1}, format="json")
    assert [row["count"] for row in client.get(LOTS, {"after": page["after"]}).json()["results"]] == [3]


def test_the_same_receipt_sent_twice_under_one_key_is_one(as_person, keeper, receipt):
    client, key = as_person(keeper), {"Idempotency-Key": "receipt-1"}
    for _ in range(2):
        assert client.post(LOTS, receipt, format="json", headers=key).json()["count"] == 4
    assert StockMovement.objects.count() == 1


def test_an_element_is_taken_from_a_lot_and_taken_out_again(as_person, keeper, engineer, mechanic, receipt, fit, site):
    lot = as_person(keeper).post(LOTS, receipt, format="json").json()
    worn = {"site": str(site.uuid), "code": "worn", "title": "worn out", "failure": True}
    reason = as_person(engineer).post(REASONS, worn, format="json").json()
    client = as_person(mechanic)
    made = client.post(ELEMENTS, {"fit": str(fit.uuid), "lot": lot["id"], "fitted_on": "2026-10-10"}, format="json")
    assert made.status_code == 201, made.json()
    assert (made.json()["part_number"], made.json()["cured_on"], made.json()["lot"]) == (
        "E-80",
        "2024-03-01",
        lot["id"],
    )
    assert client.get(LOTS + lot["id"] + "/").json()["count"] == 3
    out = client.post(
        made["Location"] + "take-out/",
        {"removed_on": "2026-10-12", "removal_code": reason["id"], "removal_finding": "torn", "went": "maker"},
        format="json",
    )
    assert (out.status_code, out.json()["removal_code"], out.json()["went"]) == (200, reason["id"], "maker"), out.json()
    mended = client.patch(
        made["Location"], out.json() | {"went": "scrapped"}, format="json", headers={"If-Match": out["ETag"]}
    )
    assert (mended.status_code, mended.json()["went"]) == (200, "scrapped"), mended.json()
    assert len(client.get(f"{ELEMENTS}?lot={lot['id']}").json()["results"]) == 1


def test_a_fit_says_what_is_in_it_moves_and_is_found_by_its_numbers(as_person, mechanic, fit, other_place, site):
    client, where = as_person(mechanic), f"{FITS}{fit.uuid}/"
    hubs = [{"side": "driver", "serial": "H-1", "bore": mm(60.01)}, {"side": "driven", "serial": "H-2"}]
    sent = {"hubs": hubs, "bolt_set": "set 4", "bolts_reused": 1, "spacer_position": "inner holes"}
    said = client.patch(where, sent, format="json", headers={"If-Match": "*"})
    assert said.status_code == 200, said.json()
    assert [(one["side"], one["serial"], one["bore"]) for one in said.json()["hubs"]] == [
        ("driven", "H-2", None), ("driver", "H-1", mm(60.01)),
    ]  # fmt: skip
    same = client.patch(where, said.json(), format="json", headers={"If-Match": said["ETag"]})
    assert same.status_code == 200, same.json()
    swapped = client.post(
        where + "swap-hub/",
        {"side": "driver", "on": "2026-10-11", "serial": "H-5", "came_with": "M-77", "removal_reason": "new motor"},
        format="json",
    )
    assert [one["serial"] for one in swapped.json()["hubs"]] == ["H-2", "H-5"], swapped.json()
    moved = client.post(where + "move/", {"to": str(other_place.uuid), "on": "2026-10-12"}, format="json")
    assert moved.status_code == 201, moved.json()
    assert (moved.json()["moved_from"], moved.json()["bolt_set"]) == (str(fit.uuid), "set 4")
    left = client.get(where).json()
    assert (left["went_to"], [one["serial"] for one in left["hubs"]]) == ("BF-22", ["H-2", "H-5"])
    stays = client.get(FITS + "whereabouts/", {"site": str(site.uuid), "serial": "H-2"}).json()["results"]
    assert [(one["coupling_tag"], one["until"]) for one in stays] == [
        ("BF-21-C1", "2026-10-12"), ("BF-22", None),
    ]  # fmt: skip


def test_whereabouts_asks_for_a_site_one_may_read(as_person, mechanic, other_site):
    client = as_person(mechanic)
    assert client.get(FITS + "whereabouts/").status_code == 400
    far = client.get(FITS + "whereabouts/", {"site": str(other_site.uuid), "serial": "H-1"})
    assert far.status_code == 400
    assert client.get(FITS + "whereabouts/", {"tag": "x"}).status_code == 400


def test_a_coupling_is_succeeded_at_its_place(as_person, keeper, fit):
    client, where = as_person(keeper), f"{COUPLINGS}{fit.coupling.uuid}/"
    made = client.post(where + "succeed/", {"on": "2026-10-12", "tag": "BF-21A", "with_fit": True}, format="json")
    assert made.status_code == 201, made.json()
    assert made.json()["predecessors"] == [str(fit.coupling.uuid)]
    old = client.get(where).json()
    assert (old["retired_on"], old["successor"]) == ("2026-10-12", made.json()["id"])


def test_a_calibration_sets_what_holds_and_is_listed(as_person, keeper, site):
    wrench = InstrumentFactory(site=site, kind="torque-read", name="Dial wrench", standard_u_mm=None)
    client, where = as_person(keeper), f"{INSTRUMENTS}{wrench.uuid}/"
    sent = {
        "on": "2026-10-01", "laboratory": "Workshop", "certificate": "C-1", "result": "adjusted",
        "standard_uncertainty_share": {"value": 1.5, "unit": "%"}, "due_on": "2027-10-01", "operations": 40,
    }  # fmt: skip
    done = client.post(where + "calibrate/", sent, format="json")
    assert done.status_code == 200, done.json()
    assert (done.json()["calibration_ends_on"], done.json()["calibration"]) == ("2027-10-01", "in calibration")
    row = client.get(where + "calibrations/").json()["results"][0]
    assert (row["certificate"], row["standard_uncertainty_share"]) == (
        "C-1",
        {"value": pytest.approx(1.5), "unit": "%"},
    )


BAD = [
    ("lots", {"number": "four"}, "/number", "A valid integer is required."),
    ("lots", {"number": -1}, "/number", "Ensure this value is greater than or equal to 1."),
    ("lots", {"part_number": ""}, "/part_number", "This field may not be blank."),
    ("lots", {"cured_on": "March"}, "/cured_on", "Date has wrong format."),
    ("lots", {"cured_on": "2026-10-13"}, "/cured_on", "lies after the day they were received"),
    ("lots", {"on": "2026-10-13"}, "/on", "is still to come"),
    ("lots", {"shelf": "3"}, "/shelf", "This field is not known here."),
    ("move", {"kind": "issue", "number": 9}, "/number", "9 of 4 in store cannot be taken"),
    ("move", {"kind": "stolen", "number": 1}, "/kind", "is not a valid choice"),
    ("move", {"kind": "scrapped", "number": 1}, "/note", "Say why they were scrapped."),
    ("move", {"kind": "correction", "number": 3}, "/note", "Say what was counted"),
    ("element", {"fitted_on": "2026-10-10"}, "/part_number", "Name the part"),
    ("element", {"fitted_on": "2026-10-10", "lot": "B-1"}, "/lot", "This is not a UUID."),
    ("element", {"fitted_on": "2026-10-10", "part_number": "E", "replaced_went": "moon"}, "/replaced_went", "choice"),
    (
        "element",
        {"fitted_on": "2026-10-10", "part_number": "E", "replaced_went": "maker"},
        "/replaced_went",
        "in place",
    ),
    ("fit", {"hubs": [{"serial": "H-1"}]}, "/hubs/0/side", "Say which side"),
    ("fit", {"hubs": [{"side": "driver", "bore": {"value": 60, "unit": "kg"}}]}, "/hubs/0/bore", "kg"),
    ("fit", {"hubs": [{"side": "driver", "bore": mm(0.1)}]}, "/hubs/0/bore", "between 1 and 2000"),
    ("fit", {"hubs": [{"side": "driver", "key_width": mm(18)}]}, "/hubs/0/key_height", "width and a height"),
    ("fit", {"bolts_reused": -1}, "/bolts_reused", "greater than or equal to 0"),
    ("fit", {"bolts_fitted_on": "2026-10-13"}, "/bolts_fitted_on", "is still to come"),
    ("move-fit", {"on": "2026-10-12"}, "/to", "This field is required."),
    ("calibrate", {"certificate": ""}, "/certificate", "may not be blank"),
    ("calibrate", {"due_on": "2026-09-01"}, "/due_on", "not later than the day it was done"),
    ("calibrate", {"operations": 3}, "/operations", "counted of torque tools only"),
    ("reason", {"code": "worn out"}, "/code", "slug"),
]


@pytest.mark.parametrize(("what", "sent", "pointer", "said"), BAD)
def test_bad_input_is_refused_at_its_field_and_nothing_is_saved(
    as_person, keeper, engineer, site, fit, receipt, what, sent, pointer, said
):
    client = as_person(engineer if what == "reason" else keeper)
    lot = StockLot.objects.create(site=site, part_number="E-81", count=4)
    dial = InstrumentFactory(site=site)
    certificate = {"on": "2026-10-01", "laboratory": "Workshop", "certificate": "C-1", "result": "within"}
    where, body = {
        "lots": (LOTS, receipt),
        "move": (f"{LOTS}{lot.uuid}/move/", {}),
        "element": (ELEMENTS, {"fit": str(fit.uuid)}),
        "fit": (f"{FITS}{fit.uuid}/", {}),
        "move-fit": (f"{FITS}{fit.uuid}/move/", {}),
        "calibrate": (f"{INSTRUMENTS}{dial.uuid}/calibrate/", certificate),
        "reason": (REASONS, {"site": str(site.uuid), "title": "worn out"}),
    }[what]
    send = client.patch if what == "fit" else client.post
    answer = send(where, body | sent, format="json", headers={"If-Match": "*"} if what == "fit" else {})
    assert answer.status_code == 422, answer.json()
    assert said in faults(answer)[pointer]
    assert StockLot.objects.get().count == 4
    assert [rows.count() for rows in (fit.hubs, fit.elements, dial.calibrations)] == [0, 0, 0]


def test_lists_cost_the_same_however_long_they_are(as_person, mechanic, site, django_assert_num_queries):
    for no in range(4):
        StockLot.objects.create(site=site, part_number="E-80", batch=f"B-{no}", cured_on="2026-01-01", count=1)
    client = as_person(mechanic)
    # Roles, sites, lots, storage rules, what the data sheets say the part is made of.
    with django_assert_num_queries(5):
        assert len(client.get(LOTS).json()["results"]) == 4
