"""Webhooks for whoever keeps them: where events go, what came of it, and sending again. Secrets are shown once."""

from typing import Any
from uuid import UUID

from django import forms
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST

from plant.access import sites_where
from plant.models import Delivery, Person, Site, Webhook
from plant.pages.context import SheetRequest, render_sheet
from plant.pages.forms import add_refusal
from plant.recording import EVENT_KINDS, recording
from plant.refusals import Missing, NotAllowed, Refused
from plant.selectors.webhooks import (
    ACTION,
    ASIDE_KEPT,
    SENT_KEPT,
    deliveries_of,
    hosts_allowed,
    webhooks_kept_by,
    with_counts,
)
from plant.services import webhooks as services


class WebhookForm(forms.Form):
    site = forms.ModelChoiceField(queryset=Site.objects.none(), to_field_name="uuid", label=gettext_lazy("Site"))
    name = forms.CharField(max_length=80, label=gettext_lazy("What it is for"))
    url = forms.CharField(
        max_length=500,
        label=gettext_lazy("Address it is told at"),
        help_text=gettext_lazy("Begins with https://. What is sent is signed after Standard Webhooks."),
    )
    kinds = forms.MultipleChoiceField(
        choices=[(kind, kind) for kind in sorted(EVENT_KINDS)],
        required=False,
        widget=forms.CheckboxSelectMultiple,
        label=gettext_lazy("Which events"),
        help_text=gettext_lazy("None chosen: all of them."),
    )

    def __init__(self, person: Person, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        sites = Site.objects.filter(pk__in=sites_where(person, ACTION))
        self.fields["site"].queryset = sites  # type: ignore[attr-defined]
        if len(sites) == 1:
            self.fields["site"].initial = sites[0].uuid


class HostForm(forms.Form):
    host = forms.CharField(max_length=253, label=gettext_lazy("Host inside the network"))
    reason = forms.CharField(max_length=200, label=gettext_lazy("Why it may be reached"))
    site = forms.ModelChoiceField(queryset=Site.objects.none(), to_field_name="uuid", label=gettext_lazy("Site"))

    def __init__(self, person: Person, *args: Any, **kwargs: Any) -> None:
        kwargs.setdefault("prefix", "allow")
        super().__init__(*args, **kwargs)
        sites = Site.objects.filter(pk__in=sites_where(person, ACTION))
        self.fields["site"].queryset = sites  # type: ignore[attr-defined]
        if len(sites) == 1:
            self.fields["site"].initial = sites[0].uuid


@login_required
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def webhooks(request: SheetRequest) -> HttpResponse:
    """Every webhook the reader keeps, and the form for a new one."""
    _keeps_some(request.user)
    if request.method != "POST":
        return _list(request)
    form = WebhookForm(request.user, request.POST)
    if form.is_valid():
        try:
            with recording(by=request.user, at=timezone.now()):
                hook, secret = services.register_webhook(**form.cleaned_data)
            return _one(request, hook, secret=secret)
        except Refused as refusal:
            add_refusal(form, refusal)
    return _list(request, form=form, status=422)


@login_required
@require_POST
def allow(request: SheetRequest) -> HttpResponse:
    """Let webhooks of a site reach one host inside the network."""
    _keeps_some(request.user)
    form = HostForm(request.user, request.POST)
    if form.is_valid():
        try:
            with recording(by=request.user, at=timezone.now()):
                services.allow_host(**form.cleaned_data)
            return redirect("webhooks")
        except Refused as refusal:
            add_refusal(form, refusal)
    return _list(request, hosts=form, status=422)


@login_required
@require_POST
def forbid(request: SheetRequest) -> HttpResponse:
    """Take a host off the list again."""
    number = request.POST.get("host", "")
    rows = hosts_allowed(request.user)
    found = rows.filter(pk=int(number)).first() if number.isdigit() and len(number) < 18 else None
    if found is None:
        raise Missing()
    with recording(by=request.user, at=timezone.now()):
        services.forbid_host(allowed=found)
    return redirect("webhooks")


@login_required
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def webhook(request: SheetRequest, uuid: UUID) -> HttpResponse:
    """One webhook with its log; each button is one act."""
    hook = webhooks_kept_by(request.user).filter(uuid=uuid).first()
    if hook is None:
        raise Missing()
    if request.method != "POST":
        return _one(request, hook)
    act = request.POST.get("act", "")
    try:
        with recording(by=request.user, at=timezone.now()):
            if act == "rotate":
                return _one(request, hook, secret=services.rotate_secret(webhook=hook))
            if act == "remove":
                services.remove_webhook(webhook=hook)
                return redirect("webhooks")
            _act(request, hook, act)
    except Refused as refusal:
        return _one(request, hook, refused=refusal.sentence, status=422)
    return redirect("webhook", hook.uuid)


def _act(request: SheetRequest, hook: Webhook, act: str) -> None:
    if act == "test":
        services.send_test(webhook=hook)
        messages.success(request, _("A test message is on its way."))
    elif act in ("on", "off"):
        services.change_webhook(webhook=hook, active=act == "on")
    elif act == "replay":
        number = request.POST.get("delivery", "")
        row = hook.deliveries.filter(pk=int(number)).first() if number.isdigit() and len(number) < 18 else None
        if row is None:
            raise Missing()
        services.replay(delivery=row)
        messages.success(request, _("It is sent once more, under its old number."))
    else:
        raise Missing()


def _keeps_some(person: Person) -> None:
    if not sites_where(person, ACTION):
        raise NotAllowed(_("Webhooks are kept by the keeper of the register."))


def _list(
    request: SheetRequest, *, form: WebhookForm | None = None, hosts: HostForm | None = None, status: int = 200
) -> HttpResponse:
    context = {
        "hooks": list(with_counts(webhooks_kept_by(request.user)).order_by("site__name", "name")),
        "form": form or WebhookForm(request.user),
        "hosts": list(hosts_allowed(request.user)),
        "host_form": hosts or HostForm(request.user),
    }
    return render_sheet(request, "plant/webhooks.html", context, status=status)


def _one(
    request: SheetRequest, hook: Webhook, *, secret: str = "", refused: str = "", status: int = 200
) -> HttpResponse:
    state = request.GET.get("state", "")
    state = state if state in Delivery.State.values else ""
    page = Paginator(deliveries_of(hook, state), 50).get_page(request.GET.get("page"))
    context = {
        "hook": with_counts(Webhook.objects.filter(pk=hook.pk).select_related("site")).get(),
        "page": page,
        "state_asked": state,
        "states": Delivery.State.choices,
        "secret": secret,
        "refused": refused,
        "now": timezone.now(),
        "sent_days": SENT_KEPT.days,
        "aside_days": ASIDE_KEPT.days,
    }
    return render_sheet(request, "plant/webhook.html", context, site=hook.site, status=status)
