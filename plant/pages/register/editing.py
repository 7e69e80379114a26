"""One form, filled, mended and saved: of a new row, of a standing one, or of an act upon it."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from django.http import HttpResponse
from django.utils import timezone
from django.utils.translation import gettext as _

from plant.pages.context import SheetRequest, render_sheet
from plant.pages.register.changes import last_changed_by
from plant.pages.register.comparison import TAKE, Comparison, compared, marks, put
from plant.pages.register.registry import Field, Noun, Place, Rows
from plant.pages.register.shown import shown_form
from plant.pages.register.typed import (
    Reader,
    Typed,
    fresh,
    list_at,
    posted,
    standing,
    with_row,
    with_row_before,
    without_row,
)
from plant.recording import recording
from plant.refusals import Refused, Stale

FORM = "plant/register/form.html"
NUMBER = re.compile(r"\d{1,9}")


@dataclass
class Editing:
    """A form at work. `save(expected, given)` calls the service; `done(row)` answers when it has."""

    request: SheetRequest
    noun: Noun
    place: Place
    fields: Sequence[Field]
    lists: Sequence[Rows]
    save: Callable[[int | None, dict[str, Any]], Any]
    done: Callable[[Any], HttpResponse]
    words: Mapping[str, Any]  # what the page says: title, button, back, why
    filled: bool = True  # starts with what the row has, and gives only what was changed
    names: Mapping[str, str] = field(default_factory=dict)

    def answer(self) -> HttpResponse:
        """The page, the page with what was refused, the comparison, or where `done` leads."""
        if self.request.method != "POST":
            return self._page(self._start())
        given = self.request.POST
        typed = posted(self.fields, self.lists, given)
        if path := given.get("_add"):
            rows = list_at(self.lists, path)
            return self._page(with_row(rows, path, typed, self.place) if rows is not None else typed)
        if path := given.get("_before", ""):
            rows = list_at(self.lists, path.rpartition(".")[0])
            if rows is None or path not in typed:
                return self._page(typed)
            return self._page(with_row_before(rows, path, typed, self.place))
        if path := given.get("_remove"):
            return self._page(posted(self.fields, self.lists, without_row(typed, path)))
        return self._saved(typed)

    def _saved(self, typed: Typed) -> HttpResponse:
        given, root = self.request.POST, self.place.root
        standing_now = self._standing()
        expected = None
        if root is not None:
            if not NUMBER.fullmatch(given.get("version", "")):
                return self._page(typed, {"": _("This form does not say what it was made from: open it again.")}, 422)
            expected = int(given["version"])
            if expected != root.version and self.filled:
                return self._compare(typed)
        unchosen = False
        for name in [one for one in given.get("_ask", "").split(",") if one]:
            if (take := given.get(TAKE + name)) == "theirs":
                typed = put(name, typed, standing_now)
            elif take != "mine":
                unchosen = True
        if unchosen:
            return self._compare(typed, _("Choose one of the two."))
        reader = Reader(typed, self.place, root)
        values = reader.given(self.fields, self.lists, standing_now if root is not None and self.filled else None)
        if reader.errors:
            return self._page(typed, reader.errors, 422)
        if root is not None and self.filled and not values:
            return self.done(root)
        try:
            with recording(by=self.request.user, at=timezone.now()):
                saved = self.save(expected, values)
        except Stale:
            self.place = self._again()
            if self.filled:
                return self._compare(typed)
            said = _("%(who)s changed this in the meantime. Look at it once more, then press again.")
            return self._page(typed, {"": said % {"who": last_changed_by(self.place.root)}}, 412)
        except Refused as refusal:
            if root is not None:
                # The service has set on the row what it then refused.
                self.place = self._again()
            return self._page(typed, self._placed(refusal, typed), 422)
        return self.done(saved if saved is not None else root)

    def _start(self) -> Typed:
        if self.place.root is not None and self.filled:
            return self._standing()
        names = {one.name for one in self.fields}
        asked = {name: str(text) for name, text in self.request.GET.items() if name in names}
        return fresh(self.fields, self.lists, self.place) | asked

    def _standing(self) -> Typed:
        if self.place.root is None or not self.filled:
            return {}
        return standing(self.fields, self.lists, self.place.root, self.place)

    def _again(self) -> Place:
        """The row as it stands now."""
        root = self.noun.find(self.place.person, getattr(self.place.root, self.noun.lookup))
        return Place(self.place.person, self.noun.site_of(root), root, self.place.parent)

    def _placed(self, refusal: Refused, typed: Mapping[str, str]) -> dict[str, str]:
        """A service's messages by the fields of the form; what has no field stands above."""
        placed: dict[str, str] = {}
        known = {*typed, *(rows.name for rows in self.lists)}
        for path, message in refusal.as_dict().items():
            name = self.names.get(path, path)
            if name.startswith("external_ref."):
                name = _reference(name.removeprefix("external_ref."), typed)
            while name and name not in known and not any(one.startswith(name + ".") for one in typed):
                name = name.rpartition(".")[0]
            placed[name] = f"{placed[name]} {message}" if name in placed else message
        return placed

    def _page(self, typed: Typed, errors: Mapping[str, str] | None = None, status: int = 200) -> HttpResponse:
        root = self.place.root
        shown = shown_form(self.fields, self.lists, typed, errors or {}, self.place)
        was = self.request.POST.get("_was") or marks(self.fields, self.lists, typed if self.filled else {})
        version = self.request.POST.get("version") if status != 412 else None
        context = {
            "noun": self.noun,
            "root": root,
            "form": shown,
            "was": was,
            "version": version or (root.version if root is not None else ""),
            **self.words,
        }
        return render_sheet(self.request, FORM, context, site=self.place.site, status=status)

    def _compare(self, typed: Typed, error: str = "") -> HttpResponse:
        now = self._standing()
        if error:
            names = [one for one in self.request.POST.get("_ask", "").split(",") if one]
            every = compared(self.fields, self.lists, "", typed, now, self.place)
            found = Comparison(typed, [one for one in every.clashes if one.name in names])
        else:
            found = compared(self.fields, self.lists, self.request.POST.get("_was", ""), typed, now, self.place)
        root = self.place.root
        context = {
            "noun": self.noun,
            "root": root,
            "who": last_changed_by(root) if hasattr(root, "history") else _("Somebody"),
            "clashes": found.clashes,
            "taken": found.taken,
            "error": error,
            "chosen": {one.name: self.request.POST.get(TAKE + one.name, "") for one in found.clashes},
            "carried": list(found.typed.items()),
            "ask": ",".join(one.name for one in found.clashes),
            "was": marks(self.fields, self.lists, now),
            "version": root.version,
            **self.words,
        }
        status = 422 if error else 412
        return render_sheet(self.request, "plant/register/compare.html", context, site=self.place.site, status=status)


def _reference(system: str, typed: Mapping[str, str]) -> str:
    for path, text in typed.items():
        if path.startswith("external_ref.") and path.endswith(".system") and text.strip() == system:
            return path.removesuffix("system") + "key"
    return "external_ref"
