"""Putting units in, exchanging them and taking them out, from the page of a train or of a unit."""

from datetime import datetime
from typing import Any

from django.db.models import QuerySet

from plant.models import Machine, MachineUnit, Train, UnitStay
from plant.pages.register.lazy import lazily as _
from plant.pages.register.nouns.train_service import typed_time
from plant.pages.register.registry import Act, Field, Options, Place
from plant.recording import bump
from plant.refusals import Refused
from plant.selectors.units import stays_of
from plant.services import units

WHO = ("visit.fill", "register.write")  # as the service has it
YES_NO = (("yes", _("yes")), ("no", _("no")))
AT = Field("at", _("When"), "instant", required=True, hint=_("Time at the site, such as 2026-10-12 08:20."))
CAME_AT = Field(
    "at",
    _("When"),
    "instant",
    hint=_("Time at the site, such as 2026-10-12 08:20. Left out: it stood there before the record began."),
)
CAME = Field("came_with_hub", _("Did it come with its hub half on"), "choice", choices=YES_NO)
LEFT = Field(
    "left_with_hub",
    _("Did the hub half stay on the one that left"),
    "choice",
    choices=YES_NO,
    hint=_("Yes: it leaves the coupling with the machine, and comes back with it."),
)
REASON = Field("reason", _("Why the old one came out"), "text", required=True)
WENT = Field("went_to", _("Where the old one went"), "text", hint=_("Workshop, store, scrap."))


def _standing() -> QuerySet[UnitStay]:
    return UnitStay.objects.filter(until_at__isnull=True)


def _machines(place: Place) -> QuerySet[Machine]:
    rows = Machine.objects.filter(train__in=Train.objects.filter(site=place.site).visible_to(place.person))
    if isinstance(place.root, Train):
        rows = rows.filter(train=place.root)
    return rows.select_related("train").order_by("train__tag", "position")


def empty_places(place: Place) -> QuerySet[Machine]:
    """Machine positions in which no unit is recorded."""
    return _machines(place).exclude(pk__in=_standing().values("machine_id"))


def taken_places(place: Place) -> QuerySet[Machine]:
    """Machine positions in which a unit stands."""
    return _machines(place).filter(pk__in=_standing().values("machine_id"))


def free_units(place: Place) -> QuerySet[MachineUnit]:
    """Units that stand nowhere."""
    rows = MachineUnit.objects.visible_to(place.person).filter(site=place.site)
    return rows.exclude(pk__in=_standing().values("unit_id")).order_by("kind", "serial")


def _known(given: dict[str, Any]) -> dict[str, Any]:
    """Hub halves: yes, no, or not said."""
    told = {"yes": True, "no": False}
    return {name: told.get(value) if name.endswith("_with_hub") else value for name, value in given.items()}


def _which(root: Train, unit: MachineUnit | None, kind: str, serial: str) -> MachineUnit:
    """The unit chosen, or a new one by its plate."""
    if unit is not None and not serial:
        return unit
    if unit is not None:
        raise Refused({"serial": "A unit is chosen and a serial number typed: which of the two came? Leave one out."})
    if not serial:
        raise Refused({"unit": "Choose the unit that came, or type kind and serial number of one that is new here."})
    return units.register_unit(site=root.site, kind=kind, serial=serial)


def _put(
    root: Train,
    expected: int | None,
    *,
    machine: Machine,
    unit: MachineUnit | None = None,
    kind: str = "",
    serial: str = "",
    **given: Any,
) -> None:
    bump(root, expected)
    units.install_unit(unit=_which(root, unit, kind, serial), machine=machine, **_known(given))


def _exchange(
    root: Train,
    expected: int | None,
    *,
    machine: Machine,
    unit: MachineUnit | None = None,
    kind: str = "",
    serial: str = "",
    **given: Any,
) -> None:
    bump(root, expected)
    units.swap_unit(unit=_which(root, unit, kind, serial), machine=machine, **_known(given))


def _take_out(root: Train, expected: int | None, *, machine: Machine, **given: Any) -> None:
    bump(root, expected)
    stay = _standing().select_related("unit").get(machine=machine)
    units.take_out_unit(unit=stay.unit, **_known(given))


WHICH = (
    Field("unit", _("Unit that came"), "row", rows=free_units),
    Field("kind", _("Or a new one: what it is"), "text", hint=_("Motor, pump, gear unit.")),
    Field("serial", _("Its serial number, as on its plate"), "text"),
)
OF_TRAINS = (
    Act(
        key="exchange-unit",
        label=_("A machine was exchanged for another"),
        why=_(
            "One came out, another went in at one moment. Alignment is measured anew: what was left here held for the "
            "old one."
        ),
        do=_exchange,
        fields=(
            Field("machine", _("Where"), "row", required=True, rows=taken_places),
            *WHICH,
            AT,
            REASON,
            WENT,
            LEFT,
            CAME,
        ),
        action=WHO,
        done=_("The exchange at %(row)s is entered."),
    ),
    Act(
        key="put-unit",
        label=_("Say which machine stands where"),
        why=_("By its serial number, in a position in which none is recorded."),
        do=_put,
        fields=(Field("machine", _("Where"), "row", required=True, rows=empty_places), *WHICH, CAME_AT, CAME),
        action=WHO,
        done=_("%(row)s: what stands there is entered."),
    ),
    Act(
        key="take-unit-out",
        label=_("A machine was taken out"),
        why=_("Nothing stands there until the next one is put in."),
        do=_take_out,
        fields=(
            Field("machine", _("Where"), "row", required=True, rows=taken_places),
            AT,
            Field("reason", _("Why"), "text", required=True),
            Field("went_to", _("Where it went"), "text", hint=_("Workshop, store, scrap.")),
            Field("left_with_hub", _("Did its hub half stay on it"), "choice", choices=YES_NO),
        ),
        action=WHO,
        done=_("%(row)s: that it is out is entered."),
    ),
)


