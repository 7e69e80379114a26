"""Service and run hours on the pages of a train: what it was when, what the meter showed, and what was mistyped."""

from collections.abc import Callable
from datetime import datetime
from typing import Any
from urllib.parse import urlencode

from django.utils.translation import gettext

from plant import access
from plant.models import MeterReading, ServiceSpell, Train
from plant.pages.register.lazy import lazily as _
from plant.pages.register.registry import Act, Field, Options, Place, noun_of
from plant.recording import bump, current
from plant.selectors.service import spells_of
from plant.services import register, service
from plant.sitetime import zone_of

WHO = ("register.write", "check.plan")  # as the service has it
STATES = Train.Service
ON_A_PAGE = 12
HOURS = Field("hours", _("Run hours, as the meter shows them"), "hours", required=True)
AT = Field(
    "at", _("Read at, where it was not just now"), "instant", hint=_("Time at the site, such as 2026-10-12 08:20.")
)
SINCE = Field("at", _("Since when"), "instant", hint=_("Time at the site, such as 2026-10-12 08:20. Left out: now."))
WHY = Field("reason", _("Why"), "text", hint=_("Such as overhaul, spare, no demand."))


def typed_time(at: datetime | None, train: Train) -> str:
    """A moment as the forms have it typed."""
    return f"{at.astimezone(zone_of(train.site)):%Y-%m-%d %H:%M}" if at is not None else ""


# Service


def _becomes(state: str) -> Callable[..., None]:
    def do(root: Train, expected: int | None, *, at: datetime | None = None, reason: str = "") -> None:
        service.set_service(train=root, state=state, at=at, reason=reason, expected=expected)

    return do


def _spell_options(place: Place) -> Options:
    return [(str(spell.uuid), _spell_said(spell, place.root)) for spell in spells_of(place.root)]


def _later_spell_options(place: Place) -> Options:
    spells = spells_of(place.root).filter(from_at__isnull=False)
    return [(str(spell.uuid), _spell_said(spell, place.root)) for spell in spells]


def _spell_said(spell: ServiceSpell, train: Train) -> str:
    if spell.from_at is None:
        return gettext("%(state)s from the beginning") % {"state": spell.get_state_display()}
    since = typed_time(spell.from_at, train)
    return gettext("%(state)s since %(since)s") % {"state": spell.get_state_display(), "since": since}


def _correct(root: Train, expected: int | None, *, spell: str, **given: Any) -> None:
    one = spells_of(root).get(uuid=spell)
    one.train = root
    fields = {name: value for name, value in given.items() if value not in (None, "")}
    if "from_at" in fields and typed_time(one.from_at, root) == typed_time(fields["from_at"], root):
        # A form has no seconds: what reads the same was not changed.
        del fields["from_at"]
    service.correct_spell(spell=one, expected=expected, **fields)


def _take_back(root: Train, expected: int | None, *, spell: str) -> None:
    one = spells_of(root).get(uuid=spell)
    one.train = root
    service.remove_spell(spell=one, expected=expected)


def service_of(request: Any, train: Train) -> dict[str, Any]:
    """Every spell, the present one first, with the way to correct it."""
    trains, may = noun_of("trains"), access.may(request.user, WHO, train.site)
    spells = list(spells_of(train)[: ON_A_PAGE + 1])
    rows = []
    for spell in spells[:ON_A_PAGE]:
        asked = {
            "spell": spell.uuid,
            "state": spell.state,
            "from_at": typed_time(spell.from_at, train),
            "reason": spell.reason,
        }
        links = []
        if may:
            links.append((gettext("Correct it"), f"{trains.address(train, 'correct-service')}?{urlencode(asked)}"))
        if may and spell.from_at is not None:
            took = urlencode({"spell": spell.uuid})
            links.append((gettext("Take it back"), f"{trains.address(train, 'take-back-service')}?{took}"))
        rows.append({"spell": spell, "by": str(spell.by) if spell.by is not None else "", "links": links})
    return {"spells": rows, "more": len(spells) > ON_A_PAGE}


# Run hours


def _read(root: Train, _expected: int | None, *, hours: float, at: datetime | None = None) -> None:
    register.record_run_hours(train=root, at=at or current().at, hours=hours)


def _replace(root: Train, _expected: int | None, *, hours: float, at: datetime | None = None) -> None:
    register.record_run_hours(train=root, at=at or current().at, hours=hours, replaced=True)


