"""Visits: begun, written entry by entry, signed into the coupling's chain, amended."""

import json
from dataclasses import asdict
from typing import Any

from django.urls import reverse
from drf_spectacular.utils import OpenApiExample, OpenApiParameter, extend_schema
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from couplings.models import Coupling
from inspections.api.entries import VisitEntries
from inspections.api.fields import NothingSerializer, PersonField, TypedErrors, TypedText
from inspections.api.photos import VisitPhotos
from inspections.api.shapes import RecordSerializer, SummarySerializer
from inspections.api.whatif import TrialSerializer, WhatIfSerializer, whatif_answer
from inspections.models import SignedRecord, Visit, WorkOrder
from inspections.selectors.comparison import changes_of
from inspections.selectors.hold_points import HoldPoint, hold_points
from inspections.selectors.summary import Summary, summary_of
from inspections.selectors.visits import visit_for, with_left_verdict
from inspections.services import amendments, drafts, runups, signing, witnessing
from plant.api import etags
from plant.api.acting import acting
from plant.api.bulk import CreateMany
from plant.api.fields import NounSerializer, RootField, SiteField
from plant.api.filters import ByRoot, Filters, filters
from plant.api.views import CreateRoots, RootViewSet
from plant.refusals import Missing

IF_MATCH = OpenApiParameter(
    "If-Match", str, OpenApiParameter.HEADER, required=True, description="The visit's ETag as it was read."
)


class VisitSerializer(NounSerializer):
    fixed = ("id", "coupling", "work_order", "from_paper", "paper_isolation")

    id = serializers.UUIDField(source="uuid", required=False)
    version = serializers.IntegerField(read_only=True)
    site = SiteField(read_only=True)
    coupling = RootField(Coupling)
    fit = RootField(read_only=True)
    work_order = RootField(
        WorkOrder,
        required=False,
        allow_null=True,
        help_text="Work on a stopped machine needs one, for this coupling's train; a running check and an old record "
        "do not.",
    )
    kind = serializers.ChoiceField(choices=Visit.Kind.choices)
    on = serializers.DateField(help_text="The day at the site.")
    zone = serializers.CharField(read_only=True)
    state = serializers.ChoiceField(choices=Visit.State.choices, read_only=True)
    nothing_moved = serializers.BooleanField(read_only=True)
    taken_by = PersonField(required=False, help_text="Who took the readings; you, where it is not said.")
    taken_at = serializers.DateTimeField(required=False)
    entered_by = PersonField(read_only=True)
    entered_at = serializers.DateTimeField(read_only=True)
    in_hand_of = PersonField(
        read_only=True, allow_null=True, help_text="Who goes on with the draft in place of somebody who left."
    )
    signed_by = PersonField(read_only=True, allow_null=True)
    signed_at = serializers.DateTimeField(read_only=True, allow_null=True)
    from_paper = serializers.BooleanField(
        required=False, help_text="Typed in later from a paper: name taken_by and taken_at."
    )
    paper_isolation = serializers.CharField(
        required=False,
        allow_blank=True,
        max_length=200,
        help_text="What the paper says of the isolation: permit or reason for none, and who tried it.",
    )
    left_so_reason = serializers.CharField(read_only=True)
    record = serializers.IntegerField(
        source="record.number",
        read_only=True,
        allow_null=True,
        default=None,
        help_text="Number of the text that now feeds the dates.",
    )
    as_left_verdict = serializers.CharField(source="left_verdict", read_only=True, allow_null=True)
    links = serializers.SerializerMethodField()

    def get_links(self, visit: Visit) -> dict[str, str]:
        here = {name: reverse(f"api-visit-{name}", args=[visit.uuid]) for name in ("entries", "summary", "records")}
        return here | {"surveys": f"{reverse('api-survey-list')}?visit={visit.uuid}"}


class SignSerializer(NounSerializer):
    left_so_reason = serializers.CharField(
        required=False,
        allow_blank=True,
        max_length=1000,
        help_text="Only where as-left is out of tolerance: why it is left so.",
    )


class AmendSerializer(NounSerializer):
    steps = serializers.DictField(
        child=serializers.DictField(child=TypedText()),
        help_text='Whole steps as they should have been typed, by step: "placement", "alignment.2". An empty one takes '
        "the step back.",
    )
    reason = serializers.CharField(max_length=2000, allow_blank=True, help_text="Why it is amended.")
    left_so_reason = serializers.CharField(required=False, allow_blank=True, max_length=1000)


