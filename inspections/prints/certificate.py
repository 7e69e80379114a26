"""The as-left certificate: what a signed visit left behind, how it was read, how sure that is, and its digest.

Everything stands in the signed record; names are those of the day it was signed.
"""

from __future__ import annotations

import json
from datetime import date
from math import isfinite
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as later
from django.utils.translation import ngettext

from couplings.calculations.picture import picture_of
from couplings.engineering.limits import Limit
from couplings.engineering.moves import foot_moves
from couplings.selectors import feet_of, flex_planes_of
from couplings.selectors.instruments import calibrated_then
from inspections.models import HandOver, ReadingSet, RunUp, Survey, SurveyResult, Visit, Witness
from inspections.prints.words import Rows, clock, paper_of, rows_of
from inspections.selectors.photos import photos_of, title_of
from inspections.selectors.surveys import lines_of, misalignment_of
from inspections.selectors.visits import machine_facts, surveys_of
from inspections.selectors.wear import wear_facts
from inspections.steps import STEPS
from plant import drawings, units
from plant.prints import for_paper, pdf, qr
from plant.templatetags.asleft import limit_row
from plant.words import chance, day

HOURS = {0.0: "12", 90.0: "3", 180.0: "6", 270.0: "9"}
POINTS = {0.0: "N", 90.0: "E", 180.0: "S", 270.0: "W"}
SETS = {
    "rim": later("rim dial"),
    "face": later("face dial"),
    "step": later("step by straightedge"),
    "gap": later("gap between the hubs"),
    "flex-angle": later("dial across a flex plane"),
}


def certificate(visit: Visit, *, address: str) -> bytes:
    """The certificate of a signed visit as PDF. `address`: the whole address of its record, for the QR code."""
    record = visit.record
    assert record is not None, "only a signed visit has a certificate"
    return pdf(
        "inspections/prints/certificate.typ",
        content_of(visit, address),
        at=record.signed_at,
        title=_("As-left certificate %(tag)s, %(on)s") % {"tag": visit.coupling.tag, "on": visit.on.isoformat()},
    )


def content_of(visit: Visit, address: str) -> dict[str, Any]:
    """What the certificate says, as plain values."""
    site, record = visit.site, visit.record
    assert record is not None
    text = json.loads(record.text)
    names, typed = text["names"], {_place(one): dict(one["typed"]) for one in text["steps"]}
    surveys = list(surveys_of(visit).select_related("visit").prefetch_related("sets__instrument__calibrations"))
    left = next((one for one in surveys if one.as_left), None)
    order = visit.work_order
    return {
        "paper": paper_of(site),
        "kicker": f"{names['site']} · {names['area']} · {_('train')} {names['train']}",
        "title": _("As-left certificate: %(tag)s") % {"tag": names["coupling"]},
        "sub": _("%(driver)s to %(driven)s. %(kind)s of %(on)s%(order)s, signed by %(by)s %(at)s.")
        % {
            "driver": names["driver_machine"][:1].upper() + names["driver_machine"][1:],
            "driven": names["driven_machine"],
            "kind": visit.get_kind_display().capitalize(),
            "on": day(visit.on, weekday=False),
            "order": f", {_('work order')} {order.number}" if order else "",
            "by": names["signed_by"],
            "at": clock(record.signed_at, site),
        },
        "qr": qr(address),
        "verdict": left.result.verdict if left else "not known",
        "reason": left.result.reason if left else _("No alignment was left on record by this visit."),
        "families": _families(left.result) if left else "",
        "left_so": visit.left_so_reason,
        "limits": _limit_rows(left.result, site.units) if left else [],
        "pictures": _pictures(left, names, site.units) if left and not left.positions else {},
        "compass": any(one.positions for one in surveys),
        "surveys": [_survey(one, site.units) for one in surveys],
        "readings": [_readings(one, site, typed) for one in surveys if one.as_left or one.as_found],
        "done": _done(visit, names, text),
        "signatures": [
            _("Record %(n)s, %(kind)s: %(by)s, %(at)s%(reason)s. Digest %(digest)s")
            % {
                "n": one.number,
                "kind": one.get_kind_display(),
                "by": one.signed_by,
                "at": clock(one.signed_at, site),
                "reason": f" ({one.reason})" if one.reason else "",
                "digest": one.digest,
            }
            for one in visit.records.select_related("signed_by").order_by("number")
        ],
        "advice": _(
            "A verdict compares the readings above with the limits entered for this coupling; it is advice to a "
            "competent person and releases nothing. Isolation, guards and start-up follow the site's own procedure."
        ),
        "foot": f"{names['coupling']} · {_('record')} {record.number} · {record.digest[:16]} · {address}",
    }


def _place(step: dict[str, Any]) -> str:
    return f"{step['step']}.{step['number']}" if step["number"] else str(step["step"])


