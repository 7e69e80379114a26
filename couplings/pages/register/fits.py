"""What is physically fitted: put in, moved, taken out; another hub half on one side; the elements in it."""

from typing import Any

from django.db.models import Prefetch, Q

from couplings.models import Coupling, DataSheet, Element, Fit, HubHalf, RemovalReason, SheetVersion, StockLot
from couplings.pages.register.ways import of_element, of_fit, ways
from couplings.selectors.hubs import halves_of, halves_over_time
from couplings.services import fits, hubs, moving
from plant.models import MachineUnit
from plant.pages.register import (
    Act,
    Column,
    Field,
    Noun,
    Part,
    Place,
    Rows,
    add_noun,
    add_part,
    among_choices,
    by_site,
    yes_or_no,
)
from plant.pages.register import lazily as _

WRITES = "fit.write"
OPEN = Q(removed_on__isnull=True)


def _free(place: Place) -> Any:
    rows = Coupling.objects.visible_to(place.person).filter(site=place.site, retired_on__isnull=True)
    return rows.exclude(pk__in=Fit.objects.filter(OPEN).values("coupling_id")).order_by("tag")


def _versions(place: Place) -> list[tuple[str, str]]:
    sheets = DataSheet.objects.visible_to(place.person).filter(site=place.site)
    rows = SheetVersion.objects.filter(sheet__in=sheets, published_at__isnull=False).select_related("sheet")
    return [(str(row.pk), str(row)) for row in rows.order_by("sheet__designation", "-number")]


def _reasons(place: Place) -> Any:
    return RemovalReason.objects.filter(site=place.site, in_use=True)


def _lots(place: Place) -> Any:
    return StockLot.objects.filter(site=place.site, count__gt=0)


def _create(_place: Place, *, sheet_version: str, **given: Any) -> Fit:
    return fits.install_fit(sheet_version=SheetVersion.objects.get(pk=sheet_version), **given)


def _change(root: Fit, expected: int | None, **given: Any) -> Fit:
    return fits.change_fit(fit=root, expected=expected, **given)


def _move(root: Fit, expected: int | None, **given: Any) -> None:
    moving.move_fit(fit=root, expected=expected, **given)


def _remove(root: Fit, expected: int | None, **given: Any) -> None:
    fits.remove_fit(fit=root, expected=expected, **given)


def _swap(root: Fit, expected: int | None, **given: Any) -> None:
    hubs.swap_hub(fit=root, expected=expected, **given)


def _fit_element(root: Fit, _expected: int | None, **given: Any) -> None:
    fits.fit_element(fit=root, **given)


def _in_place(fit: Fit) -> bool:
    return fit.removed_on is None


FACTS = (
    Field("serial", _("Serial number"), "text"),
    Field("match_marks", _("Match marks"), "text"),
    Field("dbse_mm", _("Distance between shaft ends"), "size", hint=_("As last left.")),
    Field("spacer_serial", _("Serial number of the spacer"), "text"),
    Field("spacer_position", _("Where the spacer is mounted"), "text", hint=_("Which holes or shims it stands on.")),
    Field("bolt_set", _("Bolt set"), "text", hint=_("Mark of the numbered or weighed set.")),
    Field("bolt_batch", _("Batch of the bolts"), "text"),
    Field("bolts_fitted_on", _("Bolts fitted on"), "date"),
    Field("bolts_reused", _("How often the bolts were used again"), "count", hint=_("0 is new.")),
)
HALF = (
    Field("serial", _("Serial number of the half"), "text"),
    Field("came_with", _("Came with the machine of serial number"), "text"),
    Field("bore_mm", _("Bore as measured"), "size"),
    Field("mounting_kind", _("How it is held"), "choice", choices=tuple(SheetVersion.Mounting.choices)),
)
HUB = (
    Field("side", _("Side"), "choice", required=True, choices=tuple(HubHalf.Side.choices)),
    *HALF,
    Field("orientation", _("Orientation"), "choice", choices=tuple(HubHalf.Orientation.choices)),
    Field("key_width_mm", _("Key, width"), "size"),
    Field("key_height_mm", _("Key, height"), "size"),
    Field("key_length_mm", _("Key, length"), "size"),
    Field("key_convention", _("Key convention"), "choice", choices=tuple(HubHalf.Convention.choices)),
    Field("advance_mm", _("Advance on its taper"), "size"),
    Field("pressure_mpa", _("Oil pressure that widened it"), "pressure"),
)
REMOVAL = (
    Field("removal_code", _("Why the old one came off"), "row", rows=_reasons),
    Field("removal_reason", _("Why, in your words"), "text"),
    Field("removal_finding", _("What is seen on it"), "text"),
    Field("went", _("Where it went"), "choice", choices=tuple(Element.Went.choices)),
    Field("went_to", _("Where exactly"), "text"),
)
ON = Field("on", _("On"), "date", required=True)


