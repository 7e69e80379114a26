"""The daily mail, as its reader sets it: signed in, or by the address in the mail itself."""

from typing import Any

from django import forms
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from inspections.models import DigestWish
from inspections.selectors.digests import wish_for, wish_of
from inspections.services.digests import renew_address, switch_off, wish_digest
from plant.messages.mail import mail_is_on
from plant.models import Person, Site
from plant.pages.context import SheetRequest, own_site, render_sheet
from plant.pages.forms import add_refusal
from plant.recording import recording
from plant.refusals import Refused

WEEK = [
    ("1", gettext_lazy("Monday")), ("2", gettext_lazy("Tuesday")), ("3", gettext_lazy("Wednesday")),
    ("4", gettext_lazy("Thursday")), ("5", gettext_lazy("Friday")), ("6", gettext_lazy("Saturday")),
    ("7", gettext_lazy("Sunday")),
]  # fmt: skip


class WishForm(forms.Form):
    site = forms.ModelChoiceField(
        queryset=Site.objects.none(), to_field_name="uuid", empty_label=None, label=gettext_lazy("About")
    )
    hour = forms.TypedChoiceField(
        coerce=int,
        choices=[(str(hour), f"{hour:02d}:00") for hour in range(24)],
        label=gettext_lazy("At"),
        help_text=gettext_lazy("By the clock of that site."),
    )
    days = forms.MultipleChoiceField(
        choices=WEEK, required=False, widget=forms.CheckboxSelectMultiple, label=gettext_lazy("On")
    )

    def __init__(self, person: Person, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["site"].queryset = Site.objects.visible_to(person).order_by("name")  # type: ignore[attr-defined]


@login_required
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def digest(request: SheetRequest) -> HttpResponse:
    """The reader's own mail: off until it is asked for."""
    return _answer(request, request.user, wish_of(request.user), "inspections/digest.html")


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def digest_by_mail(request: HttpRequest, secret: str) -> HttpResponse:
    """The same behind the address in a mail, without signing in: it changes the mail and shows nothing else.

    Opening it changes nothing, since mail programs open addresses by themselves; its button does.
    """
    wish = wish_for(secret)
    if wish is None:
        raise Http404
    return _answer(request, wish.person, wish, "inspections/digest_by_mail.html")


def _answer(request: HttpRequest, person: Person, wish: DigestWish | None, template: str) -> HttpResponse:
    form = WishForm(person, initial=_initial(request, wish))
    status = 200
    if request.method == "POST":
        act = request.POST.get("act", "")
        with recording(by=person, at=timezone.now()):
            if wish is not None and act == "off":
                switch_off(wish=wish)
                messages.success(request, _("No more mail comes."))
                return redirect(request.path)
            if wish is not None and act == "renew" and request.user.is_authenticated:
                renew_address(wish=wish)
                messages.success(request, _("The addresses in earlier mails open nothing any more."))
                return redirect(request.path)
        form = WishForm(person, request.POST)
        if form.is_valid():
            given = form.cleaned_data
            try:
                with recording(by=person, at=timezone.now()):
                    wish_digest(
                        person=person, site=given["site"], hour=given["hour"], days="".join(given["days"]), active=True,
                        origin=wish.origin if wish is not None and not request.user.is_authenticated
                        else request.build_absolute_uri("/"),
                    )  # fmt: skip
                messages.success(request, _("The mail comes as you said."))
                return redirect(request.path)
            except Refused as refusal:
                add_refusal(form, refusal)
        status = 422
    context = {"form": form, "wish": wish, "mail_on": mail_is_on(), "to": person.email}
    return render_sheet(request, template, context, site=wish.site if wish else None, status=status)


def _initial(request: HttpRequest, wish: DigestWish | None) -> dict[str, Any]:
    if wish is None:
        site = own_site(request)
        return {"site": site.uuid if site else None, "hour": "6", "days": list("12345")}
    return {"site": wish.site.uuid, "hour": str(wish.hour), "days": list(wish.days)}