def _families(result: SurveyResult) -> str:
    said = _("Data sheet: %(sheet)s. Speed grade: %(grade)s.") % {
        "sheet": result.sheet_verdict,
        "grade": result.grade_verdict,
    }
    if result.probability is not None:
        exact = f"{result.probability:.3f}" if 0.001 <= result.probability <= 0.999 else ""
        how = {"guarded": _("with the guard band"), "simple": _("by the value alone")}[result.decision]
        said += " " + _("Chance that all limits are kept: %(chance)s%(exact)s; judged %(how)s at %(at).0f %%.") % {
            "chance": chance(result.probability),
            "exact": f" ({exact})" if exact else "",
            "how": how,
            "at": result.confidence * 100,
        }
    return said


def _limit_rows(result: SurveyResult, system: str) -> list[dict[str, Any]]:
    rows = []
    for line in lines_of(result):
        row = limit_row(line, system)
        rows.append(
            {
                "name": row["name"],
                "source": row["source"],
                "value": f"{row['value']} ± {row['half_width']}" if row["half_width"] else row["value"],
                "limit": row["limit"],
                "share": row["share"],
                "verdict": line.verdict,
                "line": for_paper(drawings.limit_line(line.share, line.share_u, line.verdict)),
            }
        )
    return rows


def _pictures(left: Survey, names: dict[str, Any], system: str) -> dict[str, str | None]:
    """In the record's frame: the driver-side shaft against the driven-side shaft, seen from the driver end."""
    result = left.result
    target = (
        result.target_offset_v_mm, result.target_offset_h_mm, result.target_slope_v_mrad, result.target_slope_h_mrad,
    )  # fmt: skip
    limits = [Limit(one["quantity"], one["limit"], one.get("family", "sheet")) for one in result.lines]
    stood = misalignment_of(result)
    feet = feet_of(left.visit.coupling, "driver", left.visit.fit)
    views = drawings.shaft_picture(
        picture_of(
            stood,
            target,
            flex_planes_of(left.visit.sheet_version),
            [one for one in limits if one.quantity != "combined"],
            foot_moves(stood, feet, target) if len(feet) > 1 else [],
            stationary=names["driven_machine"],
            movable=names["driver_machine"],
            system=system,
        )
    )
    return {"side": for_paper(views.side), "above": for_paper(views.above), "scale": views.scale}


def _survey(survey: Survey, system: str) -> list[str]:
    result = survey.result
    sure = misalignment_of(result).standard_uncertainty
    figures = zip(
        (result.offset_v_mm, result.offset_h_mm, result.slope_v_mrad, result.slope_h_mrad),
        ("gap", "gap", "slope", "slope"),
        sure,
        strict=True,
    )
    said = [
        units.written(value, kind, system, signed=True)
        + (f" ± {units.written(2 * u, kind, system)}" if value is not None and isfinite(u) else "")
        for value, kind, u in figures
    ]
    return [_role(survey), survey.method.replace("-", " "), *said, result.verdict]


def _role(survey: Survey) -> str:
    if survey.as_found and survey.as_left:
        return _("as-found and as-left")
    if survey.as_found:
        return _("as-found")
    return _("as-left") if survey.as_left else _("round %(n)s") % {"n": survey.number}


def _readings(survey: Survey, site: Any, typed: dict[str, dict[str, str]]) -> dict[str, Any]:
    who = {"driver": _("driver side"), "driven": _("driven side")}
    still = who[survey.stationary].capitalize()
    if survey.positions:
        said = _("%(still)s stood still; by compass points") % {"still": still}
        said += ", " + _("N is %(what)s") % {"what": survey.north_is} if survey.north_is else ""
    else:
        said = _("%(still)s stood still; seen from the %(seen)s machine") % {"still": still, "seen": survey.viewed_from}
    if survey.taken_at is not None:
        said += ", " + clock(survey.taken_at, site)
    if survey.read_by or survey.observer is not None:
        said += ", " + _("read by %(who)s") % {"who": survey.read_by or survey.observer}
    for side, value in (("driver", survey.driver_support_degc), ("driven", survey.driven_support_degc)):
        if value is not None:
            said += f"; {who[side]} {units.written(value, 'temperature', site.units)}"
    if survey.stopped_hours is not None:
        said += "; " + _("stopped for %(h)g h") % {"h": survey.stopped_hours}
    correction = survey.result.correction or {}
    if correction.get("applied"):
        said += "; " + _("brought to %(at)s") % {
            "at": units.written(correction["reference_degc"], "temperature", site.units)
        }
    sets = [_set(one, site.units, survey.visit.on) for one in survey.sets.all()]
    return {"role": _role(survey), "said": said + ".", "sets": sets, "typed": [] if sets else _reported(survey, typed)}


def _reported(survey: Survey, typed: dict[str, dict[str, str]]) -> Rows:
    """Offset and angularity that an instrument reported stand in no set of readings: the step's fields as typed."""
    names = ["as-found"] if survey.as_found else ["as-left"]
    if survey.as_left and (same := typed.get("as-left", {}).get("same_as", "")):
        names = [same]
    fields = next((typed[name] for name in names if name in typed), {})
    rows = STEPS["as-left"].fields(survey.visit, fields)
    asked = ("offset", "slope", "angularity", "flex", "u")
    return [
        (f"{row.group}, {row.label}" if row.group else row.label, fields[row.name])
        for row in rows
        if fields.get(row.name) and row.name.partition("_")[0].partition(".")[0] in asked
    ]