def _halves_of_fit(request: Any, fit: Fit) -> dict[str, Any]:
    """With the machines the reader may open; a contractor sees their names alone."""
    halves = list(halves_over_time(fit, request.user))
    ours = MachineUnit.objects.visible_to(request.user).filter(pk__in={half.unit_id for half in halves})
    return {"halves": halves, "places": True, "units": set(ours.values_list("pk", flat=True))}


add_noun(
    Noun(
        key="fits",
        one=_("fit"),
        many=_("fits"),
        what=_("What is physically at a coupling, from which day to which; history follows the serial number."),
        model=Fit,
        related=lambda rows: rows.select_related(
            "site", "coupling", "sheet_version__sheet", "moved_from__coupling"
        ).prefetch_related(Prefetch("hubs", HubHalf.objects.select_related("unit"))),
        columns=(
            Column("coupling", _("Coupling"), lambda fit: fit.coupling.tag, sort=("coupling__tag", "-fitted_on")),
            Column("sheet", _("Data sheet"), lambda fit: str(fit.sheet_version), sort=("sheet_version__sheet",)),
            Column("serial", _("Serial number"), lambda fit: fit.serial, sort=("serial",)),
            Column("fitted", _("Fitted on"), lambda fit: fit.fitted_on, sort=("-fitted_on",)),
            Column("removed", _("Removed on"), lambda fit: fit.removed_on, sort=("-removed_on",)),
            Column("went", _("Went to"), lambda fit: fit.went_to),
        ),
        order=("coupling__tag", "-fitted_on"),
        search=("serial", "spacer_serial", "bolt_set", "hubs__serial", "coupling__tag"),
        search_words=_("a serial number, a bolt set or the coupling"),
        filters=(by_site(), yes_or_no("open", _("which are"), _("in place or not"), _("in place"), _("removed"), OPEN)),
        empty=_("Nothing is fitted yet. Publish a data sheet, then record what was put in at which coupling."),
        title=lambda fit: f"{fit.sheet_version.sheet.designation}, {fit.coupling.tag}",
        fields=(
            Field("coupling", _("Coupling"), "row", required=True, rows=_free),
            Field("sheet_version", _("Data sheet"), "choice", required=True, options=_versions,
                  value=lambda fit: str(fit.sheet_version)),
            Field("fitted_on", _("Fitted on"), "date", required=True),
            *FACTS,
        ),
        lists=(
            Rows(name="hubs", label=_("Hub halves"), one=_("hub half"), fields=HUB, rows=lambda fit: fit.hubs_in_place,
                 most=2),
        ),
        parts=(
            Part(_("Where its hub halves were"), "couplings/register/hub_halves.html",
                 _halves_of_fit,
                 note=_("A half stays on the shaft of its machine: where that goes, it goes if somebody says so.")),
            ways(of_fit),
        ),
        action=WRITES,
        create=_create,
        acts=(
            Act(key="change", label=_("Correct it"), do=_change, fields=FACTS, action=WRITES, filled=True,
                done=_("%(row)s is corrected.")),
            Act(key="move", label=_("Move it to another coupling"), do=_move, action=WRITES, offered=_in_place,
                why=_("This fit is closed that day and another opened there. Serial numbers, bolts and keys go along."),
                fields=(
                    Field("to", _("To"), "row", required=True, rows=_free),
                    ON,
                    Field("reason", _("Why"), "text"),
                    Field("with_element", _("Its element goes along"), "yes", starter="yes"),
                ),
                done=_("%(row)s is moved.")),
            Act(key="remove", label=_("Take it out"), do=_remove, action=WRITES, offered=_in_place,
                why=_("The element in it leaves with it."),
                fields=(
                    Field("removed_on", _("On"), "date", required=True),
                    Field("removal_reason", _("Why"), "text"),
                    Field("went_to", _("Where it went"), "text"),
                ),
                done=_("%(row)s is out.")),
            Act(key="swap-hub", label=_("Another hub half came"), do=_swap, action=WRITES, offered=_in_place,
                why=_("Alone, or with a machine that brought it. Alignment is measured anew."),
                fields=(
                    Field("side", _("Side"), "choice", required=True, choices=tuple(HubHalf.Side.choices)),
                    ON,
                    *HALF,
                    Field("removal_reason", _("Why the half in place came off"), "text"),
                    Field("went_to", _("Where it went"), "text"),
                ),
                done=_("The hub half of %(row)s is entered.")),
            Act(key="element", label=_("Fit an element"), do=_fit_element, action=WRITES, offered=_in_place,
                fields=(
                    Field("fitted_on", _("On"), "date", required=True),
                    Field("lot", _("From the stores"), "row", rows=_lots),
                    Field("part_number", _("Part number"), "text", hint=_("Left out where it comes from the stores.")),
                    Field("batch", _("Batch"), "text"),
                    Field("cured_on", _("Cure date"), "date"),
                    *REMOVAL,
                ),
                done=_("The element of %(row)s is entered.")),
        ),
    )
)  # fmt: skip


