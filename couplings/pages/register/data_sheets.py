"""Data sheets: the version in force, the draft beside it, and the acts from writing one to adopting it."""

from collections.abc import Iterable
from datetime import date
from typing import Any

from django.db.models import Q
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import ngettext

from couplings.models import DataSheet, Family, LimitChange, SheetVersion
from couplings.pages.register.sheet_fields import taken, version_fields, version_lists
from couplings.selectors.adoption import fits_on_older, touched_by
from couplings.selectors.limit_changes import limit_changes, not_adoptable
from couplings.selectors.sheet_advice import told_while_writing
from couplings.selectors.sheet_comparison import compare_versions
from couplings.selectors.sheet_reading import draft_of, latest_of, reading_of
from couplings.selectors.sheets import versions_of
from couplings.services import adoption, sheets
from couplings.services.limit_changes import approve_limit_change, turn_down_limit_change
from plant.models import Person
from plant.pages.register import Act, Column, Field, Filter, Noun, Part, Place, add_noun, by_site
from plant.pages.register import lazily as _
from plant.refusals import Refused
from plant.sitetime import today_at

ALL = "all"
WAITING = LimitChange.Decision.WAITING
HAS_DRAFT = Q(pk__in=SheetVersion.objects.filter(published_at__isnull=True).values("sheet_id"))


def _families(_person: Person) -> list[tuple[str, str]]:
    return [(family.code, family.name) for family in Family.objects.all()]


def _family_options(_place: Place) -> list[tuple[str, str]]:
    return [(family.code, family.name) for family in Family.objects.all()]


def _family(given: dict[str, Any]) -> dict[str, Any]:
    if "family" in given:
        given["family"] = Family.objects.get(code=given["family"])
    return given


def _create(place: Place, **given: Any) -> DataSheet:
    assert place.site is not None
    given = _family(given)
    return sheets.write_sheet(site=place.site, sheet_note=given.pop("note", ""), **given)


def _change(root: DataSheet, expected: int | None, **given: Any) -> DataSheet:
    return sheets.change_sheet(sheet=root, expected=expected, **_family(given))


def _draft(root: DataSheet) -> SheetVersion:
    draft = draft_of(root)
    if draft is None:
        raise Refused(str(_("No version is being written: begin a new one first.")), "no-draft")
    return draft


def _latest(root: DataSheet) -> SheetVersion:
    latest = latest_of(root)
    if latest is None:
        raise Refused(str(_("No version is published yet: publish the draft first.")), "no-version")
    return latest


def _write(root: DataSheet, expected: int | None, **given: Any) -> None:
    sheets.change_version(version=_draft(root), expected=expected, **taken(root, given))


def _begin(root: DataSheet, expected: int | None) -> None:
    sheets.begin_version(sheet=root, expected=expected)


def _publish(root: DataSheet, expected: int | None, *, from_on: date | None = None, **given: str) -> None:
    sheets.publish_version(version=_draft(root), expected=expected, from_on=from_on, **given)


def _copy(root: DataSheet, _expected: int | None, *, designation: str) -> DataSheet:
    return sheets.copy_sheet(sheet=root, designation=designation)


def _waiting(root: DataSheet) -> LimitChange | None:
    return limit_changes().filter(sheet_version__sheet=root, decision=WAITING).first()


def _decided(service: Any) -> Any:
    def do(root: DataSheet, _expected: int | None, *, reason: str = "") -> None:
        change = _waiting(root)
        if change is None:
            raise Refused(str(_("No limit change of this sheet waits for approval.")), "decided")
        service(change=change, reason=reason)

    return do


def _adopt(root: DataSheet, expected: int | None, *, fits: str) -> None:
    version = _latest(root)
    chosen = [fit for fit in fits_on_older(version) if fits in (ALL, str(fit.uuid))]
    adoption.adopt_version(version=version, fits=chosen, expected=expected)


