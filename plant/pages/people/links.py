"""Making invitations and showing a link, once: by mail where there is mail, to be copied always."""

from uuid import UUID

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST

from plant import access
from plant.messages import mail
from plant.models import Invitation, Site
from plant.pages.context import SheetRequest, own_site, render_sheet
from plant.pages.forms import add_refusal
from plant.pages.people.forms import InviteForm
from plant.recording import recording
from plant.refusals import Missing, NotAllowed, Refused
from plant.selectors.invitations import invitations_kept_by
from plant.services.invitations import invite, withdraw_invitation


@login_required
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def make(request: SheetRequest) -> HttpResponse:
    """Invite somebody; the answer shows the link."""
    person = request.user
    everywhere = person.sees_everything and access.may(person, "people.write", None)
    sites = Site.objects.order_by("name")
    if not everywhere:
        sites = sites.filter(pk__in=access.sites_where(person, "people.write"))
    if not sites.exists():
        raise NotAllowed(_("People are invited by the keeper of a site."))
    if request.method != "POST":
        mine = own_site(request)
        start = sites.filter(uuid=request.GET["site"]).first() if _is_uuid(request.GET.get("site")) else mine
        form = InviteForm(sites=sites, initial={"site": start.uuid if start else None, "language": person.language})
        return render_sheet(request, "plant/people/invite.html", {"form": form, "mail_on": mail.mail_is_on()})
    form = InviteForm(request.POST, sites=sites)
    if form.is_valid():
        try:
            with recording(by=person, at=timezone.now()):
                row, secret = invite(**form.cleaned_data)
            return hand_out(request, row, secret, back=reverse("people"))
        except Refused as refusal:
            add_refusal(form, refusal)
    return render_sheet(request, "plant/people/invite.html", {"form": form, "mail_on": mail.mail_is_on()}, status=422)


@require_POST
@login_required
def withdraw(request: SheetRequest, uuid: UUID) -> HttpResponse:
    """Its link opens nothing any more."""
    row = invitations_kept_by(request.user).filter(uuid=uuid).first()
    if row is None:
        raise Missing()
    with recording(by=request.user, at=timezone.now()):
        withdraw_invitation(invitation=row)
    messages.success(request, _("The invitation is withdrawn: its link opens nothing any more."))
    return redirect("people")


def address_of(request: HttpRequest, row: Invitation, secret: str) -> str:
    """The whole address that the link opens."""
    name = "invitation" if row.kind == Invitation.Kind.ROLE else "password-link"
    return request.build_absolute_uri(reverse(name, args=[secret]))


def mailed(request: HttpRequest, row: Invitation, secret: str) -> bool:
    """Whether the link went out by mail."""
    context = {"invitation": row, "link": address_of(request, row, secret)}
    return mail.send(to=row.email, template="plant/mail/invitation", context=context, language=row.language)


def hand_out(request: HttpRequest, row: Invitation, secret: str, *, back: str) -> HttpResponse:
    """The page with the link, this once."""
    context = {
        "row": row,
        "link": address_of(request, row, secret),
        "sent": mailed(request, row, secret),
        "mail_on": mail.mail_is_on(),
        "back": back,
    }
    return render_sheet(request, "plant/people/link.html", context)


def _is_uuid(given: str | None) -> bool:
    try:
        UUID(given or "")
    except ValueError:
        return False
    return True