class WitnessSerializer(NounSerializer):
    step = serializers.CharField(max_length=20)
    what = serializers.CharField(max_length=200, help_text="The hold point, as the data sheet words it.")


class HandOverSerializer(NounSerializer):
    text = serializers.CharField(max_length=1000)
    to = serializers.CharField(max_length=80, required=False, allow_blank=True)


class RunUpSerializer(NounSerializer):
    fields = serializers.DictField(  # type: ignore[assignment]
        child=TypedText(),
        help_text="As typed: outcome (accepted, remarks, refused) and ran_at; with remarks, running, driver_bearing, "
        "driven_bearing, coupling, driver_vibration, driven_vibration, current, speed, noise as context.",
    )


class VisitHoldPointSerializer(serializers.Serializer):
    step = serializers.CharField()
    what = serializers.CharField()
    role = serializers.CharField(help_text="In which role somebody has to look on.")
    witnessed_by = serializers.UUIDField(allow_null=True)
    witnessed_at = serializers.DateTimeField(allow_null=True)
    lapsed = serializers.BooleanField(help_text="The step was changed after somebody looked on.")


class VisitFilters(Filters):
    site = ByRoot("site")
    coupling = ByRoot("coupling")
    train = ByRoot("coupling__train")
    work_order = ByRoot("work_order")
    state = filters.ChoiceFilter(choices=Visit.State.choices)
    kind = filters.ChoiceFilter(choices=Visit.Kind.choices)
    from_on = filters.DateFilter(field_name="on", lookup_expr="gte", label="On this day or later.")
    until_on = filters.DateFilter(field_name="on", lookup_expr="lte", label="On this day or earlier.")

    class Meta:
        model = Visit
        fields: list[str] = []


AMENDED = OpenApiExample(
    "One step",
    request_only=True,
    value={"steps": {"placement": {"dbse": "5.51 inch"}}, "reason": "The feeler was read on the wrong side."},
)