def _reading_options(place: Place) -> Options:
    readings = MeterReading.objects.counted().filter(meter__train=place.root).order_by("-at")[:100]
    return [(str(one.pk), f"{typed_time(one.at, place.root)}: {one}") for one in readings]


def _strike(root: Train, expected: int | None, *, reading: str, reason: str) -> None:
    at = MeterReading.objects.values_list("at", flat=True).get(pk=reading, meter__train=root)
    if expected is not None:
        bump(root, expected)
    register.strike_run_hours(train=root, at=at, reason=reason)


def meter_of(request: Any, train: Train) -> dict[str, Any]:
    """The latest readings, struck ones among them."""
    readings = MeterReading.objects.filter(meter__train=train).select_related("struck_by").order_by("-at")[:ON_A_PAGE]
    strike = noun_of("trains").address(train, "strike-reading")
    may = access.may(request.user, "meter.write", train.site)
    return {
        "readings": [
            {
                "at": one.at,
                "hours": one.hours,
                "total": one.hours + one.offset_hours,
                "struck": one.struck_reason if one.struck_at is not None else "",
                "struck_by": str(one.struck_by or ""),
                "strike": f"{strike}?reading={one.pk}" if may and one.struck_at is None else "",
            }
            for one in readings
        ]
    }


ACTS = (
    Act(
        key="run-hours",
        label=_("Write down run hours"),
        why=_("Checks that wait for run hours move at once."),
        do=_read,
        fields=(HOURS, AT),
        action="meter.write",
        done=_("The reading of %(row)s is written down."),
    ),
    Act(
        key="new-meter",
        label=_("A new meter was put in"),
        why=_("The count carries on where the meter before stopped: read that one first."),
        do=_replace,
        fields=(HOURS, AT),
        action="meter.write",
        done=_("The new meter of %(row)s is entered."),
        offered=lambda train: hasattr(train, "meter"),
    ),
    Act(
        key="strike-reading",
        label=_("Strike a mistyped reading"),
        why=_("It is kept and shown struck, and counts for nothing. Dates that were reckoned with it move at once."),
        do=_strike,
        fields=(
            Field("reading", _("Which reading"), "choice", required=True, options=_reading_options),
            Field("reason", _("What is wrong with it"), "text", required=True, hint=_("Such as a digit too many.")),
        ),
        action="meter.write",
        done=_("A reading of %(row)s is struck."),
        offered=lambda train: hasattr(train, "meter"),
        names={"at": "reading"},
    ),
    Act(
        key="bring-back",
        label=_("It is in service again"),
        why=_("Its checks are due again from then on."),
        do=_becomes(STATES.IN),
        fields=(SINCE, WHY),
        action=WHO,
        done=_("%(row)s is in service."),
        offered=lambda train: train.service != STATES.IN,
        names={"state": ""},
    ),
    Act(
        key="out-of-service",
        label=_("It went out of service"),
        why=_("Its checks wait until it is back. Isolation follows the site’s procedure; this entry isolates nothing."),
        do=_becomes(STATES.OUT),
        fields=(SINCE, WHY),
        action=WHO,
        done=_("%(row)s is out of service."),
        offered=lambda train: train.service != STATES.OUT,
        names={"state": ""},
    ),
    Act(
        key="uncouple",
        label=_("It was uncoupled"),
        why=_("For a solo run, say, or with a machine away. This entry isolates nothing."),
        do=_becomes(STATES.UNCOUPLED),
        fields=(SINCE, WHY),
        action=WHO,
        done=_("%(row)s is entered as uncoupled."),
        offered=lambda train: train.service != STATES.UNCOUPLED,
        names={"state": ""},
    ),
    Act(
        key="correct-service",
        label=_("Correct a change of service"),
        why=_("What is left empty stays as it is. The spell before ends where this one begins."),
        do=_correct,
        fields=(
            Field("spell", _("Which"), "choice", required=True, options=_spell_options),
            Field("state", _("It was"), "choice", choices=tuple(STATES.choices)),
            Field("from_at", _("Since when"), "instant", hint=_("Time at the site, such as 2026-10-12 08:20.")),
            Field("reason", _("Why"), "text"),
        ),
        action=WHO,
        offered=lambda train: False,  # reached from the spell itself
    ),
    Act(
        key="take-back-service",
        label=_("Take a change of service back"),
        why=_("It never was: the spell before goes on in its place. Who changed what is kept."),
        do=_take_back,
        fields=(Field("spell", _("Which"), "choice", required=True, options=_later_spell_options),),
        action=WHO,
        offered=lambda train: False,
    ),
)
