"""One's own account: name, address, language, password."""

from django.contrib import messages
from django.contrib.auth import update_session_auth_hash
from django.contrib.auth.decorators import login_required
from django.http import HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST

from plant.models import Person
from plant.pages.context import SheetRequest, render_sheet
from plant.pages.forms import add_refusal
from plant.pages.people.forms import AccountForm, PasswordForm
from plant.recording import recording
from plant.refusals import Refused
from plant.services.invitations import change_password
from plant.services.people import change_own_account


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def account(request: SheetRequest) -> HttpResponse:
    if request.method != "POST":
        return _page(request)
    form = AccountForm(request.POST)
    if form.is_valid():
        try:
            with recording(by=Person.objects.get(pk=request.user.pk), at=timezone.now()):
                change_own_account(**form.cleaned_data)
            messages.success(request, _("Your account is changed. Records signed before keep the name they had."))
            return redirect("account")
        except Refused as refusal:
            add_refusal(form, refusal)
    return _page(request, form=form, status=422)


@sensitive_post_parameters()
@require_POST
@login_required
def password(request: SheetRequest) -> HttpResponse:
    """A new password; this session goes on, every other one ends."""
    form = PasswordForm(request.POST)
    if form.is_valid():
        person = Person.objects.get(pk=request.user.pk)
        try:
            with recording(by=person, at=timezone.now()):
                change_password(person=person, old=form.cleaned_data["old"], new=form.cleaned_data["password"])
            update_session_auth_hash(request, person)
            messages.success(request, _("The new password is set; every other session has ended."))
            return redirect("account")
        except Refused as refusal:
            add_refusal(form, refusal, {"new": "password"})
    return _page(request, password_form=form, status=422)


def _page(
    request: SheetRequest,
    *,
    form: AccountForm | None = None,
    password_form: PasswordForm | None = None,
    status: int = 200,
) -> HttpResponse:
    me = request.user
    starters = {name: getattr(me, name) for name in AccountForm.base_fields}
    context = {
        "me": me,
        "form": form or AccountForm(initial=starters),
        "password_form": password_form or PasswordForm(),
        "mine": me.memberships.select_related("site"),
    }
    return render_sheet(request, "plant/people/account.html", context, status=status)
