"""Plain fields of many rows at once: one service call per row in one unit of work, and the fate of each told."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any
from uuid import UUID

from django.contrib.auth.decorators import login_required
from django.http import HttpResponse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from plant import access
from plant.pages.context import SheetRequest, render_sheet
from plant.pages.register.registry import Field, Noun, Place, noun_of
from plant.pages.register.shown import shown_form
from plant.pages.register.typed import Reader, asked, posted
from plant.recording import part, recording
from plant.refusals import Missing, NotAllowed, Refusal, Stale

AT_MOST = 200
EMPTY = "_empty."


@dataclass(frozen=True)
class Fate:
    """What became of one row."""

    name: str
    href: str
    said: str
    done: bool


@require_http_methods(["GET", "HEAD", "POST"])
@login_required
def batch(request: SheetRequest, key: str) -> HttpResponse:
    """Choose what the chosen rows shall have; what is left empty stays as it is."""
    noun = noun_of(key)
    if not any(access.may(request.user, noun.action, site) for site in request.user.site_ids()) and not (
        request.user.sees_everything
    ):
        raise NotAllowed(_("Your role does not let you change this."))
    given = request.POST if request.method == "POST" else request.GET
    rows = _chosen(noun, request, given.getlist("row"))
    place = _place(noun, request, rows)
    fields = [_optional(one, place) for one in noun.fields if one.name in noun.batch and _fits(one, noun, rows)]
    if request.method != "POST":
        return _page(request, noun, place, rows, fields, {}, {})
    typed = posted(fields, (), request.POST)
    reader = Reader(typed, place)
    values = reader.given([_needed(one, noun) for one in fields if typed[one.name].strip()], ())
    errors = dict(reader.errors)
    for one in _emptied(fields, noun, request):
        if typed[one.name].strip():
            errors[one.name] = _("It is filled in and asked to be emptied: leave one of the two out.")
        values[one.name] = one.empty if one.empty is not None or one.kind not in {"text", "long", "choice"} else ""
    if len(set(given.getlist("row"))) > AT_MOST:
        errors[""] = _("At most %(most)s rows are changed at once: choose fewer.") % {"most": AT_MOST}
    elif not rows:
        errors[""] = _("No row is chosen: go back to the list and tick some.")
    elif not values and not errors:
        errors[""] = _("Nothing to change: fill in at least one field.")
    if errors:
        return _page(request, noun, place, rows, fields, typed, errors, status=422)
    fates = _done(request, noun, rows, values)
    context = {"noun": noun, "fates": fates, "changed": sum(fate.done for fate in fates), "count": len(fates)}
    return render_sheet(request, "plant/register/fates.html", context, site=place.site)


def _chosen(noun: Noun, request: SheetRequest, keys: list[str]) -> list[Any]:
    try:
        uuids = {UUID(one) for one in keys[:AT_MOST]}
    except ValueError:
        raise Missing() from None
    rows = list(noun.visible(request.user).filter(uuid__in=uuids).order_by(*noun.order, "pk"))
    if len(rows) != len(uuids):
        raise Missing()
    return rows


def _done(request: SheetRequest, noun: Noun, rows: list[Any], values: dict[str, Any]) -> list[Fate]:
    assert noun.change is not None
    fates = []
    labels = {one.name: str(one.label) for one in noun.fields}
    with recording(by=request.user, at=timezone.now()):
        for row in rows:
            name, href = noun.title(row), noun.address(row)
            seen = request.POST.get(f"version.{row.uuid}", "")
            try:
                with part():
                    noun.change(row, int(seen) if seen.isdecimal() else row.version, **values)
                fates.append(Fate(name, href, _("changed"), True))
            except Stale:
                fates.append(Fate(name, href, _("left alone: somebody changed it in the meantime"), False))
            except Refusal as refusal:
                said = [f"{labels[one.field]}: {one.message}" if one.field in labels else one.message
                        for one in refusal.errors] or [refusal.title]  # fmt: skip
                fates.append(Fate(name, href, _("left alone: ") + " ".join(said), False))
    return fates


def _place(noun: Noun, request: SheetRequest, rows: list[Any]) -> Place:
    sites = {site.pk: site for row in rows if (site := noun.site_of(row)) is not None}
    return Place(request.user, next(iter(sites.values()), None), rows[0] if rows else None)


def _fits(one: Field, noun: Noun, rows: list[Any]) -> bool:
    """Rows of one site are offered nothing of another; over several sites such a choice is not offered."""
    return bool(rows) and (one.kind != "row" or len({noun.site_of(row) for row in rows}) == 1)


def _optional(one: Field, place: Place) -> Field:
    plain = asked(one, place)
    if plain.kind == "choice":
        return replace(plain, required=False, choices=(("", _("leave as it is")), *plain.choices))
    return replace(plain, required=False)


def _may_be_empty(fields: list[Field], noun: Noun) -> list[Field]:
    """Those of the noun's own fields that a row may do without."""
    own = [_needed(one, noun) for one in fields]
    return [one for one in own if not one.required and one.kind != "yes"]


def _emptied(fields: list[Field], noun: Noun, request: SheetRequest) -> list[Field]:
    return [one for one in _may_be_empty(fields, noun) if request.POST.get(EMPTY + one.name)]


def _needed(one: Field, noun: Noun) -> Field:
    """The noun's own field again, which reads rows as rows."""
    return next(field for field in noun.fields if field.name == one.name)


def _page(
    request: SheetRequest,
    noun: Noun,
    place: Place,
    rows: list[Any],
    fields: list[Field],
    typed: dict[str, str],
    errors: dict[str, str],
    status: int = 200,
) -> HttpResponse:
    context = {
        "noun": noun,
        "rows": [(row, noun.title(row), request.POST.get(f"version.{row.uuid}") or row.version) for row in rows],
        "form": shown_form(fields, (), typed, errors, place),
        "versions": True,
        "may_be_empty": [
            (EMPTY + one.name, one.label, bool(request.POST.get(EMPTY + one.name)))
            for one in _may_be_empty(fields, noun)
        ],
    }
    return render_sheet(request, "plant/register/batch.html", context, site=place.site, status=status)
