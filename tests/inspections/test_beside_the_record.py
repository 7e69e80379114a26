"""What stands beside a signed visit: photos added later, witnesses and notes in print, pipe strain by compass."""

import json
from datetime import timedelta
from io import BytesIO

import pytest
from PIL import Image

from couplings.models import SheetHoldPoint
from inspections.models import Photo, PipeStrain
from inspections.prints.certificate import certificate, content_of
from inspections.selectors.verification import verify
from inspections.selectors.visits import visit_for
from inspections.services.amendments import amend_visit
from inspections.services.photos import add_photo, remove_photo
from inspections.services.runups import accept_run_up
from inspections.services.signing import sign_visit
from inspections.services.witnessing import hand_over, witness_step
from inspections.steps import STEPS, Place
from plant.models import Machine
from plant.recording import recording
from plant.refusals import NotAllowed, Refused
from tests.factories import NOW
from tests.inspections.visits import PLACEMENT, save

pytestmark = pytest.mark.django_db
LATER = NOW + timedelta(days=9)


def jpeg():
    out = BytesIO()
    Image.new("RGB", (60, 40), "grey").save(out, "PNG")
    out.seek(0)
    return out


def sign(visit, by):
    with recording(by=by, at=NOW):
        record = sign_visit(visit=visit)
    visit.refresh_from_db()
    return record


def test_a_photo_added_after_the_signature_stands_beside_it_and_changes_nothing(filled, mechanic, engineer, client):
    with recording(by=mechanic, at=NOW):
        before = add_photo(visit=filled, file=jpeg(), caption="gap at 12")
    record = sign(filled, mechanic)
    with recording(by=engineer, at=LATER):
        after = add_photo(visit=filled, file=jpeg(), step="element", caption="crack, found in the shop")
    assert (before.after_signing, after.after_signing, after.by, after.at) == (False, True, engineer, LATER)
    record.refresh_from_db()
    assert [one["id"] for one in json.loads(record.text)["photos"]] == [str(before.uuid)]
    assert verify().findings == []
    with recording(by=engineer, at=LATER), pytest.raises(Refused, match="its photos stay as they are"):
        remove_photo(photo=after)
    amended = None
    with recording(by=engineer, at=LATER):
        amended = amend_visit(visit=filled, steps={"placement": PLACEMENT | {"dbse": "140.3"}}, reason="misread")
    assert [one["id"] for one in json.loads(amended.text)["photos"]] == [str(before.uuid)]
    assert verify().findings == []
    client.force_login(engineer)
    page = client.get(f"/visits/{filled.uuid}/record/").content.decode()
    assert "Added after the signature" in page
    assert page.index("gap at 12") < page.index("crack, found in the shop")
    # Behind the program's back: one that was signed is said to have come later.
    Photo.objects.filter(pk=before.pk).update(after_signing=True)
    assert any("photos differ from the text" in str(one) for one in verify().findings)


def test_the_page_of_a_signed_visit_takes_a_photo_or_says_why_not(client, filled, mechanic, manager):
    sign(filled, mechanic)
    client.force_login(mechanic)
    where = f"/visits/{filled.uuid}/photos/"
    wrong = client.post(where, {"file": BytesIO(b"no picture"), "caption": "as it lies in the shop"})
    assert wrong.status_code == 422
    page = wrong.content.decode()
    assert "no photo that can be kept" in page
    assert 'value="as it lies in the shop"' in page
    assert "Signatures" in page
    sent = jpeg()
    sent.name = "a.png"
    assert client.post(where, {"file": sent})["Location"] == f"/visits/{filled.uuid}/record/#photos"
    assert Photo.objects.get().after_signing
    client.force_login(manager)
    assert "Add a photo" not in client.get(f"/visits/{filled.uuid}/record/").content.decode()
    with recording(by=manager, at=LATER), pytest.raises(NotAllowed):
        add_photo(visit=filled, file=jpeg())


def test_the_certificate_names_witnesses_notes_run_ups_photos_and_what_was_not_done(filled, mechanic, engineer):
    what = "gap with the rotor in place"
    SheetHoldPoint.objects.create(version=filled.sheet_version, step="placement", what=what, role="engineer")
    with recording(by=engineer, at=NOW):
        witness_step(visit=filled, step="placement", what=what)
    with recording(by=mechanic, at=NOW):
        hand_over(visit=filled, text="Guard is in the shop.", to="night shift")
    save(filled, "pipe-strain", {"not_measured": "piping not made up yet"}, mechanic)
    sign(filled, mechanic)
    ran = {"outcome": "remarks", "ran_at": "2026-10-20 08:00", "remarks": "rattles at 1500 rpm"}
    with recording(by=engineer, at=LATER):
        accept_run_up(visit=filled, fields=ran)
        add_photo(visit=filled, file=jpeg(), caption="rattle plate")
    here = visit_for(engineer, filled.uuid)
    rows = {name: said for name, said in content_of(here, "https://plant.example/x")["done"]}
    assert rows["Hold point witnessed"].startswith(f"{what}: Ana, 12 October 2026")
    assert rows["Hand-over note"].startswith("Mia to night shift, ")
    assert rows["Hand-over note"].endswith("Guard is in the shop.")
    assert rows["Run-up"].startswith("accepted with remarks, Ana, 20 October 2026")
    assert rows["Run-up"].endswith("rattles at 1500 rpm")
    assert rows["Pipe strain"] == "not done or measured: piping not made up yet"
    (added,) = [said for name, said in rows.items() if name.startswith("Photo, added by Ana")]
    assert added.startswith("rattle plate: ")
    assert certificate(here, address="https://plant.example/x").startswith(b"%PDF")


def test_pipe_strain_of_an_upright_machine_is_read_by_compass_points(visit, mechanic, wrench):
    Machine.objects.filter(train=visit.coupling.train).update(mounting="vertical")
    visit = type(visit).objects.get(pk=visit.pk)
    labels = [row.label for row in STEPS["pipe-strain"].fields(visit, {})]
    assert "Moved to the north" in labels
    assert "Moved to the east" in labels
    assert not [one for one in labels if "right" in one.lower() or "left" in one.lower()]
    typed = {"north_is": "discharge nozzle", "driven.vertical": "-0.02", "driven.horizontal": "0.01"}
    entry = save(visit, "pipe-strain", typed, mechanic)
    assert entry.errors == {}
    read = STEPS["pipe-strain"].read(entry.typed, _place(visit))
    assert read.complete, read.missing
    assert "to the south and east" in read.found[0].sentence
    (row,) = STEPS["pipe-strain"].facts(read.values, _place(visit))
    assert isinstance(row, PipeStrain)
    assert (row.positions, row.north_is, row.vertical_mm, row.horizontal_mm) == (
        "compass", "discharge nozzle", -0.02, 0.01,
    )  # fmt: skip


def test_pipe_strain_of_machines_on_feet_still_asks_from_which_end_right_was_seen(visit, mechanic):
    read = STEPS["pipe-strain"].read({"driven.vertical": "0", "driven.horizontal": "0.01"}, _place(visit))
    assert "Say from which end" in read.missing["viewed_from"]
    (row,) = STEPS["pipe-strain"].facts(
        STEPS["pipe-strain"]
        .read({"viewed_from": "driven", "driven.vertical": "0", "driven.horizontal": "0.01"}, _place(visit))
        .values,
        _place(visit),
    )
    assert (row.positions, row.horizontal_mm) == ("", -0.01)


def _place(visit):

    return Place(visit, NOW)
