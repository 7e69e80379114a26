"""Photos of a visit: kept, shown to whoever sees the visit, signed with it, and found out when a file was changed."""

import json
from io import BytesIO

import pytest
import time_machine
from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image

from inspections.models import Photo
from inspections.selectors.verification import verify
from inspections.services.photos import MOST_PHOTOS, add_photo, remove_photo
from inspections.services.signing import sign_visit
from plant.models import Tombstone
from plant.recording import recording
from plant.refusals import NotAllowed, Refused
from tests.factories import NOW

pytestmark = pytest.mark.django_db


def jpeg(colour="grey", kind="JPEG"):
    out = BytesIO()
    Image.new("RGB", (60, 40), colour).save(out, kind)
    return out.getvalue()


def add(visit, by, raw=None, **more):
    with recording(by=by, at=NOW):
        return add_photo(visit=visit, file=BytesIO(jpeg() if raw is None else raw), **more)


def refused(*args, **kwargs):
    with pytest.raises(Refused) as caught:
        add(*args, **kwargs)
    return caught.value.as_dict()


@pytest.fixture(autouse=True)
def _on_the_day():
    with time_machine.travel(NOW, tick=False):
        yield


def test_a_photo_is_kept_as_a_new_jpeg_below_the_data_folder(visit, mechanic):
    photo = add(visit, mechanic, jpeg(kind="PNG"), step="placement", caption="gap at 12")
    assert photo.file.name == f"photos/{visit.site.uuid}/{photo.uuid}.jpg"
    with photo.file.open("rb") as file:
        assert file.read(3) == b"\xff\xd8\xff"
    assert (photo.width, photo.height, photo.by) == (60, 40, mechanic)


@pytest.mark.parametrize(
    ("raw", "more", "field", "said"),
    [
        (b"", {}, "file", "The file is empty"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'/>", {}, "file", "no photo that can be kept"),
        (None, {"step": "running-look"}, "step", "has no such step"),
        (None, {"step": "nowhere"}, "step", "has no such step"),
        (None, {"caption": "x" * 201}, "caption", "At most 200 characters"),
        (None, {"caption": "a\x00b"}, "caption", "At most 200 characters"),
    ],
)
def test_what_cannot_be_kept_is_refused_with_why(visit, mechanic, raw, more, field, said):
    assert said in refused(visit, mechanic, raw, **more)[field]
    assert not Photo.objects.exists()


def test_a_visit_keeps_sixty_photos(visit, mechanic):
    one = add(visit, mechanic)
    columns = {
        name: getattr(one, name) for name in ("site", "visit", "digest", "width", "height", "weight", "by", "at")
    }
    Photo.objects.bulk_create(Photo(file="x", **columns) for _ in range(MOST_PHOTOS - 1))
    assert "at most 60 photos" in refused(visit, mechanic)["file"]


def test_digests_stand_in_the_signed_text_and_a_changed_file_is_found(filled, mechanic):
    photo = add(filled, mechanic, step="placement", caption="gap at 12")
    with recording(by=mechanic, at=NOW):
        record = sign_visit(visit=filled)
    assert json.loads(record.text)["photos"] == [
        {"id": str(photo.uuid), "step": "placement", "caption": "gap at 12", "digest": photo.digest}
    ]
    assert verify().findings == []
    with recording(by=mechanic, at=NOW), pytest.raises(Refused, match="its photos stay as they are"):
        remove_photo(photo=photo)
    with open(photo.file.path, "ab") as file:
        file.write(b"x")
    assert [f"the file of photo {photo.uuid}" in str(one) for one in verify().findings] == [True]
    Photo.objects.filter(pk=photo.pk).update(caption="another")
    assert any("photos differ from the text" in str(one) for one in verify().findings)


def test_a_photo_is_taken_out_of_a_draft_with_its_file(visit, mechanic, planner, django_capture_on_commit_callbacks):
    photo = add(visit, mechanic)
    storage, name = photo.file.storage, photo.file.name
    with pytest.raises(NotAllowed), recording(by=planner, at=NOW):
        remove_photo(photo=photo)
    with django_capture_on_commit_callbacks(execute=True), recording(by=mechanic, at=NOW):
        remove_photo(photo=photo)
    assert not storage.exists(name)
    assert Tombstone.objects.filter(noun="photo").count() == 1


def test_the_pages_take_show_and_guard_a_photo(client, filled, mechanic, stranger):
    client.force_login(mechanic)
    where = f"/visits/{filled.uuid}/photos/"
    sent = {"file": SimpleUploadedFile("hub.svg", jpeg(), "image/svg+xml"), "step": "placement", "caption": "the hub"}
    assert client.post(where, sent)["Location"] == f"/visits/{filled.uuid}/#photos"
    photo = Photo.objects.get()
    page = client.get(f"/visits/{filled.uuid}/").content.decode()
    assert f'<img src="/photos/{photo.uuid}/"' in page
    image = client.get(f"/photos/{photo.uuid}/")
    assert (image["Content-Type"], image["X-Content-Type-Options"]) == ("image/jpeg", "nosniff")
    assert image["Cache-Control"].startswith("private")
    assert image.content.startswith(b"\xff\xd8\xff")
    wrong = client.post(where, {"file": SimpleUploadedFile("x.jpg", b"%PDF-1.7"), "caption": "kept as typed"})
    assert wrong.status_code == 422
    assert "no photo that can be kept" in wrong.content.decode()
    assert 'value="kept as typed"' in wrong.content.decode()
    assert "choose a photo" in client.post(where, {}).content.decode()
    client.force_login(stranger)
    assert client.get(f"/photos/{photo.uuid}/").status_code == 404
    client.logout()
    assert client.get(f"/photos/{photo.uuid}/")["Location"].startswith("/sign-in/")
    client.force_login(mechanic)
    with recording(by=mechanic, at=NOW):
        sign_visit(visit=filled)
    assert photo.digest in client.get(f"/visits/{filled.uuid}/record/").content.decode()


def test_the_api_takes_a_form_lists_and_gives_the_image(client, visit, mechanic):
    client.force_login(mechanic)
    where = f"/api/v1/visits/{visit.uuid}/photos/"
    answer = client.post(where, {"file": SimpleUploadedFile("a", jpeg()), "caption": "the hub"})
    assert answer.status_code == 201, answer.content
    made = answer.json()
    assert (made["caption"], made["width"], made["visit"]) == ("the hub", 60, str(visit.uuid))
    bad = client.post(where, {"file": SimpleUploadedFile("a.jpg", b"GIF89a....")})
    assert bad.status_code == 422
    assert bad.json()["errors"][0]["pointer"] == "/file"
    listed = client.get(f"/api/v1/photos/?visit={visit.uuid}").json()["results"]
    assert [one["id"] for one in listed] == [made["id"]]
    assert client.get(f"/api/v1/photos/{made['id']}/content/")["Content-Type"] == "image/jpeg"
    gone = client.delete(f"/api/v1/photos/{made['id']}/", headers={"If-Match": "*"})
    assert gone.status_code == 204
