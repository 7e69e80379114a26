"""The job card: what the crew takes along. Cautions and isolation first, then why now, limits, torques in their order
with boxes, how it was left last with its shims, and room for the readings."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from couplings.models import Coupling, Element, Fit, SheetVersion
from couplings.selectors import joint_advice
from couplings.selectors.limits import Limits
from couplings.selectors.sheets import mounting_kind_of
from inspections.models import Check, Survey, WorkOrder
from inspections.models.findings import SIDES
from inspections.prints.words import Rows, clock, paper_of
from inspections.reasons import check_sentence, flag_sentence
from inspections.selectors.cards import CardFacts, card_facts
from inspections.steps.upright import upright
from plant import units
from plant.prints import pdf, qr
from plant.templatetags.asleft import LIMITED
from plant.words import day

CLOCK, COMPASS = ("12", "3", "6", "9"), ("N", "E", "S", "W")


@dataclass(frozen=True)
class Job:
    """One coupling on the card: what is to be checked, and on which work order where there is one."""

    coupling: Coupling
    checks: Sequence[Check] = ()
    order: WorkOrder | None = None


def job_cards(jobs: Sequence[Job], *, address_of: Callable[[Coupling], str], at: datetime) -> bytes:
    """The cards of these jobs as one PDF, each coupling beginning a new sheet."""
    site = jobs[0].coupling.site
    content = {
        "paper": paper_of(site),
        "foot": _("Job card printed %(at)s; what was printed does not change when the plant does.")
        % {"at": clock(at, site)},
        "cards": cards_of(jobs, address_of),
    }
    tags = ", ".join(job.coupling.tag for job in jobs[:5])
    return pdf("inspections/prints/jobcard.typ", content, at=at, title=_("Job card %(tags)s") % {"tags": tags})


def cards_of(jobs: Sequence[Job], address_of: Callable[[Coupling], str]) -> list[dict[str, Any]]:
    """What the cards say, as plain values, in a number of queries that does not grow with them."""
    facts = card_facts([job.coupling for job in jobs])
    return [_card(job, address_of(job.coupling), facts[job.coupling.pk]) for job in jobs]


def _card(job: Job, address: str, facts: CardFacts) -> dict[str, Any]:
    coupling, site = job.coupling, job.coupling.site
    system, fit = site.units, facts.fit
    version = fit.sheet_version if fit else None
    left, order = facts.left, job.order
    said = [_("Work order %(n)s") % {"n": order.number}] if order else []
    if order is not None and order.title:
        said.append(order.title)
    return {
        "kicker": f"{site} · {coupling.train.area.name} · {_('train')} {coupling.train.tag}",
        "title": _("%(tag)s, %(driver)s to %(driven)s")
        % {
            "tag": coupling.tag,
            "driver": coupling.driver_machine.name,
            "driven": coupling.driven_machine.name,
        },
        "sub": ". ".join(said),
        "qr": qr(address),
        "cautions": _cautions(coupling, version),
        "why": [f"{_need(check)}. {check_sentence(check, system)}" for check in job.checks]
        + [flag_sentence(flag, system) for flag in facts.flags],
        "fitted": _fitted(fit, version, facts.element, system) if fit and version else [],
        "limits": _limits(facts.limits, system) if facts.limits else [],
        "left": (_left(left, system) if left else []) + _hold_downs(facts, system),
        "left_title": _("As left %(on)s: %(verdict)s")
        % {
            "on": day(left.visit.on, weekday=False),
            "verdict": left.result.verdict,
        }
        if left
        else _("No as-left alignment on record yet"),
        "shims": _shims(facts, system),
        "joints": [_joint(joint, system) for joint in version.joints.all()] if version else [],
        "screws": _screws(version, system) if version else "",
        "unit": units.label_of("gap", system),
        "hands": COMPASS if upright(coupling) else CLOCK,
        "permit": order.permit if order else "",
    }


def _cautions(coupling: Coupling, version: SheetVersion | None) -> list[str]:
    said = [coupling.train.cautions] if coupling.train.cautions else []
    said.append(
        _(
            "Rotating machine: isolate, lock, try it and prove it dead, and release stored energy by the site's own "
            "procedure before the guard comes off. Guard back on before the isolation is taken off."
        )
    )
    said.append(
        _("Wear the protective equipment the site asks for. Keep hands out of the gap while shafts are turned.")
    )
    held = {mounting_kind_of(version, side) for side, _words in SIDES} if version is not None else set()
    if "heated" in held:
        said.append(
            _("Hot hubs burn, and heating near oil or gas can light it: hot-work permit and gloves by site procedure.")
        )
    if "hydraulic" in held:
        said.append(_("Oil under high pressure: a hub can let go with force. Stand aside; stop nut or plate in place."))
    return said


def _need(check: Check) -> str:
    how = _("needs a stop") if check.needs_stop else _("while running")
    return f"{check.get_kind_display()}: {how}, {check.crew_size} × {check.crew_hours:g} h"


def _fitted(fit: Fit, version: SheetVersion, element: Element | None, system: str) -> Rows:
    family = version.sheet.family
    rows = [(_("Data sheet"), f"{version.sheet.designation}, {_('version')} {version.number} ({family.name})")]
    if fit.serial or fit.match_marks:
        rows.append((_("Serial number, match marks"), ", ".join(one for one in (fit.serial, fit.match_marks) if one)))
    if version.dbse_mm is not None:
        said = units.written(version.dbse_mm, "size", system)
        if version.dbse_tolerance_mm is not None:
            said += f" ± {units.written(version.dbse_tolerance_mm, 'size', system)}"
        if fit.dbse_mm is not None:
            said += f"; {_('last left at')} {units.written(fit.dbse_mm, 'size', system)}"
        rows.append((_("Distance between shaft ends (DBSE)"), said))
    if element is not None:
        said = f"{element.part_number}, {_('fitted')} {day(element.fitted_on, weekday=False)}"
        rows.append((family.element_name.capitalize() or _("Element"), said))
    if version.element_part:
        rows.append((_("Part to bring for a change"), version.element_part))
    if version.lubricant:
        amount = f", {units.written(version.lubricant_g, 'mass', system)}" if version.lubricant_g else ""
        rows.append((_("Lubricant"), version.lubricant + amount))
    return rows


def _limits(limits: Limits, system: str) -> list[list[str]]:
    families = {"sheet": _("data sheet"), "grade": _("speed grade")}
    rows = []
    for limit in limits.limits:
        name, kind = LIMITED.get(limit.quantity, (limit.quantity, "gap"))
        rows.append([name, units.written(limit.value, kind, system), limit.source or families[limit.family]])
    return rows


def _left(left: Survey, system: str) -> Rows:
    result = left.result
    heads = (_("Offset, up and right"), _("Angularity, vertical and horizontal"))
    if left.positions:
        heads = (_("Offset, north and east"), _("Angularity, north and east"))
    return [
        (heads[0], _pair(result.offset_v_mm, result.offset_h_mm, "gap", system)),
        (heads[1], _pair(result.slope_v_mrad, result.slope_h_mrad, "slope", system)),
    ]


def _pair(one: float | None, other: float | None, kind: str, system: str) -> str:
    return ", ".join(units.written(value, kind, system, signed=True) for value in (one, other))


def _shims(facts: CardFacts, system: str) -> list[list[str]]:
    """The packs that lie under both machines as far as they are on record."""
    words = dict(SIDES)
    return [
        [f"{words[side].capitalize()}, {pack.foot}", pack.typed, units.written(pack.total_mm, "gap", system)]
        for side, pack in facts.shims
    ]


def _hold_downs(facts: CardFacts, system: str) -> Rows:
    """Torque of the hold-down bolts as they were left last, and the jack bolts."""
    rows: Rows = []
    for row in facts.hold_downs:
        said = [units.written(row.torque_nm, "torque", system)] if row.torque_nm is not None else []
        said += [_("jack bolts %(how)s") % {"how": row.get_jacks_display()}] if row.jacks else []
        where = ", ".join(part for part in (row.get_side_display(), row.foot) if part)
        rows.append((_("Hold-down bolts, %(where)s") % {"where": where}, ", ".join(said)))
    return rows


def _joint(joint: Any, system: str) -> dict[str, Any]:
    advice = joint_advice(joint)
    return {
        "name": _("%(name)s: %(n)s × %(thread)s, %(torque)s")
        % {
            "name": joint.name.capitalize(),
            "n": joint.positions,
            "thread": joint.thread or _("thread not entered"),
            "torque": units.written(joint.torque_nm, "torque", system),
        },
        "order": joint.get_order_display(),
        "recheck": " ".join(
            one for one in (joint.get_recheck_display().capitalize() + ".", joint.recheck_reason) if one
        ),
        "passes": [
            {"torque": units.written(row.torque_nm, "torque", system), "positions": [str(at) for at in row.positions]}
            for row in advice.passes
        ],
    }


def _screws(version: SheetVersion, system: str) -> str:
    if not version.set_screw_count:
        return ""
    torque = units.written(version.set_screw_torque_nm, "screw-torque", system) if version.set_screw_torque_nm else "—"
    return ngettext(
        "One set screw %(size)s in each hub: %(torque)s, after the last axial move.",
        "%(n)s set screws %(size)s in each hub: %(torque)s, after the last axial move.",
        version.set_screw_count,
    ) % {"n": version.set_screw_count, "size": version.set_screw_size, "torque": torque}
