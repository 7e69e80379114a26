"""One coupling: what is fitted, how it was left, what comes next and why, and every earlier visit."""

from datetime import date, datetime, time
from typing import Any
from uuid import UUID

from django import forms
from django.contrib.auth.decorators import login_required
from django.http import HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_POST, require_safe

from couplings.models import Coupling
from couplings.selectors import coupling_for, limits_of, target_of
from couplings.selectors.sheets import held_by
from couplings.selectors.wear import age_of, age_sentence
from inspections import rules
from inspections.drift_words import looked_sentence
from inspections.models import Check, DriftState, Flag, JumpCause, OtherWork, Visit, WorkOrder
from inspections.pages.act_forms import form_of_other_work, forms_of_check
from inspections.pages.history_lines import history_of, small_lines
from inspections.reasons import check_sentence, flag_sentence
from inspections.selectors.checks import open_checks
from inspections.selectors.drift import looked_on
from inspections.selectors.flags import open_flags
from inspections.selectors.orders import open_orders
from inspections.selectors.people import colleagues_of, owners_at
from inspections.selectors.surveys import lines_of
from inspections.selectors.visits import latest_as_left, visits_of
from inspections.services.drafts import begin_visit
from inspections.services.flags import CLEAR_THEMSELVES
from inspections.services.orders import open_order
from plant.access import may
from plant.models import MeterReading, Person
from plant.models.roots import reach
from plant.pages.context import SheetRequest, render_sheet
from plant.pages.forms import add_refusal
from plant.recording import recording
from plant.refusals import Refused
from plant.services.meters import record_run_hours
from plant.sitetime import site_time, today_at
from plant.units import UnitError, parse


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

    from_paper = forms.BooleanField(label=gettext_lazy("It is typed in from a paper"), required=False)
    taken_by = forms.ChoiceField(label=gettext_lazy("Taken by, as the paper says"), required=False)
    paper_isolation = forms.CharField(
        label=gettext_lazy("What the paper says of the isolation"),
        required=False,
        max_length=200,
        help_text=gettext_lazy("Permit or why there was none, and who tried it dead. Running checks have none."),
    )

    def __init__(self, *args: Any, coupling: Coupling, person: Person, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        orders = open_orders(coupling.train).filter(reach(WorkOrder, person))
        self.orders = {str(order.uuid): order for order in orders}
        choices = [(key, f"{order.number} {order.title}".strip()) for key, order in self.orders.items()]
        field = self.fields["work_order"]
        assert isinstance(field, forms.ChoiceField)
        if may(person, "order.write", coupling.site):
            choices.append(("", _("a new one, or none for a running check or an old record")))
        field.choices = choices
        crew = forms_people(person, coupling)
        self.people = {str(one.uuid): one for one in crew}
        taken = self.fields["taken_by"]
        assert isinstance(taken, forms.ChoiceField)
        taken.choices = [("", _("me")), *((key, str(one)) for key, one in self.people.items())]

    @property
    def always(self) -> list[Any]:
        return [self[name] for name in ("kind", "on", "work_order", "new_number")]

    @property
    def of_paper(self) -> list[Any]:
        return [self[name] for name in ("from_paper", "taken_by", "paper_isolation")]

    @property
    def shows_paper(self) -> bool:
        return bool(self.is_bound and (self.data.get("from_paper") or any(field.errors for field in self.of_paper)))

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        named = given.get("work_order") or given.get("new_number")
        if rules.order_refusal(given.get("kind", ""), bool(named)):
            self.add_error("new_number", _("Type the work order's number, or choose one that is open at this train."))
        return given


class HoursForm(forms.Form):
    """What the hour meter of the train shows, now or at an earlier time at the site."""

    hours = forms.CharField(
        label=gettext_lazy("Run hours, as the meter shows them"),
        max_length=40,
        widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
        error_messages={"required": gettext_lazy("Type what the meter shows.")},
    )
    at = forms.DateTimeField(
        label=gettext_lazy("Read at, where it was not just now"),
        required=False,
        input_formats=["%Y-%m-%d %H:%M", "%Y-%m-%d"],
        help_text=gettext_lazy("Time at the site, such as 2026-10-12 08:20."),
        error_messages={"invalid": gettext_lazy("Write the time as 2026-10-12 08:20.")},
    )
    replaced = forms.BooleanField(label=gettext_lazy("A new meter was put in"), required=False)

    def clean_hours(self) -> float:
        try:
            return parse(self.cleaned_data["hours"], "hours", "metric")
        except UnitError as error:
            raise forms.ValidationError(str(error)) from error


@require_safe
@login_required
def coupling(request: SheetRequest, uuid: UUID) -> HttpResponse:
    here = coupling_for(request.user, uuid)
    return coupling_page(request, here, begin_form(request, here))


@require_POST
@login_required
def begin(request: SheetRequest, uuid: UUID) -> HttpResponse:
    """Begin a visit, opening its work order where a new number was typed."""
    here = coupling_for(request.user, uuid)
    form = BeginForm(request.POST, coupling=here, person=request.user)
    if form.is_valid():
        given = form.cleaned_data
        try:
            with recording(by=request.user, at=timezone.now()):
                order = form.orders.get(given["work_order"])
                if order is None and given["new_number"]:
                    order = open_order(train=here.train, number=given["new_number"])
                visit = begin_visit(
                    coupling=here,
                    kind=given["kind"],
                    on=given["on"],
                    work_order=order,
                    taken_by=form.people.get(given["taken_by"]),
                    taken_at=_taken_at(here, given["on"]) if given["from_paper"] else None,
                    from_paper=given["from_paper"],
                    paper_isolation=given["paper_isolation"],
                )
            return redirect("visit", visit.uuid)
        except Refused as refusal:
            add_refusal(form, refusal, {"number": "new_number"})
    return coupling_page(request, here, form, status=422)


@require_POST
@login_required
def hours(request: SheetRequest, uuid: UUID) -> HttpResponse:
    """Write down what the hour meter of the train shows; dates that wait for run hours move at once."""
    here = coupling_for(request.user, uuid)
    form = HoursForm(request.POST)
    if form.is_valid():
        given, now = form.cleaned_data, timezone.now()
        wall = given["at"]
        at = site_time(here.site, wall.replace(tzinfo=None)) if wall is not None else now
        try:
            with recording(by=request.user, at=now):
                record_run_hours(train=here.train, at=at, hours=given["hours"], replaced=given["replaced"])
            return redirect("coupling", here.uuid)
        except Refused as refusal:
            add_refusal(form, refusal)
    return coupling_page(request, here, begin_form(request, here), hours_form=form, status=422)


def forms_people(person: Person, here: Coupling) -> list[Person]:
    """Whom a paper may name: people with a role at this coupling's site."""
    return list(colleagues_of(person).filter(memberships__site_id=here.site_id).distinct().order_by("username"))


def _taken_at(here: Coupling, on: date) -> datetime:
    """A paper names a day: noon there, or now where that is still to come."""
    return min(site_time(here.site, datetime.combine(on, time(12))), timezone.now())


def begin_form(request: SheetRequest, here: Coupling) -> BeginForm:
    """The form that begins a visit, with the kind that is likely next."""
    initial = {"on": today_at(here.site, timezone.now()), "kind": _likely_kind(here)}
    return BeginForm(coupling=here, person=request.user, initial=initial)


def _likely_kind(here: Coupling) -> str:
    signed = any(visit.state == Visit.State.SIGNED for visit in visits_of(here)[:1])
    return Visit.Kind.PERIODIC if signed else Visit.Kind.INSTALLATION


def _look(request: SheetRequest, here: Coupling) -> dict[str, Any]:
    """What a look on the day that the address names would mean."""
    state = DriftState.objects.filter(coupling=here).first()
    found: dict[str, Any] = {"forecast": state is not None and state.due_on is not None, "on": ""}
    if "look" in request.GET:
        found["on"] = request.GET["look"].strip()[:40]
        try:
            looked = looked_on(state, date.fromisoformat(found["on"]))
        except ValueError:
            found["error"] = _("Write the day as 2026-10-12.")
        else:
            found["said"] = looked_sentence(looked) if looked is not None else _("There is no forecast for this day.")
    return found


def coupling_page(
    request: SheetRequest,
    here: Coupling,
    form: BeginForm,
    *,
    hours_form: HoursForm | None = None,
    refused: dict[str, Any] | None = None,
    status: int = 200,
) -> HttpResponse:
    """The page of one coupling; `refused` is what an act on it was refused for, and what was typed there."""
    fit = here.fits.filter(removed_on__isnull=True).select_related("sheet_version__sheet__family").first()
    version = fit.sheet_version if fit else None
    left = latest_as_left(here)
    result = left.result if left else None
    system = here.site.units
    element = fit.elements.filter(removed_on__isnull=True).first() if fit else None
    polymer = version.element_polymer if version else ""
    today = today_at(here.site, timezone.now())
    age = age_of(here.site, polymer, element.cured_on if element else None, today)
    may_plan, may_handle = may(request.user, "check.plan", here.site), may(request.user, "flag.handle", here.site)
    people = list(owners_at(here.site)) if may_plan or may_handle else []
    refused = refused or {"typed": {}, "said": {}}
    # A forecast is made from all that the site has on record: it is for those who read the site as a whole.
    whole = Coupling.objects.filter(reach(DriftState, request.user), pk=here.pk).exists()
    context = {
        "coupling": here,
        "fit": fit,
        "version": version,
        "held_by": held_by(version) if version else "",
        "family": version.sheet.family if version else None,
        "limits": limits_of(here, version).limits if version else (),
        "target": target_of(here),
        "joints": list(version.joints.all()) if version else [],
        "element": element,
        "age": age,
        "age_said": age_sentence(age) if age else "",
        "left": left,
        "result": result,
        "lines": lines_of(result) if result else [],
        "history_line": small_lines([here], today).get(here.pk, "") if whole else "",
        "checks": [
            (check, check_sentence(check, system), forms_of_check(check, people, refused) if may_plan else [])
            for check in open_checks(here).filter(reach(Check, request.user))
        ],
        "other_works": list(OtherWork.objects.filter(coupling=here).visible_to(request.user)[:5]),
        "work_form": form_of_other_work(here, today.isoformat(), refused) if may_plan else None,
        "flags": [
            (flag, flag_sentence(flag, system), history_of(flag.kind, here))
            for flag in open_flags(coupling=here).filter(reach(Flag, request.user))
        ],
        "visits": list(visits_of(here).filter(reach(Visit, request.user))[:20]),
        "form": form,
        "hours_form": hours_form or HoursForm(),
        "meter_reading": MeterReading.objects.counted().filter(meter__train=here.train).order_by("-at").first(),
        "may_read_meter": may(request.user, "meter.write", here.site),
        "may_handle": may_handle,
        "may_plan": may_plan,
        "owners": people,
        "clears_itself": list(CLEAR_THEMSELVES),
        "jump_causes": JumpCause.choices,
        "look": _look(request, here),
        "refused": refused,
        "may_begin": fit is not None and here.retired_on is None and may(request.user, "visit.fill", here.site),
    }
    return render_sheet(request, "inspections/coupling.html", context, site=here.site, status=status)
