"""Zone, units, money and owner of the due dates of one site, each with what a change touches."""

from typing import Any
from uuid import UUID

from django import forms
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods

from plant import access
from plant.models import Site
from plant.pages.context import SheetRequest, render_sheet
from plant.pages.forms import add_refusal
from plant.recording import recording
from plant.refusals import Missing, Refused, Stale
from plant.services.register import change_site
from plant.services.site_settings import TOUCHES, touched


class SiteForm(forms.Form):
    name = forms.CharField(max_length=80, label=gettext_lazy("Name"), help_text=TOUCHES["name"])
    zone = forms.CharField(max_length=60, label=gettext_lazy("Time zone"), help_text=TOUCHES["zone"])
    units = forms.ChoiceField(choices=Site.Units, label=gettext_lazy("Units"), help_text=TOUCHES["units"])
    currency = forms.CharField(max_length=20, label=gettext_lazy("Currency"), help_text=TOUCHES["currency"])
    labour_rate = forms.FloatField(
        required=False,
        label=gettext_lazy("Cost of one crew hour"),
        help_text=TOUCHES["labour_rate"],
        widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
    )
    element_cost = forms.FloatField(
        required=False,
        label=gettext_lazy("Price of one element"),
        help_text=TOUCHES["element_cost"],
        widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
    )
    failure_cost = forms.FloatField(
        required=False,
        label=gettext_lazy("Cost of a failure in service"),
        help_text=TOUCHES["failure_cost"],
        widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
    )
    down_cost = forms.FloatField(
        required=False,
        label=gettext_lazy("Cost of one hour down"),
        help_text=TOUCHES["down_cost"],
        widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
    )
    crew_hours_week = forms.FloatField(
        required=False,
        label=gettext_lazy("Crew hours for checks in a week"),
        help_text=TOUCHES["crew_hours_week"],
        widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
    )
    dates_owner = forms.ChoiceField(
        choices=Site.DatesOwner, label=gettext_lazy("Due dates belong to"), help_text=TOUCHES["dates_owner"]
    )
    version = forms.IntegerField(widget=forms.HiddenInput)


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def site_settings(request: SheetRequest, uuid: UUID) -> HttpResponse:
    """Shown to whoever keeps the register there; changed with the version that was seen."""
    site = Site.objects.visible_to(request.user).filter(uuid=uuid).first()
    if site is None:
        raise Missing()
    access.require(request.user, "register.write", site)
    if request.method != "POST":
        return _page(request, site, SiteForm(initial=_standing(site)))
    form = SiteForm(request.POST)
    if not form.is_valid():
        return _page(request, site, form, status=422)
    given = dict(form.cleaned_data)
    seen = given.pop("version")
    different = {name: value for name, value in given.items() if value != getattr(site, name)}
    try:
        with recording(by=request.user, at=timezone.now()):
            change_site(site=site, expected=seen, **different)
    except Stale:
        form.add_error(None, _("Somebody changed this site in the meantime: look at what stands now, then change it."))
        return _page(request, Site.objects.get(pk=site.pk), form, status=412)
    except Refused as refusal:
        add_refusal(form, refusal)
        return _page(request, Site.objects.get(pk=site.pk), form, status=422)
    for sentence in touched(set(different)):
        messages.success(request, sentence)
    return redirect("site-settings", site.uuid)


def _standing(site: Site) -> dict[str, Any]:
    return {name: getattr(site, name) for name in SiteForm.base_fields}


def _page(request: SheetRequest, site: Site, form: SiteForm, status: int = 200) -> HttpResponse:
    return render_sheet(request, "plant/site_settings.html", {"form": form}, site=site, status=status)
