"""Photos of visits: who sees them, and whether their files are what was signed."""

from __future__ import annotations

import hashlib
from typing import Any

from django.db.models import QuerySet

from inspections.models import Photo, Visit
from inspections.steps import STEPS
from plant.models import Person
from plant.refusals import Missing


def photos_visible_to(person: Person) -> QuerySet[Photo]:
    """Photos at the person's sites; a contractor's are those of his work orders."""
    found: QuerySet[Photo] = Photo.objects.visible_to(person)
    return found.select_related("visit__coupling", "visit__work_order", "site", "by")


def photos_of(visit: Visit) -> list[Photo]:
    """The photos of a visit in the order they came in, those added after its signature last."""
    return list(Photo.objects.filter(visit=visit).select_related("by").order_by("after_signing", "pk"))


def title_of(photo: Photo) -> str:
    """What a photo shows, as its caption or its step says."""
    step = STEPS[photo.step].title if photo.step in STEPS else ""
    return ": ".join(part for part in (step, photo.caption) if part) or "Photo"


def content_of(photo: Photo) -> bytes:
    """The JPEG itself."""
    try:
        with photo.file.open("rb") as file:
            return bytes(file.read())
    except OSError:
        raise Missing("The file of this photo is not there: look for it in the backup.") from None


def stands(photo: Photo) -> bool:
    """Whether the file that lies there has the digest that was kept."""
    digest = hashlib.sha256()
    try:
        with photo.file.open("rb") as file:
            for chunk in iter(lambda: file.read(1 << 20), b""):
                digest.update(chunk)
    except (OSError, ValueError):
        return False
    return digest.hexdigest() == photo.digest


def signed_photos(visit: Visit) -> list[dict[str, Any]]:
    """The photos as the signed text names them."""
    return [
        {"id": str(one.uuid), "step": one.step, "caption": one.caption, "digest": one.digest}
        for one in photos_of(visit)
        if not one.after_signing
    ]
