"""Instruments: how well they measure, and until when their calibration holds."""

from typing import Any

from django.utils import timezone

from couplings.models import Calibration, Instrument
from couplings.selectors import calibration_ends_on, calibration_verdict
from couplings.services import instruments
from plant.pages.register import Act, Column, Field, Noun, Part, Place, add_noun, among_choices, by_site
from plant.pages.register import lazily as _
from plant.sitetime import today_at


def _create(place: Place, **given: Any) -> Instrument:
    assert place.site is not None
    return instruments.register_instrument(site=place.site, **given)


def _change(root: Instrument, expected: int | None, **given: Any) -> Instrument:
    return instruments.change_instrument(instrument=root, expected=expected, **given)


def _calibrate(root: Instrument, expected: int | None, **given: Any) -> None:
    instruments.calibrate_instrument(instrument=root, expected=expected, **given)


def _calibrated(_request: Any, one: Instrument) -> dict[str, Any]:
    return {"calibrations": one.calibrations.select_related("by")[:50]}


U_MM = Field("standard_u_mm", _("Standard uncertainty of one reading"), "gap", hint=_("Of a length."))
U_SHARE = Field("standard_u_share", _("Standard uncertainty, as a share"), "share", hint=_("Of a torque tool."))
OPERATIONS = Field("operations", _("Operations, counted from new"), "count", hint=_("Of a torque tool."))
KEPT = (
    Field("name", _("Name"), "text", required=True),
    Field("serial", _("Serial number"), "text", required=True),
    U_MM,
    U_SHARE,
    Field("calibrated_on", _("Calibrated on"), "date"),
    Field("calibration_days", _("Days it holds"), "count"),
    OPERATIONS,
    Field("operations_limit", _("Operations a calibration holds"), "count"),
)

add_noun(
    Noun(
        key="instruments",
        one=_("instrument"),
        many=_("instruments"),
        what=_("What measures: how well, and until when its calibration holds."),
        model=Instrument,
        related=lambda rows: rows.select_related("site").prefetch_related("calibrations"),
        columns=(
            Column("name", _("Name"), lambda one: one.name, sort=("name",)),
            Column("serial", _("Serial number"), lambda one: one.serial, sort=("serial",)),
            Column("kind", _("Kind"), lambda one: one.get_kind_display(), sort=("kind", "name")),
            Column("calibrated", _("Calibrated on"), lambda one: one.calibrated_on, sort=("calibrated_on",)),
            Column("until", _("Holds until"), calibration_ends_on),
            Column("state", _("Today"), lambda one: calibration_verdict(one, today_at(one.site, timezone.now()))),
            Column("site", _("Site"), lambda one: one.site.name, sort=("site__name",)),
        ),
        order=("kind", "name"),
        search=("name", "serial", "calibrations__certificate"),
        search_words=_("name, serial number or certificate"),
        filters=(
            by_site(),
            among_choices("kind", _("of"), _("any kind"), tuple(Instrument.Kind.choices)),
        ),
        empty=_("No instrument yet. Add what the crew measures with: a reading counts for as much as its instrument."),
        fields=(
            Field("kind", _("Kind"), "choice", required=True, choices=tuple(Instrument.Kind.choices)),
            *KEPT,
        ),
        parts=(Part(_("Calibrations"), "couplings/register/calibrations.html", _calibrated),),
        create=_create,
        acts=(
            Act(key="change", label=_("Correct it"), do=_change, filled=True,
                fields=(*KEPT, Field("retired_on", _("Retired on"), "date")), done=_("%(row)s is corrected.")),
            Act(key="calibrate", label=_("Enter a certificate"), do=_calibrate,
                why=_("The latest one sets until when it holds, and its uncertainty. Not to be used, it is retired."),
                fields=(
                    Field("on", _("Calibrated on"), "date", required=True),
                    Field("laboratory", _("By whom"), "text", required=True),
                    Field("certificate", _("Certificate"), "text", required=True),
                    Field("result", _("Result"), "choice", required=True, choices=tuple(Calibration.Result.choices)),
                    U_MM, U_SHARE,
                    Field("due_on", _("Holds until"), "date"),
                    OPERATIONS,
                    Field("note", _("Note"), "text"),
                ),
                done=_("The certificate of %(row)s is entered.")),
        ),
    )
)  # fmt: skip
