"""Small forms on a coupling's page, each for one act of a planner; what was refused stands beside its field."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from django.urls import reverse
from django.utils.translation import gettext as _

from couplings.models import Coupling
from inspections.models import Check, OtherWork
from plant.models import Person

Choices = Sequence[tuple[str, str]]


@dataclass
class Entry:
    name: str
    label: str
    value: str = ""
    help: str = ""
    choices: Choices | None = None
    error: str = ""
    id: str = ""


@dataclass
class ActForm:
    """`open`: it was refused just now, so it is shown with what was typed. `risk`: what has to be read before it is
    pressed again, which then says that it was seen for `seen`."""

    act: str
    url: str
    title: str
    button: str
    entries: list[Entry] = field(default_factory=list)
    sentence: str = ""
    open: bool = False
    risk: str = ""
    seen: str = ""


def forms_of_check(check: Check, people: Iterable[Person], refused: Mapping[str, Any]) -> list[ActForm]:
    """What a planner may do about one open check."""
    day = _("Such as 2026-11-30.")
    who = [("", _("nobody yet")), *((str(one.uuid), str(one)) for one in people)]
    forms = [
        ActForm(
            "pin",
            reverse("check-pinned", args=[check.uuid]),
            _("Plan it for one day"),
            _("Plan it for this day"),
            [
                Entry(
                    "on",
                    _("On which day"),
                    check.pinned_on.isoformat() if check.pinned_on else "",
                    _("It stays there when weeks are levelled. Empty: on any day of its window."),
                )
            ],
        ),
        ActForm(
            "own",
            reverse("check-owned", args=[check.uuid]),
            _("Say who sees to it"),
            _("Write it down"),
            [Entry("owner", _("Seen to by"), str(check.owner.uuid) if check.owner else "", choices=who)],
        ),
        ActForm(
            "defer",
            reverse("check-deferred", args=[check.uuid]),
            _("Defer it"),
            _("Defer it, for this reason"),
            [Entry("until", _("Until which day"), help=day), Entry("reason", _("Why it can wait"))],
        ),
        ActForm(
            "cancel",
            reverse("check-cancelled", args=[check.uuid]),
            _("Leave this date out"),
            _("Leave it out, for this reason"),
            [Entry("reason", _("Why it is left out"), help=_("The next one comes when the policy says."))],
        ),
    ]
    return [_with_refusal(form, check, refused, check.kind) for form in forms]


def form_of_other_work(coupling: Coupling, today: str, refused: Mapping[str, Any]) -> ActForm:
    """Work beside the coupling after which it is checked once more."""
    form = ActForm(
        "work",
        reverse("coupling-other-work", args=[coupling.uuid]),
        _("Write down work on foundation or pipes"),
        _("Write it down"),
        [
            Entry("kind", _("What was done"), choices=[(key, str(name)) for key, name in OtherWork.Kind.choices]),
            Entry("on", _("Finished on"), today, _("Such as 2026-11-30.")),
            Entry("note", _("Note")),
        ],
    )
    return _with_refusal(form, coupling, refused, "")


def _with_refusal(form: ActForm, thing: Any, refused: Mapping[str, Any], name: str) -> ActForm:
    for entry in form.entries:
        entry.id = "-".join(part for part in (form.act, entry.name, name) if part)
    if refused.get("of") != thing.uuid or refused.get("act") != form.act:
        return form
    form.open, form.sentence = True, refused["sentence"]
    if refused.get("risk"):
        form.risk, form.seen, form.button = refused["risk"], refused["seen"], _("Defer it all the same")
    for entry in form.entries:
        entry.value, entry.error = refused["typed"].get(entry.name, ""), refused["said"].get(entry.name, "")
    return form
