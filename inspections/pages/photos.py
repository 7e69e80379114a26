"""Photos of a visit: taken in, shown to whoever may see the visit, taken out before it is signed."""

from uuid import UUID

from django.contrib.auth.decorators import login_required
from django.http import HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from inspections.models import Photo, Visit
from inspections.pages.signing import record_page
from inspections.pages.visit import overview
from inspections.selectors.photos import content_of, photos_visible_to
from inspections.selectors.visits import visit_for
from inspections.services.photos import add_photo, remove_photo
from plant.models import Person
from plant.pages.context import SheetRequest
from plant.recording import recording
from plant.refusals import Missing, Refused
from plant.sending import as_jpeg


def photo_for(person: Person, uuid: UUID) -> Photo:
    """The photo of this id, if the person may see it; otherwise there is none."""
    photo = photos_visible_to(person).filter(uuid=uuid).first()
    if photo is None:
        raise Missing()
    return photo


@require_POST
@login_required
def add(request: SheetRequest, uuid: UUID) -> HttpResponse:
    """Take a photo in."""
    here = visit_for(request.user, uuid)
    step, caption = request.POST.get("step", ""), request.POST.get("caption", "")
    try:
        with recording(by=request.user, at=timezone.now()):
            add_photo(visit=here, file=request.FILES.get("file"), step=step, caption=caption)  # type: ignore[arg-type]
    except Refused as refusal:
        errors = refusal.as_dict()
        fresh = visit_for(request.user, uuid)
        page = record_page if fresh.state == Visit.State.SIGNED else overview
        return page(request, fresh, photo_errors=errors, photo_step=step, photo_caption=caption)
    name = "visit-record" if here.state == Visit.State.SIGNED else "visit"
    return redirect(reverse(name, args=[here.uuid]) + "#photos")


@require_safe
@login_required
def show(request: SheetRequest, uuid: UUID) -> HttpResponse:
    """The image itself."""
    return as_jpeg(content_of(photo := photo_for(request.user, uuid)), photo.digest)


@require_POST
@login_required
def remove(request: SheetRequest, uuid: UUID) -> HttpResponse:
    """Take a photo out of a draft."""
    photo = photo_for(request.user, uuid)
    visit = photo.visit
    try:
        with recording(by=request.user, at=timezone.now()):
            remove_photo(photo=photo)
    except Refused as refusal:
        fresh = visit_for(request.user, visit.uuid)
        page = record_page if fresh.state == Visit.State.SIGNED else overview
        return page(request, fresh, photo_errors=refusal.as_dict())
    return redirect(reverse("visit", args=[visit.uuid]) + "#photos")
