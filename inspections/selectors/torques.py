"""Torques of earlier visits to the same fit, and the wrench that was last used there."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from itertools import groupby

from django.db.models import Q

from couplings.engineering.torque_trend import TorqueVisit
from couplings.models import Instrument
from couplings.selectors import over_operations
from inspections import rules
from inspections.models import Torque, Visit


@dataclass
class JointPast:
    """A joint before this visit: each position's first re-check since it was tightened anew, and all visits. [N*m]"""

    first_nm: dict[int, float] = field(default_factory=dict)
    visits: list[TorqueVisit] = field(default_factory=list)


def earlier_torques(visit: Visit) -> list[Torque]:
    """Torques in force of visits to the same fit before this one, oldest first."""
    before = Q(visit__on__lt=visit.on) | Q(visit__on=visit.on, visit_id__lt=visit.pk)
    return list(
        Torque.objects.filter(before, visit__fit_id=visit.fit_id, record__feeds__isnull=False)
        .select_related("visit")
        .order_by("visit__on", "visit_id", "joint", "position")
    )


def past_of(rows: Iterable[Torque], joint: str) -> JointPast:
    """What earlier torques say of one joint. Tightened anew, a screw begins its history again."""
    past = JointPast()
    of_joint = [row for row in rows if row.joint == joint]
    for _visit, some in groupby(of_joint, key=lambda row: row.visit_id):
        here = list(some)
        visit = here[0].visit
        day = float(visit.on.toordinal())
        if visit.kind in rules.TIGHTENS_ANEW:
            past.first_nm = {}
            past.visits.append(TorqueVisit(day, "installed"))
            continue
        for row in here:
            if row.found == Torque.Found.TURNED_OUT and row.position is not None:
                past.first_nm.pop(row.position, None)
        read = dict(_read(here))
        for position, torque_nm in read.items():
            past.first_nm.setdefault(position, torque_nm)
        past.visits.append(
            TorqueVisit(day, "read", math.fsum(read.values()) / len(read)) if read else TorqueVisit(day, "set")
        )
    return past


def last_wrench(visit: Visit) -> Instrument | None:
    """The click wrench, in calibration on the visit's day, last used at this coupling, else at its site.

    Where none was used yet, the only one there is; None where somebody has to choose.
    """
    used = (
        Torque.objects.filter(
            visit__site_id=visit.site_id,
            how=Torque.How.SET,
            instrument__kind=Instrument.Kind.TORQUE_SET,
            instrument__retired_on__isnull=True,
            visit__on__lte=visit.on,
        )
        .select_related("instrument")
        .prefetch_related("instrument__calibrations")
    )
    latest = used.order_by("-visit__on", "-pk")
    for rows in (latest.filter(visit__coupling_id=visit.coupling_id), latest):
        for row in rows[:20]:
            if row.instrument is not None and fit_for_use(row.instrument, visit):
                return row.instrument
    all_here = Instrument.objects.filter(
        site_id=visit.site_id, kind=Instrument.Kind.TORQUE_SET, retired_on__isnull=True
    ).prefetch_related("calibrations")
    fitting = [one for one in all_here if fit_for_use(one, visit)]
    return fitting[0] if len(fitting) == 1 else None


def fit_for_use(instrument: Instrument, visit: Visit) -> bool:
    """Whether its calibration holds on the day of the visit."""
    ended = rules.calibration_ended(instrument.calibrated_on, instrument.calibration_days, visit.on)
    return not ended and not over_operations(instrument, visit.on)


def _read(rows: Iterable[Torque]) -> Iterator[tuple[int, float]]:
    for row in rows:
        if row.how == Torque.How.READ and row.position is not None and not row.found:
            yield row.position, row.torque_nm
