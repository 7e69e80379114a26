"""How couplings were left last, read by the limits of a version not adopted yet: a preview, never a record."""

from __future__ import annotations

from django.db.models import OuterRef, Subquery

from couplings.engineering.alignment import minus_target
from couplings.engineering.conformity import Judgement, Limits, judge
from couplings.models import Fit, SheetVersion
from couplings.selectors import flex_planes_of, limits_of_each, target_of
from couplings.selectors.adoption import Preview
from inspections.models import Survey, SurveyResult
from inspections.selectors.surveys import misalignment_of


def last_as_left_by(fits: list[Fit], version: SheetVersion) -> dict[int, Preview]:
    """For each fit that a survey was left in: its verdict as signed, and by the limits of `version` at today's target.

    A survey whose closure was refused stays not known by any limits.
    """
    left = (
        Survey.objects.filter(visit__fit=OuterRef("pk"), as_left=True, record__feeds__isnull=False)
        .order_by("-visit__on", "-record__number")
        .values("pk")[:1]
    )
    keys = dict(
        Fit.objects.filter(pk__in=[fit.pk for fit in fits]).annotate(left=Subquery(left)).values_list("pk", "left")
    )
    surveys = Survey.objects.filter(pk__in=[key for key in keys.values() if key]).select_related("visit", "result")
    by_key = {survey.pk: survey for survey in surveys}
    limits = limits_of_each((fit.coupling, version) for fit in fits)
    found = {}
    for fit in fits:
        survey = by_key.get(keys.get(fit.pk) or 0)
        result = getattr(survey, "result", None)
        if survey is None or result is None:
            continue
        judgement = _judged(result, fit, version, limits[fit.coupling.pk])
        found[fit.pk] = Preview(
            survey.visit.on,
            result.verdict,
            judgement.verdict,
            result.tolerance_used,
            judgement.tolerance_used,
        )
    return found


def _judged(result: SurveyResult, fit: Fit, version: SheetVersion, limits: Limits) -> Judgement:
    def by(refused: bool) -> Judgement:
        return judge(
            minus_target(misalignment_of(result), target_of(fit.coupling)),
            limits,
            flex_planes_of(version),
            None,
            fit.site.confidence,
            result.decision,
            closure_refused=refused,
        )

    # Whether the readings closed is kept as the sentence it was told in.
    refused = by(True)
    return refused if result.reason == refused.reason[: len(result.reason)] and result.reason else by(False)