class VisitViewSet(TypedErrors, CreateRoots, CreateMany, VisitEntries, VisitPhotos, RootViewSet):
    """One time at one coupling. Its ETag is the visit's version; while it is written, each entry has its own."""

    noun_class = Visit
    serializer_class = VisitSerializer
    filterset_class = VisitFilters
    ordering = ("-on", "-id")

    def related(self, queryset: Any) -> Any:
        people = ("taken_by", "entered_by", "in_hand_of", "signed_by")
        return with_left_verdict(queryset.select_related("site", "coupling", "fit", "work_order", "record", *people))

    def make(self, **given: Any) -> Visit:
        return drafts.begin_visit(**given)

    @action(detail=True, methods=["post"], serializer_class=NothingSerializer)
    def drop(self, request: Request, id: Any) -> Response:
        """Give up a draft: it stays readable and feeds nothing. If-Match is honoured."""
        return self.act(request, lambda visit: drafts.drop_visit(visit=visit))

    @extend_schema(responses=SummarySerializer)
    @action(detail=True)
    def summary(self, request: Request, id: Any) -> Response:
        """What stands against signing this draft, and what it would say."""
        visit = visit_for(self.person, id)
        if visit.state != Visit.State.DRAFT:
            raise Missing(f"This visit is {visit.get_state_display()}: only a draft has a summary; see its records.")
        return Response(shown_summary(summary_of(visit)))

    @extend_schema(responses=TrialSerializer)
    @action(detail=True, methods=["post"], url_path="what-if", serializer_class=WhatIfSerializer)
    def what_if(self, request: Request, id: Any) -> Response:
        """What moves of the machine would leave, at this coupling and through its train. Nothing is stored."""
        visit = visit_for(self.person, id)
        if visit.state != Visit.State.DRAFT:
            raise Missing(f"This visit is {visit.get_state_display()}: moves are tried on a draft only.")
        return Response(whatif_answer(visit, self.given(request), self.units or visit.site.units))

    @extend_schema(parameters=[IF_MATCH])
    @action(detail=True, methods=["post"], serializer_class=SignSerializer)
    def sign(self, request: Request, id: Any) -> Response:
        """Sign: every entry becomes a row of the record, or none does. Errors point to "/steps/<step>/<field>"."""
        with acting(request) as unit:
            visit = self.get_object()
            expected = etags.expected(request, visit)
            signing.sign_visit(visit=visit, expected=expected, **self.given(request))
            return self.answer(unit, visit)

    @extend_schema(parameters=[IF_MATCH], examples=[AMENDED])
    @action(detail=True, methods=["post"], serializer_class=AmendSerializer)
    def amend(self, request: Request, id: Any) -> Response:
        """Replace whole steps of a signed visit by a new link of the chain; the old text stays beside it."""
        with acting(request) as unit:
            visit = self.get_object()
            expected = etags.expected(request, visit)
            amendments.amend_visit(visit=visit, expected=expected, **self.given(request))
            return self.answer(unit, visit)

    @extend_schema(responses=VisitHoldPointSerializer(many=True), filters=False)
    @action(detail=True, url_path="hold-points", pagination_class=None)
    def hold_points(self, request: Request, id: Any) -> Response:
        """What somebody else has to look on in this visit, and who did."""
        return Response([shown_point(one) for one in hold_points(visit_for(self.person, id))])

    @action(detail=True, methods=["post"], serializer_class=WitnessSerializer)
    def witness(self, request: Request, id: Any) -> Response:
        """Say that you looked on at a hold point. Nobody witnesses what he took, typed or signs."""
        return self.act(request, lambda visit, **given: witnessing.witness_step(visit=visit, **given))

    @action(detail=True, methods=["post"], url_path="hand-over", serializer_class=HandOverSerializer)
    def hand_over(self, request: Request, id: Any) -> Response:
        """Leave a note for the next shift; it goes into the record."""
        return self.act(request, lambda visit, **given: witnessing.hand_over(visit=visit, **given))

    @extend_schema(parameters=[IF_MATCH])
    @action(detail=True, methods=["post"], url_path="run-up", serializer_class=RunUpSerializer)
    def run_up(self, request: Request, id: Any) -> Response:
        """Sign the run-up of a signed visit, by somebody else: the next link of the coupling's chain."""
        with acting(request) as unit:
            visit = self.get_object()
            expected = etags.expected(request, visit)
            runups.accept_run_up(visit=visit, expected=expected, **self.given(request))
            return self.answer(unit, visit)

    @extend_schema(responses=RecordSerializer(many=True), filters=False)
    @action(detail=True, ordering=("number",))
    def records(self, request: Request, id: Any) -> Response:
        """The signed texts of this visit, the signature first and then its amendments."""
        visit = visit_for(self.person, id)
        rows = SignedRecord.objects.filter(visit=visit).select_related("signed_by", "amends")
        system = self.units or visit.site.units
        page = self.paginate_queryset(rows) or []
        return self.get_paginated_response([_record(visit, row, system) for row in page])


def shown_summary(summary: Summary) -> dict[str, Any]:
    """A summary for the API."""
    return {
        "ready": summary.ready,
        "verdict": summary.verdict,
        "needs_reason": summary.needs_reason,
        "why_reason": summary.why_reason,
        "missing": [
            {"step": one.step, "number": one.number, "field": one.name, "detail": one.sentence}
            for one in summary.missing
        ],
        "out": summary.out,
        "warnings": summary.warnings,
        "surveys": [
            {
                "step": step,
                "number": number,
                "as_left": (step, number) == summary.as_left,
                "verdict": one.verdict,
                "tolerance_used": one.judgement.tolerance_used,
                "probability_in_tolerance": one.judgement.probability,
                "reason": one.judgement.reason,
            }
            for (step, number), one in sorted(summary.judged.items())
        ],
    }


def shown_point(one: HoldPoint) -> dict[str, Any]:
    """A hold point for the API."""
    return {
        "step": one.step,
        "what": one.what,
        "role": one.role,
        "witnessed_by": str(one.witness.by.uuid) if one.witness is not None else None,
        "witnessed_at": one.witness.at if one.witness is not None else None,
        "lapsed": one.lapsed is not None,
    }


def _record(visit: Visit, record: SignedRecord, system: str) -> dict[str, Any]:
    return {
        "number": record.number,
        "kind": record.kind,
        "in_force": record.pk == visit.record_id,
        "signed_by": str(record.signed_by.uuid),
        "signed_at": record.signed_at,
        "amends": record.amends.number if record.amends is not None else None,
        "reason": record.reason,
        "previous_digest": record.previous_digest,
        "digest": record.digest,
        "changes": [asdict(one) for one in changes_of(record, visit, system)],
        "text": record.text,
        "content": json.loads(record.text),
    }
