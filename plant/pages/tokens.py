"""A person's own tokens for programs: made here, shown once, revoked."""

from datetime import datetime, time, timedelta
from typing import Any

from django import forms
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST

from plant import access
from plant.models import Person, Site
from plant.pages.context import render_sheet
from plant.recording import recording
from plant.refusals import Refused
from plant.selectors.people import tokens_of
from plant.services.tokens import make_token, revoke_token
from plant.sitetime import zone_of


class TokenForm(forms.Form):
    name = forms.CharField(max_length=80, label=gettext_lazy("What it is for"))
    expires_on = forms.DateField(
        label=gettext_lazy("Last day"),
        widget=forms.DateInput(attrs={"type": "date"}),
        help_text=gettext_lazy("A year from now at the latest."),
    )
    scopes = forms.MultipleChoiceField(
        label=gettext_lazy("What it may do"),
        widget=forms.CheckboxSelectMultiple,
        help_text=gettext_lazy("Never more than you may do yourself."),
    )
    sites = forms.ModelMultipleChoiceField(
        queryset=Site.objects.none(),
        to_field_name="uuid",
        required=False,
        widget=forms.CheckboxSelectMultiple,
        label=gettext_lazy("Only at these sites"),
        help_text=gettext_lazy("None chosen: at all of yours."),
    )

    def __init__(self, person: Person, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        sites = Site.objects.visible_to(person)
        self.fields["sites"].queryset = sites  # type: ignore[attr-defined]
        mine = [
            (name, words)
            for name, (words, _roles) in access.ACTIONS.items()
            if person.sees_everything or access.sites_where(person, name)
        ]
        self.fields["scopes"].choices = mine  # type: ignore[attr-defined]


@login_required
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def tokens(request: HttpRequest) -> HttpResponse:
    """The list, the form, and after making one its secret, this once."""
    now = timezone.now()
    person: Person = request.user  # type: ignore[assignment]
    if request.method == "POST":
        form = TokenForm(person, request.POST)
        if form.is_valid():
            try:
                secret = _made(person, form, now)
            except Refused as refused:
                for error in refused.errors:
                    field = {"expires_at": "expires_on"}.get(error.field, error.field)
                    form.add_error(field if field in form.fields else None, error.message)
            else:
                return _page(request, TokenForm(person, initial=_starters(now)), now, secret=secret)
        return _page(request, form, now, status=422)
    return _page(request, TokenForm(person, initial=_starters(now)), now)


@login_required
@require_POST
def revoke(request: HttpRequest, uuid: Any) -> HttpResponse:
    token = get_object_or_404(tokens_of(request.user), uuid=uuid)  # type: ignore[arg-type]
    with recording(by=request.user, at=timezone.now()):  # type: ignore[arg-type]
        revoke_token(token=token)
    messages.success(request, _("%(token)s opens nothing any more.") % {"token": token})
    return redirect("tokens")


def _made(person: Person, form: TokenForm, now: datetime) -> str:
    """The last day is a day at the person's site; the token ends with it."""
    given = form.cleaned_data
    site = given["sites"].first() or Site.objects.visible_to(person).first()
    ends = datetime.combine(given["expires_on"] + timedelta(days=1), time.min, zone_of(site) if site else None)
    if timezone.is_naive(ends):
        ends = timezone.make_aware(ends)
    with recording(by=person, at=now):
        _token, secret = make_token(
            person=person, name=given["name"], scopes=given["scopes"], sites=given["sites"], expires_at=ends
        )
    return secret


def _starters(now: datetime) -> dict[str, Any]:
    return {"expires_on": (now + timedelta(days=90)).date(), "scopes": ["read"]}


def _page(request: HttpRequest, form: TokenForm, now: datetime, *, secret: str = "", status: int = 200) -> HttpResponse:
    rows = [
        (token, token.revoked_at is None and token.expires_at > now)
        for token in tokens_of(request.user)  # type: ignore[arg-type]
    ]
    return render_sheet(request, "plant/tokens.html", {"form": form, "rows": rows, "secret": secret}, status=status)