def _mend(root: Element, expected: int | None, **given: Any) -> None:
    fits.change_element(element=root, expected=expected, **given)


def _take_out(root: Element, expected: int | None, **given: Any) -> None:
    fits.remove_element(element=root, expected=expected, **given)


add_noun(
    Noun(
        key="elements",
        one=_("element"),
        many=_("elements"),
        what=_("The wearing part in a fit: from when, until when, why it went and where."),
        model=Element,
        related=lambda rows: rows.select_related("site", "fit__coupling", "removal_code", "lot"),
        columns=(
            Column("part", _("Part number"), lambda one: one.part_number, sort=("part_number",)),
            Column("coupling", _("Coupling"), lambda one: one.fit.coupling.tag, sort=("fit__coupling__tag",)),
            Column("batch", _("Batch"), lambda one: one.batch, sort=("batch",)),
            Column("cured", _("Cure date"), lambda one: one.cured_on, sort=("cured_on",)),
            Column("fitted", _("Fitted on"), lambda one: one.fitted_on, sort=("-fitted_on",)),
            Column("removed", _("Taken out on"), lambda one: one.removed_on, sort=("-removed_on",)),
            Column("why", _("Why"), lambda one: str(one.removal_code or one.removal_reason)),
            Column("went", _("Went"), lambda one: one.get_went_display() or one.went_to),
        ),
        order=("-fitted_on",),
        search=("part_number", "batch", "fit__coupling__tag", "removal_reason", "removal_finding"),
        search_words=_("part, batch, coupling or why it went"),
        filters=(
            by_site(),
            yes_or_no("open", _("which are"), _("in place or not"), _("in place"), _("taken out"), OPEN),
            among_choices("went", _("that were"), _("put anywhere"), tuple(Element.Went.choices)),
        ),
        empty=_("No element on record yet. A visit records them, or the fit that it goes into."),
        fields=(
            Field("part_number", _("Part number"), "text"),
            Field("batch", _("Batch"), "text"),
            Field("cured_on", _("Cure date"), "date"),
            Field("fitted_on", _("Fitted on"), "date"),
            Field("removed_on", _("Taken out on"), "date"),
            *REMOVAL,
        ),
        parts=(ways(of_element),),
        action=WRITES,
        acts=(
            Act(key="take-out", label=_("Take it out"), do=_take_out, action=WRITES,
                offered=lambda one: one.removed_on is None,
                fields=(Field("removed_on", _("On"), "date", required=True), *REMOVAL),
                done=_("%(row)s is out.")),
            Act(key="mend", label=_("Write down what was found on it"), do=_mend, fields=REMOVAL, action=WRITES,
                filled=True, offered=lambda one: one.removed_on is not None, done=_("%(row)s is mended.")),
        ),
    )
)  # fmt: skip

add_part(
    "machine-units",
    Part(
        _("Hub halves on its shaft"),
        "couplings/register/hub_halves.html",
        lambda request, unit: {"halves": halves_of(unit, request.user), "places": False, "units": set()},
    ),
)
