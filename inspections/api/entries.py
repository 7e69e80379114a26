"""The entries of a visit over the API: typed text kept per step, several hands at once, the live result."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from django.urls import reverse
from drf_spectacular.utils import OpenApiExample, OpenApiParameter, extend_schema
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from inspections.api.fields import TypedText
from inspections.api.results import live_result
from inspections.api.shapes import EntrySerializer, StepsSerializer
from inspections.api.structured import fields_of
from inspections.models import Entry, Visit
from inspections.selectors.visits import StepState, draft_result, read_entry, steps_of, visit_for
from inspections.services import drafts
from inspections.steps import STEPS
from plant import units
from plant.api import etags
from plant.api.acting import acting, answered
from plant.api.fields import NounSerializer
from plant.calculations import FormField
from plant.refusals import Missing, Refused, Stale

SEEN = OpenApiParameter(
    "If-Match",
    str,
    OpenApiParameter.HEADER,
    required=False,
    description="The entry's ETag as you saw it; leave it out where you saw no entry. Fields that nobody else changed "
    "since are merged; for the others the answer is 412 with both texts under `current`.",
)
ETAG = OpenApiParameter("ETag", str, OpenApiParameter.HEADER, response=[200], description="The entry's version.")
EXAMPLE = OpenApiExample(
    "Reverse rim, in inches",
    request_only=True,
    value={
        "fields": {
            "method": "reverse-rim",
            "stationary": "driven",
            "viewed_from": "movable",
            "set0.x": "3 inch",
            "set0.12": "0",
            "set0.6": "12 mil",
            "set1.x": "-3 inch",
            "set1.12": "0",
            "set1.6": "-0.010 inch",
        }
    },
)


class FieldsSerializer(NounSerializer):
    id = serializers.UUIDField(source="uuid", required=False, help_text="Of a new entry.")
    fields = serializers.DictField(  # type: ignore[assignment]
        child=TypedText(),
        required=False,
        help_text="Only what this hand changed, by field; an empty text empties a field.",
    )
    survey = serializers.DictField(
        required=False,
        help_text="Instead of fields, in a step with readings: the request of `calculations/alignment` as far as it "
        "says what was read, with stationary, taken_at, loosened_at, driver_support, driven_support, stopped, and an "
        "instrument per set. It replaces the whole survey, each quantity kept in the unit it came in.",
    )

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        if ("fields" in attrs) == ("survey" in attrs):
            raise serializers.ValidationError({"fields": "Send fields, or a survey."})
        return attrs


class VisitEntries:
    """Mix into the viewset of visits."""

    @extend_schema(responses=StepsSerializer, operation_id="visits_entries_list")
    @action(detail=True, url_path="entries")
    def entries(self: Any, request: Request, id: Any) -> Response:
        """The steps of the visit in the order of the work, with their state and entries."""
        visit = visit_for(self.person, id)
        return Response({"results": [_step_row(visit, state) for state in steps_of(visit)]})

    @extend_schema(responses=EntrySerializer, parameters=[ETAG], operation_id="visits_entries_retrieve")
    @action(detail=True, url_path="entries/<slug:step>", serializer_class=FieldsSerializer)
    def entry(self: Any, request: Request, id: Any, step: str) -> Response:
        """One step: what was typed, what is wrong and missing, the fields it asks for, its live result."""
        return self.entry_as_it_stands(request, id, step, 0)

    @extend_schema(
        responses={200: EntrySerializer},
        parameters=[SEEN, ETAG],
        examples=[EXAMPLE],
        operation_id="visits_entries_save",
    )
    @entry.mapping.patch
    def save_entry(self: Any, request: Request, id: Any, step: str) -> Response:
        """Keep what was typed. What cannot be taken stays there with its error under `errors`."""
        return self.entry_saved(request, id, step, 0)

    @extend_schema(responses=EntrySerializer, parameters=[ETAG], operation_id="visits_rounds_retrieve")
    @action(detail=True, url_path="entries/<slug:step>/<int:number>", serializer_class=FieldsSerializer)
    def round(self: Any, request: Request, id: Any, step: str, number: int) -> Response:
        """One round of alignment."""
        return self.entry_as_it_stands(request, id, step, number)

    @extend_schema(
        responses={200: EntrySerializer},
        parameters=[SEEN, ETAG],
        examples=[EXAMPLE],
        operation_id="visits_rounds_save",
    )
    @round.mapping.patch
    def save_round(self: Any, request: Request, id: Any, step: str, number: int) -> Response:
        """Keep what was typed in one round of alignment."""
        return self.entry_saved(request, id, step, number)

    def entry_as_it_stands(self: Any, request: Request, id: Any, step: str, number: int) -> Response:
        visit = visit_for(self.person, id)
        row = STEPS.get(step)
        if row is None or not row.filled or row.numbered != bool(number):
            raise Missing("This visit has no such entry.")
        shown = shown_entry(visit, step, number, self.units or visit.site.units)
        return Response(shown, headers={"ETag": f'"{shown["version"]}"'})

    def entry_saved(self: Any, request: Request, id: Any, step: str, number: int) -> Response:
        with acting(request) as unit:
            visit = visit_for(self.person, id)
            stands = _entry(visit, step, number) or Entry(version=0)
            given = self.given(request)
            if "survey" in given:
                given["fields"] = _survey(step, given.pop("survey"), stands)
            try:
                drafts.save_entry(visit=visit, step=step, number=number, seen=_seen(request, stands), **given)
            except Stale as stale:
                stale.current = {"version": stands.version, "fields": stale.current}
                raise
            fresh = visit_for(self.person, id)
            shown = shown_entry(fresh, step, number, self.units or fresh.site.units)
            return answered(unit, shown, etag=f'"{shown["version"]}"')


def shown_entry(visit: Visit, step: str, number: int, system: str) -> dict[str, Any]:
    """One entry for the API, read afresh while the visit is a draft."""
    entry, row = _entry(visit, step, number), STEPS[step]
    typed = dict(entry.typed) if entry is not None else {}
    draft = visit.state == Visit.State.DRAFT
    # What a signed visit was understood as stands in its record; reading it again would judge by today's register.
    read = read_entry(visit, step, number) if draft else None
    judged = draft_result(visit, step, number) if draft and row.surveys and entry is not None else None
    told = row.tells(visit, typed) if draft else None
    return {
        "id": str(entry.uuid) if entry is not None else None,
        "visit": str(visit.uuid),
        "step": step,
        "number": number,
        "title": row.title,
        "version": entry.version if entry is not None else 0,
        "by": str(entry.by.uuid) if entry is not None and entry.by is not None else None,
        "at": entry.at if entry is not None else None,
        "typed": typed,
        "errors": read.errors if read is not None else (entry.errors if entry is not None else {}),
        "missing": read.missing if read is not None else {},
        "warnings": read.warnings if read is not None else [],
        "findings": [asdict(one) for one in read.found] if read is not None else [],
        "notes": read.notes if read is not None else [],
        "excused": read.excused if read is not None else "",
        "asks": [_asked(one, visit.site.units) for one in row.fields(visit, typed)] if draft else [],
        "offers": [{"label": one.label, "fields": one.fields} for one in row.offers(visit, typed)] if draft else [],
        "advice": told.answer(system) if told is not None else None,
        "result": live_result(judged, system, visit.site.confidence) if judged is not None else None,
    }


def _survey(step: str, survey: dict[str, Any], stands: Entry) -> dict[str, str]:
    if step in STEPS and not STEPS[step].surveys:
        raise Refused({"survey": f"{STEPS[step].title} has no readings of alignment: send fields."})
    return fields_of(survey, stands.typed)


def _seen(request: Request, entry: Entry) -> int | None:
    """The version this hand saw: what If-Match names, nothing where it is not sent."""
    if not request.headers.get("If-Match", "").strip():
        return None
    seen = etags.expected(request, entry)
    if seen is None:
        return entry.version
    if seen > entry.version:
        raise Stale("If-Match names no version of this entry.")
    return seen


def _entry(visit: Visit, step: str, number: int) -> Entry | None:
    return next((one for one in visit.entries.all() if (one.step, one.number) == (step, number)), None)


def _asked(row: FormField, system: str) -> dict[str, Any]:
    """A field of the step; a bare number is in the site's own unit, whatever units the answer comes in."""
    return {
        "name": row.name,
        "label": row.label,
        "kind": row.kind,
        "unit": units.unit_of(row.kind, system) if row.kind in units.KINDS else None,
        "required": row.required,
        "group": row.group,
        "choices": [value for value, _label in row.choices],
        "hint": row.hint,
    }


def _step_row(visit: Visit, state: StepState) -> dict[str, Any]:
    step, draft = state.step, visit.state == Visit.State.DRAFT
    one = step.filled and not step.numbered
    return {
        "step": step.key,
        "title": step.title,
        "state": state.state if draft else None,
        "numbered": step.numbered,
        "needs_isolation": step.needs_isolation,
        "url": reverse("api-visit-entry", args=[visit.uuid, step.key]) if one else None,
        "entries": [
            {
                "id": str(entry.uuid),
                "number": entry.number,
                "version": entry.version,
                "url": _url(visit, entry),
                "wrong": len(entry.errors),
            }
            for entry in state.entries
        ],
    }


def _url(visit: Visit, entry: Entry) -> str:
    if STEPS[entry.step].numbered:
        return reverse("api-visit-round", args=[visit.uuid, entry.step, entry.number])
    return reverse("api-visit-entry", args=[visit.uuid, entry.step])
