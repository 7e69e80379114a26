"""What is done on a coupling's page about its checks and flags: small forms, answered on the page they stand on."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import Any
from uuid import UUID

from django.contrib.auth.decorators import login_required
from django.http import HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from couplings.models import Coupling
from couplings.selectors import coupling_for
from inspections.drift_words import looked_sentence
from inspections.models import Check, Flag, OtherWork
from inspections.pages.coupling import begin_form, coupling_page
from inspections.selectors.checks import checks_visible_to
from inspections.selectors.drift import Looked, look_at
from inspections.selectors.flags import flags_visible_to
from inspections.selectors.people import owners_at
from inspections.services import deferral, flags
from inspections.services.other_work import report_other_work, take_back_other_work
from plant.models import Person, Site
from plant.pages.context import SheetRequest
from plant.recording import recording
from plant.refusals import Missing, Refused


@require_POST
@login_required
def defer(request: SheetRequest, uuid: UUID) -> HttpResponse:
    """Put a check off to a later day, with the reason; where a forecast says what that risks, once it was shown."""

    def act(check: Check) -> None:
        until = _day("until", request)
        deferral.defer_check(check=check, until=until, reason=request.POST.get("reason", ""))
        if request.POST.get("seen", "") != until.isoformat() and (looked := look_at(check, until)) is not None:
            raise _ToSee(looked)

    check = _check(request, uuid)
    try:
        return _done(request, check, "defer", act)
    except _ToSee as first:
        here: Coupling = coupling_for(request.user, check.coupling.uuid)
        typed = {key: str(value) for key, value in request.POST.items()}
        shown = {"of": check.uuid, "act": "defer", "typed": typed, "said": {}, "sentence": ""}
        shown |= {"risk": looked_sentence(first.looked), "seen": first.looked.on.isoformat()}
        return coupling_page(request, here, begin_form(request, here), refused=shown)


class _ToSee(Exception):
    """The deferral may be made and was undone: what it risks has to be read first."""

    def __init__(self, looked: Looked) -> None:
        super().__init__(looked.on)
        self.looked = looked


@require_POST
@login_required
def withdraw(request: SheetRequest, uuid: UUID) -> HttpResponse:
    """Take a deferral back."""
    return _done(request, _check(request, uuid), "withdraw", lambda check: deferral.withdraw_deferral(check=check))


@require_POST
@login_required
def pin(request: SheetRequest, uuid: UUID) -> HttpResponse:
    """Plan a check for one day; an empty day takes the pin out."""

    def act(check: Check) -> None:
        typed = request.POST.get("on", "").strip()
        deferral.pin_check(check=check, on=_day("on", request) if typed else None)

    return _done(request, _check(request, uuid), "pin", act)


@require_POST
@login_required
def own_check(request: SheetRequest, uuid: UUID) -> HttpResponse:
    """Say who sees to a check."""

    def act(check: Check) -> None:
        deferral.own_check(check=check, owner=_person(request, check.site))

    return _done(request, _check(request, uuid), "own", act)


@require_POST
@login_required
def cancel(request: SheetRequest, uuid: UUID) -> HttpResponse:
    """Leave this one date out, with the reason."""

    def act(check: Check) -> None:
        deferral.cancel_check(check=check, reason=request.POST.get("reason", ""))

    return _done(request, _check(request, uuid), "cancel", act)


@require_POST
@login_required
def other_work(request: SheetRequest, uuid: UUID) -> HttpResponse:
    """Say that work on the foundation or the pipes was finished."""

    def act(here: Coupling) -> None:
        report_other_work(
            coupling=here,
            kind=request.POST.get("kind", ""),
            on=_day("on", request),
            note=request.POST.get("note", ""),
        )

    return _done(request, coupling_for(request.user, uuid), "work", act)


@require_POST
@login_required
def take_back_work(request: SheetRequest, uuid: UUID) -> HttpResponse:
    """Take out such work that was written down by mistake."""
    rows = OtherWork.objects.visible_to(request.user).select_related("coupling__site")
    work = rows.filter(uuid=uuid).first()
    if work is None:
        raise Missing()
    return _done(request, work, "take-back", lambda one: take_back_other_work(work=one))


@require_POST
@login_required
def acknowledge(request: SheetRequest, uuid: UUID) -> HttpResponse:
    """Say that one has seen a flag."""
    return _done(request, _flag(request, uuid), "acknowledge", lambda flag: flags.acknowledge_flag(flag=flag))


@require_POST
@login_required
def own(request: SheetRequest, uuid: UUID) -> HttpResponse:
    """Say who deals with a flag."""

    def act(flag: Flag) -> None:
        flags.own_flag(flag=flag, owner=_person(request, flag.site))

    return _done(request, _flag(request, uuid), "own", act)


@require_POST
@login_required
def clear(request: SheetRequest, uuid: UUID) -> HttpResponse:
    """Clear a flag with its cause."""

    def act(flag: Flag) -> None:
        what, cause = request.POST.get("what", ""), request.POST.get("cause", "").strip()
        flags.clear_flag(flag=flag, cause=f"{what}: {cause}" if what and cause else what or cause)

    return _done(request, _flag(request, uuid), "clear", act)


def _done(request: SheetRequest, thing: Any, name: str, act: Callable[[Any], Any]) -> HttpResponse:
    """Do it and come back to the coupling; where it is refused, with what was typed and why beside it."""
    here: Coupling = thing if isinstance(thing, Coupling) else coupling_for(request.user, thing.coupling.uuid)
    try:
        with recording(by=request.user, at=timezone.now()):
            act(thing)
    except Refused as refusal:
        said = refusal.as_dict()
        typed = {key: str(value) for key, value in request.POST.items()}
        refused = {"of": thing.uuid, "act": name, "typed": typed, "said": said, "sentence": said.get("", "")}
        return coupling_page(request, here, begin_form(request, here), refused=refused, status=422)
    return redirect("coupling", here.uuid)


def _check(request: SheetRequest, uuid: UUID) -> Check:
    check = checks_visible_to(request.user).filter(uuid=uuid).first()
    if check is None:
        raise Missing()
    return check


def _flag(request: SheetRequest, uuid: UUID) -> Flag:
    flag = flags_visible_to(request.user).filter(uuid=uuid).first()
    if flag is None:
        raise Missing()
    return flag


def _day(name: str, request: SheetRequest) -> date:
    try:
        return date.fromisoformat(request.POST.get(name, "").strip())
    except ValueError as error:
        raise Refused({name: _("Write the day as 2026-10-12.")}) from error


def _person(request: SheetRequest, site: Site) -> Person | None:
    """Whom the form names; nobody where it is left empty."""
    given = request.POST.get("owner", "")
    if not given:
        return None
    try:
        return owners_at(site).get(uuid=UUID(given))
    except (ValueError, Person.DoesNotExist):
        pass
    raise Refused({"owner": _("This person has no role at the site; choose somebody who has.")})
