"""What somebody meets who is not signed in yet: an invitation, a link for a new password, a forgotten one."""

from datetime import timedelta

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from plant.messages import mail
from plant.models import Invitation, Person
from plant.pages.forms import add_refusal
from plant.pages.people.forms import AcceptForm, ForgottenForm, TwiceForm
from plant.pages.people.links import mailed
from plant.recording import recording
from plant.refusals import Gone, Refused
from plant.selectors.invitations import invitation_behind, open_invitations
from plant.services.invitations import accept_invitation, ended, make_sign_in_link, set_password_by_link

# One mail per address in this time, however often the form is sent.
REST = timedelta(minutes=10)
DOOR = ["GET", "HEAD", "POST"]


@never_cache
@require_http_methods(DOOR)
def invitation(request: HttpRequest, secret: str) -> HttpResponse:
    """Take a role: with a new account, or as whoever is signed in."""
    row = _still_open(secret, Invitation.Kind.ROLE)
    signed_in = request.user.pk
    # The row itself: the request only has a stand-in for it, which no service can change.
    person = Person.objects.filter(pk=signed_in).first() if signed_in is not None else None
    form = AcceptForm(request.POST or None)
    if request.method == "POST":
        try:
            if request.POST.get("as") == "me" and person is not None:
                with recording(by=row.made_by, at=timezone.now()):
                    accept_invitation(secret=secret, person=person)
                messages.success(request, _("You work at %(site)s now.") % {"site": row.site})
                return redirect("start")
            if form.is_valid():
                given = {name: value for name, value in form.cleaned_data.items() if name != "again"}
                with recording(by=row.made_by, at=timezone.now()):
                    accept_invitation(secret=secret, **given)
                messages.success(request, _("Your account is made. Sign in with the name and password you chose."))
                return redirect("sign-in")
        except Refused as refusal:
            if not form.is_bound or request.POST.get("as") == "me":
                raise
            add_refusal(form, refusal)
    context = {"row": row, "form": form, "me": person, "site": row.site}
    return render(request, "plant/people/accept.html", context, status=422 if form.is_bound else 200)


@never_cache
@require_http_methods(DOOR)
def password(request: HttpRequest, secret: str) -> HttpResponse:
    """Set a new password with a link that a keeper made or a mail brought."""
    row = _still_open(secret, Invitation.Kind.PASSWORD)
    form = TwiceForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            with recording(by=row.person, at=timezone.now()):
                set_password_by_link(secret=secret, password=form.cleaned_data["password"])
            messages.success(request, _("The new password is set; every other session has ended. Sign in with it."))
            return redirect("sign-in")
        except Refused as refusal:
            add_refusal(form, refusal)
    context = {"row": row, "form": form}
    return render(request, "plant/people/new_password.html", context, status=422 if form.is_bound else 200)


@never_cache
@require_http_methods(DOOR)
def forgotten(request: HttpRequest) -> HttpResponse:
    """Ask for a link by mail. The answer is the same whether anybody has the address or not."""
    form = ForgottenForm(request.POST or None)
    sent = False
    if mail.mail_is_on() and request.method == "POST" and form.is_valid():
        _send_links(request, form.cleaned_data["email"])
        sent = True
    context = {"form": form, "sent": sent, "mail_on": mail.mail_is_on()}
    return render(request, "plant/people/forgotten.html", context, status=422 if form.is_bound and form.errors else 200)


def _send_links(request: HttpRequest, email: str) -> None:
    now = timezone.now()
    found = Person.objects.filter(email__iexact=email, is_active=True, kind=Person.Kind.PERSON)
    for person in found[:3]:
        lately = open_invitations(now).filter(person=person, kind=Invitation.Kind.PASSWORD, made_at__gt=now - REST)
        if lately.exists() or (person.until_on is not None and person.until_on < now.date()):
            continue
        with recording(by=None, at=now):
            row, secret = make_sign_in_link(person=person)
        mailed(request, row, secret)


def _still_open(secret: str, kind: str) -> Invitation:
    row = invitation_behind(secret)
    if row is None or row.kind != kind:
        raise Gone(_("This link is not known. Copy it whole, or ask for a new one."))
    if sentence := ended(row, timezone.now()):
        raise Gone(sentence)
    return row
