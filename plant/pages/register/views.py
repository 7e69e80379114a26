"""The pages of every noun: contents, list, one row, new, change, an act."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpResponse, HttpResponseBase
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from plant import access
from plant.models import Site
from plant.pages.context import SheetRequest, own_site, render_sheet
from plant.pages.exported import exported
from plant.pages.register.changes import changes_of, newest
from plant.pages.register.editing import Editing
from plant.pages.register.listing import every_line, listing
from plant.pages.register.registry import Noun, Place, all_nouns, missing_of, noun_of, parts_of
from plant.pages.register.shown import facts, references, tables
from plant.refusals import Missing, NotAllowed
from plant.selectors.journal import external_refs_of


@require_safe
@login_required
def contents(request: SheetRequest) -> HttpResponse:
    """What the register holds, how much of it, and what is missing."""
    person = request.user
    rows, missing = [], 0
    for noun in all_nouns():
        count = noun.visible(person).order_by().count()
        gaps = missing_of(noun, person)
        rows.append({"noun": noun, "url": reverse(f"register-{noun.key}"), "count": count, "gaps": gaps})
        missing += len(gaps)
    return render_sheet(request, "plant/register/contents.html", {"rows": rows, "missing": missing})


@require_safe
@login_required
def listed(request: SheetRequest, key: str) -> HttpResponse:
    """The rows of a noun as the address asks for them, so that a list can be kept as a link."""
    noun = noun_of(key)
    context = {
        "noun": noun,
        "list": listing(noun, request.user, request.GET),
        "query": request.GET.urlencode(),
        "export": reverse(f"register-{key}-export", args=["csv"]) if access.sites_where(request.user, "export") else "",
        "export_xlsx": reverse(f"register-{key}-export", args=["xlsx"]),
        "new": reverse(f"register-{key}-new") if not noun.below and noun.may_add(request.user) else "",
        "batch": reverse(f"register-{key}-batch") if noun.batch and noun.sites_for_new(request.user) else "",
        "whole": [(act, reverse(f"register-{key}-{act.key}")) for act in noun.whole if act.sites(request.user)],
    }
    return render_sheet(request, "plant/register/list.html", context)


@require_safe
@login_required
def listed_export(request: SheetRequest, key: str, form: str) -> HttpResponseBase:
    """The same rows as a file, of the sites where the reader may take lists away; numbers as the list prints them."""
    noun, person = noun_of(key), request.user
    only = None if person.sees_everything else access.sites_where(person, "export")
    if only is not None and not only:
        raise NotAllowed(_("Your role does not let you take a list away as a file."))
    count = listing(noun, person, request.GET.dict(), only).page.paginator.count
    rows = (
        [*(cell.text for cell in line.cells), line.key] for line in every_line(noun, person, request.GET.dict(), only)
    )
    heads = [*(str(column.label) for column in noun.columns), "id"]
    return exported(
        request, form, f"{key}-{timezone.now():%Y-%m-%d}", heads, rows, site=None, note=f"register, {key}, {count} rows"
    )


@require_safe
@login_required
def one(request: SheetRequest, key: str, **lookup: Any) -> HttpResponse:
    """One row: what it is, what hangs on it, what may be done with it, and who changed what."""
    noun = noun_of(key)
    place = _place(noun, request, lookup)
    root, person = place.root, request.user
    open_changes, folded = newest(changes_of(noun, place))
    refs = external_refs_of(noun.model._meta.model_name, [root.uuid]).get(root.uuid, {}) if noun.references else {}
    context = {
        "noun": noun,
        "root": root,
        "title": noun.title(root),
        "says": noun.says(root) if noun.says is not None else "",
        "facts": facts(noun, place),
        "tables": tables(noun, place),
        "parts": [(part, part.rows(request, root)) for part in parts_of(noun)],
        "refs": sorted(refs.items()),
        "edit": noun.address(root, "edit") if _may_change(noun, person, place.site) else "",
        "acts": [
            (act, noun.address(root, act.key))
            for act in noun.acts
            if access.may(person, act.action, place.site) and (act.offered is None or act.offered(root))
        ],
        "changes": open_changes,
        "older": folded,
        "keeps_history": hasattr(noun.model, "history"),
    }
    return render_sheet(request, "plant/register/one.html", context, site=place.site)


@require_http_methods(["GET", "HEAD", "POST"])
@login_required
def new(request: SheetRequest, key: str) -> HttpResponse:
    """A new row: at which site is asked first, where the reader keeps several."""
    noun = noun_of(key)
    place = _new_place(noun, request)
    if isinstance(place, list):
        title = _("Add: %(noun)s") % {"noun": noun.one}
        return render_sheet(request, "plant/register/which_site.html", {"noun": noun, "sites": place, "title": title})
    assert noun.create is not None
    create = noun.create

    def done(row: Any) -> HttpResponse:
        messages.success(request, _("%(row)s is in the register.") % {"row": noun.title(row)})
        return redirect(noun.address(row))

    words = {
        "title": _("Add: %(noun)s") % {"noun": noun.one},
        "button": _("Add the %(noun)s") % {"noun": noun.one},
        "back": noun_of(noun.below).address(place.parent) if noun.below else reverse(f"register-{key}"),
        "below": place.parent,
    }
    return Editing(
        request, noun, place, noun.fields, [*noun.lists, *references(noun)],
        lambda _expected, given: create(place, **given), done, words, names=noun.names,
    ).answer()  # fmt: skip


@require_http_methods(["GET", "HEAD", "POST"])
@login_required
def edit(request: SheetRequest, key: str, **lookup: Any) -> HttpResponse:
    """Change what a row says; who saved in between is compared with, never overwritten."""
    noun = noun_of(key)
    place = _place(noun, request, lookup)
    access.require(request.user, noun.action, place.site)
    assert noun.change is not None
    change, root = noun.change, place.root
    title = noun.title(root)

    def done(row: Any) -> HttpResponse:
        messages.success(request, _("%(row)s is saved.") % {"row": noun.title(row)})
        return redirect(noun.address(row))

    words = {"title": _("Change %(row)s") % {"row": title}, "button": _("Save"), "back": noun.address(root)}
    fields = [one for one in noun.fields if not one.once]
    return Editing(
        request, noun, place, fields, [*noun.lists, *references(noun)],
        lambda expected, given: change(root, expected, **given), done, words, names=noun.names,
    ).answer()  # fmt: skip


@require_http_methods(["GET", "HEAD", "POST"])
@login_required
def act(request: SheetRequest, key: str, act: str, **lookup: Any) -> HttpResponse:
    """Something done to one row, asked once more before it is done."""
    noun = noun_of(key)
    chosen = noun.act(act)
    place = _place(noun, request, lookup)
    access.require(request.user, chosen.action, place.site)
    root = place.root
    title = noun.title(root)

    def done(row: Any) -> HttpResponse:
        messages.success(request, (chosen.done or _("%(row)s is saved.")) % {"row": title})
        return redirect(f"register-{key}") if chosen.then == "list" else redirect(noun.address(root))

    words = {
        "title": f"{chosen.label}: {title}",
        "button": chosen.label,
        "why": chosen.why,
        "back": noun.address(root),
    }
    return Editing(
        request, noun, place, chosen.fields, chosen.lists,
        lambda expected, given: chosen.do(root, expected, **given), done, words,
        filled=chosen.filled, names=chosen.names,
    ).answer()  # fmt: skip


@require_http_methods(["GET", "HEAD", "POST"])
@login_required
def whole(request: SheetRequest, key: str, act: str) -> HttpResponse:
    """Something done to the whole list of one site; at which is asked first, where the reader may at several."""
    noun = noun_of(key)
    chosen = next(one for one in noun.whole if one.key == act)
    place = _place_asked(request, chosen.action, chosen.sites(request.user))
    if isinstance(place, list):
        context = {"noun": noun, "sites": place, "title": chosen.label}
        return render_sheet(request, "plant/register/which_site.html", context)
    site = place.site
    assert site is not None

    def done(what: Any) -> HttpResponse:
        messages.success(request, chosen.said(what))
        return redirect(f"register-{key}")

    words = {
        "title": f"{chosen.label}: {site.name}",
        "button": chosen.label,
        "why": chosen.why,
        "back": reverse(f"register-{key}"),
    }
    return Editing(request, noun, place, (), (), lambda _expected, _given: chosen.do(site), done, words).answer()


def _place(noun: Noun, request: SheetRequest, lookup: dict[str, Any]) -> Place:
    root = noun.find(request.user, lookup[noun.lookup])
    return Place(request.user, noun.site_of(root), root)


def _may_change(noun: Noun, person: Any, site: Site | None) -> bool:
    return noun.change is not None and access.may(person, noun.action, site)


def _new_place(noun: Noun, request: SheetRequest) -> Place | list[Site]:
    """Where the new row goes, or the sites to choose from."""
    person = request.user
    if noun.below:
        asked = request.POST.get("below") or request.GET.get("below", "")
        above = noun_of(noun.below)
        parent = above.find(person, asked) if _is_uuid(asked) else None
        if parent is None:
            raise Missing()
        access.require(person, noun.action, above.site_of(parent))
        return Place(person, above.site_of(parent), None, parent)
    if not noun.may_add(person):
        raise NotAllowed(_("Your role does not let you add this here."))
    if not noun.at_a_site:
        return Place(person, own_site(request))
    return _place_asked(request, noun.action, noun.sites_for_new(person))


def _place_asked(request: SheetRequest, action: access.Actions, sites: list[Site]) -> Place | list[Site]:
    """The site that the address names, or the only one, or those to choose from."""
    person = request.user
    asked = request.POST.get("site") or request.GET.get("site", "")
    if asked:
        site = Site.objects.visible_to(person).filter(uuid=asked).first() if _is_uuid(asked) else None
        if site is None:
            raise Missing()
        access.require(person, action, site)
        return Place(person, site)
    if not sites:
        raise NotAllowed(_("Your role does not let you do this here."))
    return Place(person, sites[0]) if len(sites) == 1 else sites


def _is_uuid(text: str) -> bool:
    try:
        UUID(text)
    except ValueError:
        return False
    return True