def _whole(typed: str) -> str:
    """A reading as typed, its unit on the same line."""
    return typed.replace(" ", "\u00a0")


def _set(one: ReadingSet, system: str, on: date) -> list[str]:
    where = [str(SETS.get(one.kind, one.kind))]
    if one.carried_by:
        where.append(_("carried by the %(m)s machine") % {"m": one.carried_by})
    if one.plane:
        where.append(_("flex plane %(p)s") % {"p": one.plane})
    if one.x_mm is not None:
        where.append(f"x {units.written(one.x_mm, 'size', system, signed=True)}")
    if one.swing_radius_mm is not None:
        where.append(_("swing radius %(r)s") % {"r": units.written(one.swing_radius_mm, "size", system)})
    if one.sag_mm:
        where.append(_("sag %(s)s") % {"s": units.written(one.sag_mm, "gap", system, signed=True)})
    if one.half:
        where.append(_("half readings"))
    if one.bracket:
        where.append(_("bracket %(name)s") % {"name": one.bracket})
    places = POINTS if one.survey.positions else HOURS
    read = [
        f"{places.get(r.angle_deg, f'{r.angle_deg:g}°')}{_(' turned') if r.turned else ''}: {_whole(r.typed)}"
        + (f" / {_whole(r.opposed_typed)}" if r.opposed_typed else "")
        for r in one.readings.all()
    ]
    instrument = str(one.instrument) if one.instrument else _("instrument not named")
    if one.instrument is not None:
        then = calibrated_then(one.instrument, one.instrument.calibrations.all(), on)
        instrument += f", {_('calibrated')} {day(then, weekday=False)}" if then is not None else ""
    return [", ".join(where), "   ".join(read), instrument]


def _not_done(text: dict[str, Any]) -> Rows:
    """Steps that were signed with the reason why they were not done or measured."""
    return [
        (STEPS[one["step"]].title, _("not done or measured: %(why)s") % {"why": one["typed"]["not_measured"]})
        for one in text["steps"]
        if one["typed"].get("not_measured", "").strip() and one["step"] in STEPS
    ]


def _beside(visit: Visit) -> Rows:
    """Who looked on, what was handed over from shift to shift, how the machine ran up."""
    rows: Rows = [
        (_("Hold point witnessed"), f"{one.what}: {one.by}, {clock(one.at, visit.site)}")
        for one in Witness.objects.filter(visit=visit).select_related("by")
    ]
    for note in HandOver.objects.filter(visit=visit).select_related("by"):
        to = " " + _("to %(to)s") % {"to": note.to} if note.to else ""
        rows.append((_("Hand-over note"), f"{note.by}{to}, {clock(note.at, visit.site)}: {note.text}"))
    for run in RunUp.objects.filter(visit=visit).select_related("record__signed_by").order_by("record__number"):
        said = f"{run.get_outcome_display()}, {run.record.signed_by}, {clock(run.ran_at, visit.site)}"
        rows.append((_("Run-up"), f"{said}: {run.remarks}" if run.remarks else said))
    return rows


def _done(visit: Visit, names: dict[str, Any], text: dict[str, Any]) -> Rows:
    record = visit.record
    assert record is not None
    context = {
        "placement": record.placements.first(),
        "set_screws": record.setscrews.all(),
        "torques": record.torques.select_related("instrument"),
        "element": record.elementfacts.first(),
        "machine": machine_facts(record),
        **wear_facts(record),
        "order": visit.work_order,
        "system": visit.site.units,
    }
    version = visit.sheet_version
    rows: Rows = [(_("Data sheet"), f"{version.sheet.designation}, {_('version')} {version.number}")]
    if names.get("fit_serial"):
        rows.append((_("Serial number"), names["fit_serial"]))
    rows += rows_of("inspections/fragments/done.html", context)
    crew = names.get("work_order", {}).get("crew", [])
    if crew:
        said = ", ".join(f"{one['name']} ({one['employer']})" if one["employer"] else one["name"] for one in crew)
        rows.append((ngettext("Crew", "Crew", len(crew)), said))
    if names.get("work_order", {}).get("verified_by"):
        rows.append((_("Tried and verified dead by"), names["work_order"]["verified_by"]))
    rows.append((_("Readings taken by"), names["taken_by"]))
    if names["entered_by"] != names["taken_by"]:
        rows.append((_("Typed in by"), names["entered_by"]))
    if visit.paper_isolation:
        rows.append((_("Isolation, as the paper says"), visit.paper_isolation))
    rows += _not_done(text)
    rows += _beside(visit)
    for one in photos_of(visit):
        kind = _("Photo")
        if one.after_signing:
            kind = _("Photo, added by %(by)s %(at)s") % {"by": one.by, "at": clock(one.at, visit.site)}
        rows.append((kind, f"{title_of(one)}: {one.digest}"))
    return rows