def _touched_options(place: Place) -> list[tuple[str, str]]:
    version = latest_of(place.root)
    fits = fits_on_older(version) if version is not None else []
    every = ngettext("the one listed", "all %(n)s listed", len(fits)) % {"n": len(fits)}
    return [(ALL, every), *((str(fit.uuid), f"{fit.coupling.tag}") for fit in fits)]


def _in_force(_request: Any, sheet: DataSheet) -> dict[str, Any]:
    version = latest_of(sheet)
    if version is None or version.published_at is None:
        return {"version": None}
    on = today_at(sheet.site, version.published_at)
    return {"version": version, "on": on, "reading": reading_of(version, sheet.site.units)}


def _written(_request: Any, sheet: DataSheet) -> dict[str, Any]:
    draft, latest, system = draft_of(sheet), latest_of(sheet), sheet.site.units
    if draft is None:
        return {"draft": None}
    apart = compare_versions(latest, draft, system) if latest is not None else None
    reading = reading_of(draft, system) if latest is None else None
    return {"draft": draft, "latest": latest, "differences": apart, "reading": reading}


def _advice(_request: Any, sheet: DataSheet) -> dict[str, Any]:
    version = draft_of(sheet) or latest_of(sheet)
    told = told_while_writing(version, sheet.site.units) if version is not None else None
    held = ""
    if told is not None and told.holding is not None and told.torque_nm is not None:
        held = told.holding.sentence(sheet.site.units)
    return {"version": version, "told": told, "held": held}


def _touch(request: Any, sheet: DataSheet) -> dict[str, Any]:
    version = latest_of(sheet)
    if version is None:
        return {"touched": ()}
    why = not_adoptable(version, today_at(sheet.site, timezone.now()))
    return {"version": version, "touched": touched_by(version, sheet.site.units, request.user), "why": why}


def _changes(_request: Any, sheet: DataSheet) -> dict[str, Any]:
    return {"changes": limit_changes().filter(sheet_version__sheet=sheet)}


def _says(sheet: DataSheet) -> str:
    latest, draft = latest_of(sheet), draft_of(sheet)
    words = [sheet.family.name]
    words.append(str(_("version %(n)s in force")) % {"n": latest.number} if latest else str(_("nothing published yet")))
    if draft is not None and latest is not None:
        words.append(str(_("version %(n)s being written")) % {"n": draft.number})
    return ", ".join(words)


def _gaps(person: Person) -> Iterable[tuple[str, str]]:
    rows = limit_changes().filter(site__in=person.site_ids(), decision=WAITING)
    count = rows.count()
    if count:
        said = ngettext("One limit change waits for approval", "%(n)s limit changes wait for approval", count)
        yield said % {"n": count}, reverse("register-data-sheets") + "?waiting=yes"


def _in_list(version: SheetVersion | None) -> int | None:
    return version.number if version is not None else None


REASON = Field("reason", _("Why"), "long", hint=_("Needed to turn it down."))
WRITES = "sheet.write"

