"""Why elements are taken out, in the site's own words: what lives are learned from."""

from typing import Any

from django.db.models import Q

from couplings.models import RemovalReason
from couplings.pages.register.kept_tables import loads
from couplings.services import starters, stock
from plant.pages.register import Column, Field, Noun, Place, add_noun, by_site, yes_or_no
from plant.pages.register import lazily as _


def _create(place: Place, **given: Any) -> RemovalReason:
    assert place.site is not None
    return stock.write_removal_reason(site=place.site, **given)


def _change(root: RemovalReason, expected: int | None, *, code: str = "", **given: Any) -> RemovalReason:
    if code:
        stock.refuse_new_code(root)
    return stock.change_removal_reason(reason=root, expected=expected, **given)


add_noun(
    Noun(
        key="removal-reasons",
        one=_("reason for a removal"),
        many=_("reasons for removals"),
        what=_("Why elements are taken out, in your words; lives are learned from those that are failures."),
        model=RemovalReason,
        related=lambda rows: rows.select_related("site"),
        columns=(
            Column("title", _("Reason"), lambda one: one.title, sort=("title",)),
            Column("code", _("Code"), lambda one: one.code, sort=("code",)),
            Column("failure", _("A failure"), lambda one: one.failure, sort=("failure", "code")),
            Column("use", _("Offered in forms"), lambda one: one.in_use, sort=("in_use", "code")),
            Column("source", _("Source"), lambda one: one.source),
            Column("site", _("Site"), lambda one: one.site.name, sort=("site__name", "code")),
        ),
        order=("code",),
        search=("code", "title"),
        search_words=_("the reason or its code"),
        filters=(
            by_site(),
            yes_or_no("use", _("which are"), _("offered or not"), _("offered"), _("out of use"), Q(in_use=True)),
            yes_or_no("failure", _("which count as"), _("anything"), _("a failure"), _("no failure"), Q(failure=True)),
        ),
        empty=_("No reason yet, so no life is learned from removals. Load the starters, or add your own."),
        fields=(
            Field("title", _("Reason"), "text", required=True, hint=_("Such as: worn through.")),
            Field("code", _("Code"), "text", required=True, hint=_("Small letters and hyphens; it stays.")),
            Field("failure", _("Its life ended by itself"), "yes", starter="no",
                  hint=_("No: it might have run on, as when it came off with a machine.")),
            Field("in_use", _("Offered in forms"), "yes", starter="yes"),
            Field("source", _("Source"), "text"),
        ),
        action="policy.write",
        create=_create,
        change=_change,
        whole=(loads(lambda site: starters.load_removal_reasons(site=site)),),
    )
)  # fmt: skip