# From the page of a unit


def _install(root: MachineUnit, expected: int | None, *, machine: Machine, **given: Any) -> None:
    units.install_unit(unit=root, machine=machine, expected=expected, **_known(given))


def _swap_in(root: MachineUnit, expected: int | None, *, machine: Machine, **given: Any) -> None:
    units.swap_unit(unit=root, machine=machine, expected=expected, **_known(given))


def _leave(root: MachineUnit, expected: int | None, **given: Any) -> None:
    units.take_out_unit(unit=root, expected=expected, **_known(given))


def _stay_options(place: Place) -> Options:
    return [(str(stay.uuid), str(stay.machine)) for stay in stays_of(place.root)]


def typed_stay(stay: UnitStay) -> dict[str, str]:
    """A stay as the form that corrects it has it typed."""
    words = {None: "", True: "yes", False: "no"}
    return {
        "stay": str(stay.uuid),
        "from_at": typed_time(stay.from_at, stay.machine.train),
        "until_at": typed_time(stay.until_at, stay.machine.train),
        "came_with_hub": words[stay.came_with_hub],
        "left_with_hub": words[stay.left_with_hub],
        "reason": stay.reason,
        "went_to": stay.went_to,
    }


def _correct(root: MachineUnit, expected: int | None, *, stay: str, **given: Any) -> None:
    one = stays_of(root).get(uuid=stay)
    was = typed_stay(one)
    fields = {name: value for name, value in given.items() if value not in (None, "")}
    for name in ("from_at", "until_at"):
        at: datetime | None = fields.get(name)
        if at is not None and was[name] == typed_time(at, one.machine.train):
            # A form has no seconds: what reads the same was not changed.
            del fields[name]
    units.correct_stay(stay=one, expected=expected, **_known(fields))


def _take_back(root: MachineUnit, expected: int | None, *, stay: str) -> None:
    units.remove_stay(stay=stays_of(root).get(uuid=stay), expected=expected)


def _stands(unit: MachineUnit) -> bool:
    return any(stay.until_at is None for stay in unit.stays.all())


OF_UNITS = (
    Act(
        key="install",
        label=_("It was put in"),
        why=_("In a position in which no other is recorded."),
        do=_install,
        fields=(Field("machine", _("Where"), "row", required=True, rows=empty_places), CAME_AT, CAME),
        action=WHO,
        done=_("%(row)s: where it stands is entered."),
        offered=lambda unit: not _stands(unit),
    ),
    Act(
        key="swap-in",
        label=_("It was put in for another"),
        why=_("The other came out at the same moment. Alignment there is measured anew."),
        do=_swap_in,
        fields=(
            Field("machine", _("Where"), "row", required=True, rows=taken_places), AT, REASON, WENT, LEFT, CAME,
        ),
        action=WHO,
        done=_("%(row)s: the exchange is entered."),
        offered=lambda unit: not _stands(unit),
    ),
    Act(
        key="take-out",
        label=_("It was taken out"),
        do=_leave,
        fields=(
            AT,
            Field("reason", _("Why"), "text", required=True),
            Field("went_to", _("Where it went"), "text", hint=_("Workshop, store, scrap.")),
            Field("left_with_hub", _("Did its hub half stay on it"), "choice", choices=YES_NO),
        ),
        action=WHO,
        done=_("%(row)s: that it is out is entered."),
        offered=_stands,
    ),
    Act(
        key="correct-stay",
        label=_("Correct where and when it stood"),
        why=_("What is left empty stays as it is. The place itself: take it back and enter the right one."),
        do=_correct,
        fields=(
            Field("stay", _("Which"), "choice", required=True, options=_stay_options),
            Field("from_at", _("Came"), "instant", hint=_("Time at the site, such as 2026-10-12 08:20.")),
            Field("until_at", _("Left"), "instant", hint=_("Only where it has left.")),
            Field("came_with_hub", _("Came with its hub half on"), "choice", choices=YES_NO),
            Field("left_with_hub", _("Left with its hub half on"), "choice", choices=YES_NO),
            Field("reason", _("Why it came out"), "text"),
            Field("went_to", _("Where it went"), "text"),
        ),
        action=WHO,
        offered=lambda unit: False,  # reached from the stay itself
    ),
    Act(
        key="take-back-stay",
        label=_("Take back that it stood there"),
        why=_("It never did. Who changed what is kept."),
        do=_take_back,
        fields=(Field("stay", _("Which"), "choice", required=True, options=_stay_options),),
        action=WHO,
        offered=lambda unit: False,
    ),
)  # fmt: skip