add_noun(
    Noun(
        key="data-sheets",
        one=_("data sheet"),
        many=_("data sheets"),
        what=_("The limits and sizes of one coupling design as your site entered them, in versions."),
        model=DataSheet,
        action=WRITES,
        related=lambda rows: rows.select_related("site", "family").prefetch_related(versions_of()),
        columns=(
            Column("designation", _("Designation"), lambda sheet: sheet.designation, sort=("designation",)),
            Column("family", _("Family"), lambda sheet: sheet.family.name, sort=("family__name", "designation")),
            Column("force", _("In force"), lambda sheet: _in_list(latest_of(sheet)), kind="count"),
            Column("draft", _("Being written"), lambda sheet: _in_list(draft_of(sheet)), kind="count"),
            Column("site", _("Site"), lambda sheet: sheet.site.name, sort=("site__name", "designation")),
        ),
        order=("designation", "pk"),
        search=("designation", "note"),
        search_words=_("the designation or the note"),
        filters=(
            by_site(),
            Filter("family", _("of"), _("any family"), _families, lambda rows, code: rows.filter(family__code=code)),
            Filter("draft", _("with"), _("a draft or none"), lambda _person: (("yes", _("a draft")),),
                   lambda rows, _value: rows.filter(HAS_DRAFT)),
            Filter("waiting", _("with"), _("limit changes or none"),
                   lambda _person: (("yes", _("a limit change waiting")),),
                   lambda rows, _value: rows.filter(versions__limit_change__decision=WAITING)),
        ),
        empty=_("No data sheet yet. Enter the first from the maker’s sheet: designation and family, then its draft."),
        missing=_gaps,
        says=_says,
        fields=(
            Field("designation", _("Designation"), "text", required=True),
            Field("family", _("Family"), "choice", required=True, options=_family_options,
                  value=lambda sheet: sheet.family.code),
            Field("note", _("Note"), "long"),
        ),
        parts=(
            Part(_("In force"), "couplings/register/sheet_in_force.html", _in_force),
            Part(_("The draft"), "couplings/register/sheet_draft.html", _written),
            Part(_("What follows from it"), "couplings/register/sheet_advice.html", _advice,
                 note=_("Advice to a competent person, not part of the sheet.")),
            Part(_("Whom the version in force has not reached"), "couplings/register/sheet_touched.html", _touch),
            Part(_("Limit changes"), "couplings/register/sheet_changes.html", _changes),
        ),
        create=_create,
        change=_change,
        acts=(
            Act(
                key="draft", label=_("Write the draft"), action=WRITES, do=_write, filled=True,
                fields=version_fields(), lists=version_lists(), offered=lambda sheet: draft_of(sheet) is not None,
                why=_("Only the draft changes. Fits keep the version they are held to."),
                done=_("The draft of %(row)s is saved."),
            ),
            Act(
                key="begin", label=_("Begin a new version"), action=WRITES, do=_begin,
                offered=lambda sheet: draft_of(sheet) is None,
                why=_("It begins as a copy of the version in force."), done=_("A new version of %(row)s is begun."),
            ),
            Act(
                key="publish", label=_("Publish the draft"), action=WRITES, do=_publish,
                offered=lambda sheet: draft_of(sheet) is not None,
                why=_("A published version never changes. Where its limits differ from those in force, a second person "
                      "approves the change before any fit goes by it."),
                fields=(
                    Field("reason", _("Why the limits change"), "long", hint=_("Empty where no limit differs.")),
                    Field("change_number", _("Number of the limit change"), "text"),
                    Field("from_on", _("Holds from"), "date"),
                ),
                done=_("The draft of %(row)s is published."),
            ),
            Act(
                key="approve", label=_("Approve the limit change"), action="limit.approve",
                do=_decided(approve_limit_change), offered=lambda sheet: _waiting(sheet) is not None,
                fields=(Field("reason", _("Remark"), "long"),),
                why=_("You answer for these limits together with whoever proposed them."),
                done=_("The limit change of %(row)s is approved."),
            ),
            Act(
                key="turn-down", label=_("Turn the limit change down"), action="limit.approve",
                do=_decided(turn_down_limit_change), offered=lambda sheet: _waiting(sheet) is not None,
                fields=(REASON,), why=_("No fit will ever go by that version."),
                done=_("The limit change of %(row)s is turned down."),
            ),
            Act(
                key="adopt", label=_("Have fits adopt the version in force"), action="limit.approve", do=_adopt,
                offered=lambda sheet: (_in_list(latest_of(sheet)) or 0) > 1,
                fields=(Field("fits", _("Which fits"), "choice", required=True, options=_touched_options),),
                why=_("From now on they are held to it. What was signed keeps the version it was judged by."),
                done=_("The version of %(row)s is adopted."),
            ),
            Act(
                key="copy", label=_("Copy this sheet"), action=WRITES, do=_copy,
                fields=(Field("designation", _("Designation of the copy"), "text", required=True),),
                why=_("The copy says all that the latest version says, as a draft of its own."),
                done=_("%(row)s is copied; the copy stands in the list."), then="list",
            ),
        ),
    )
)  # fmt: skip
