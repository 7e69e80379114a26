"""Photos taken into a visit, taken out again before it is signed, and added beside the signed text afterwards."""

from __future__ import annotations

import hashlib
from typing import BinaryIO

from django.core.files.base import ContentFile
from django.db import transaction

from inspections.models import Photo, Visit
from inspections.selectors.contractors import is_on
from inspections.steps import STEPS
from plant import access
from plant.pictures import MOST_BYTES, PictureError, cleaned
from plant.recording import bump, changed, current, removed
from plant.refusals import Refused

MOST_PHOTOS = 60


def add_photo(
    *, visit: Visit, file: BinaryIO | None, step: str = "", caption: str = "", expected: int | None = None
) -> Photo:
    """Keep a photo of a visit; after the signature it stands beside the signed text, which does not change.

    Raises
    ------
    Refused
        By field: no file, not a photo by its content, too large, an unknown step, too many photos, a dropped visit.
    """
    unit = current()
    access.require(unit.by, "visit.fill", visit.site_id)
    bump(visit, expected)
    signed = _writable(visit, signed=True)
    step, caption = step.strip(), caption.strip()
    errors: dict[str, str] = {}
    if step and not (step in STEPS and STEPS[step].asked(visit)):
        errors["step"] = "This visit has no such step: choose one, or leave it empty for the whole visit."
    if len(caption) > 200 or "\x00" in caption:
        errors["caption"] = "At most 200 characters of text."
    if Photo.objects.filter(visit=visit).count() >= MOST_PHOTOS:
        errors["file"] = f"A visit keeps at most {MOST_PHOTOS} photos: take one out first."
    picture = None
    try:
        # One byte more than may be kept tells that it is too large; the rest of it is never read.
        picture = cleaned(file.read(MOST_BYTES + 1) if file is not None else b"")
    except PictureError as error:
        errors.setdefault("file", str(error))
    if errors or picture is None:
        raise Refused(errors)
    assert unit.by is not None
    photo = Photo(
        site=visit.site,
        visit=visit,
        step=step,
        caption=caption,
        digest=hashlib.sha256(picture.jpeg).hexdigest(),
        width=picture.width,
        height=picture.height,
        weight=len(picture.jpeg),
        by=unit.by,
        at=unit.at,
        after_signing=signed,
    )
    photo.file.save("", ContentFile(picture.jpeg), save=False)
    photo.save()
    changed(photo)
    return photo


def remove_photo(*, photo: Photo, expected: int | None = None) -> None:
    """Take a photo out of a visit that is still being written; its file goes when that is sure."""
    access.require(current().by, "visit.fill", photo.site_id)
    bump(photo, expected)
    _writable(photo.visit)
    storage, name = photo.file.storage, str(photo.file.name)
    removed(photo)
    photo.delete()
    transaction.on_commit(lambda: storage.delete(name))


def _writable(visit: Visit, *, signed: bool = False) -> bool:
    """Refuse what may not be written to; whether the visit is signed already, where that may be."""
    held = Visit.objects.select_for_update(of=("self",)).select_related("work_order").get(pk=visit.pk)
    if held.state != Visit.State.DRAFT and not (signed and held.state == Visit.State.SIGNED):
        raise Refused({"file": f"This visit is {held.get_state_display()}: its photos stay as they are."})
    by = current().by
    if by is not None and not is_on(by, held.work_order, held.site_id):
        raise Refused({"file": "You are not in the crew of this work order."})
    return held.state == Visit.State.SIGNED
