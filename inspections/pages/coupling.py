"""One coupling: what is fitted, how it was left, what comes next and why, and every earlier visit."""

from types import SimpleNamespace
from typing import Any
from uuid import UUID

from django import forms
from django.contrib.auth.decorators import login_required
from django.http import HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods, require_safe

from couplings.models import Coupling
from couplings.selectors import coupling_for, limits_of, target_of
from inspections.models import SurveyResult, Visit
from inspections.reasons import check_sentence, flag_sentence
from inspections.selectors.checks import open_checks
from inspections.selectors.flags import open_flags
from inspections.selectors.orders import open_orders
from inspections.selectors.visits import latest_as_left, visits_of
from inspections.services.drafts import begin_visit
from inspections.services.orders import open_order
from plant.access import may
from plant.pages.context import SheetRequest, render_sheet
from plant.pages.forms import add_refusal
from plant.recording import recording
from plant.refusals import Refused
from plant.sitetime import today_at


class BeginForm(forms.Form):
    """A visit hangs on a work order: one that is open at this train, or a new one by its number."""

    kind = forms.ChoiceField(label=gettext_lazy("What is done"), choices=Visit.Kind.choices)
    # A text field: a date field of the browser throws away what was mistyped.
    on = forms.DateField(
        label=gettext_lazy("Day"),
        input_formats=["%Y-%m-%d"],
        widget=forms.DateInput(format="%Y-%m-%d"),
        error_messages={
            "required": gettext_lazy("Say on which day, such as 2026-10-12."),
            "invalid": gettext_lazy("Write the day as 2026-10-12."),
        },
    )
    work_order = forms.ChoiceField(label=gettext_lazy("Work order"), required=False)
    new_number = forms.CharField(
        label=gettext_lazy("Or a new work order, by its number"), required=False, max_length=40
    )

    def __init__(self, *args: Any, coupling: Coupling, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.orders = {str(order.uuid): order for order in open_orders(coupling.train)}
        choices = [(key, f"{order.number} {order.title}".strip()) for key, order in self.orders.items()]
        field = self.fields["work_order"]
        assert isinstance(field, forms.ChoiceField)
        field.choices = [*choices, ("", _("a new one"))]

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        if not given.get("work_order") and not given.get("new_number"):
            self.add_error("new_number", _("Type the work order's number, or choose one that is open at this train."))
        return given


@require_safe
@login_required
def coupling(request: SheetRequest, uuid: UUID) -> HttpResponse:
    here = coupling_for(request.user, uuid)
    form = BeginForm(coupling=here, initial={"on": today_at(here.site, timezone.now()), "kind": _likely_kind(here)})
    return _page(request, here, form)


@require_http_methods(["POST"])
@login_required
def begin(request: SheetRequest, uuid: UUID) -> HttpResponse:
    """Begin a visit, opening its work order where a new number was typed."""
    here = coupling_for(request.user, uuid)
    form = BeginForm(request.POST, coupling=here)
    if form.is_valid():
        given = form.cleaned_data
        try:
            with recording(by=request.user, at=timezone.now()):
                order = form.orders.get(given["work_order"]) or open_order(train=here.train, number=given["new_number"])
                visit = begin_visit(coupling=here, kind=given["kind"], on=given["on"], work_order=order)
            return redirect("visit", visit.uuid)
        except Refused as refusal:
            add_refusal(form, refusal, {"number": "new_number"})
    return _page(request, here, form, status=422)


def _likely_kind(here: Coupling) -> str:
    signed = any(visit.state == Visit.State.SIGNED for visit in visits_of(here)[:1])
    return Visit.Kind.PERIODIC if signed else Visit.Kind.INSTALLATION


def _page(request: SheetRequest, here: Coupling, form: BeginForm, status: int = 200) -> HttpResponse:
    fit = here.fits.filter(removed_on__isnull=True).select_related("sheet_version__sheet__family").first()
    version = fit.sheet_version if fit else None
    left = latest_as_left(here)
    result = left.result if left else None
    system = here.site.units
    context = {
        "coupling": here,
        "fit": fit,
        "version": version,
        "family": version.sheet.family if version else None,
        "limits": limits_of(here, version).limits if version else (),
        "target": target_of(here),
        "joints": list(version.joints.all()) if version else [],
        "element": fit.elements.filter(removed_on__isnull=True).first() if fit else None,
        "left": left,
        "result": result,
        "lines": lines_of(result) if result else [],
        "checks": [(check, check_sentence(check, system)) for check in open_checks(here)],
        "flags": [(flag, flag_sentence(flag, system)) for flag in open_flags(coupling=here)],
        "visits": list(visits_of(here)[:20]),
        "form": form,
        "may_begin": fit is not None and here.retired_on is None and may(request.user, "visit.fill", here.site),
    }
    return render_sheet(request, "inspections/coupling.html", context, site=here.site, status=status)


def lines_of(result: SurveyResult) -> list[SimpleNamespace]:
    """The limits a survey was judged by, as stored with it: history is never judged again."""
    return [SimpleNamespace(**line) for line in result.lines]
