"""Lives of elements as the records tell them, for fitting: what counts as a failure, and since when it is known.

An element that was taken out with a reason that counts as a failure failed: to the day where it broke down in service,
else some time after the last look that found it sound. One that a look found worn past grade 3 failed by that look,
whether it was taken out or not. Everything else might have run on. An element that was there before the records of its
coupling began counts from the day they did; one that was gone by then says nothing.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import F, Min

from couplings.engineering.wear import FLAG_FROM
from couplings.models import Coupling, Element
from inspections.forecasting.lives import Lives, lives
from inspections.forecasting.running import Running, counted
from inspections.models import Breakdown, ElementFact, Visit, Wear
from inspections.selectors.legs import running_of_trains
from plant.models import Site
from plant.sitetime import zone_of

BROKEN = "broken"  # the starter reason for what broke down in service
LEAST_DAYS = 0.5  # fitted and failed on one day
FAILED, FOUND, REMOVED, RUNNING = "failed", "found", "removed", "running"


@dataclass(frozen=True)
class ElementLife:
    """One element from the day it was fitted, through every fit it was moved to.

    `days`, `hours`: (sound, ended, entry) ages; `ended` is infinite where it did not fail and `sound` is then its age.
    `hours` is None where a meter does not say. `how` is one of FAILED, FOUND, REMOVED, RUNNING; `reason` what it was
    removed for, in the site's words. `begins_on`, `last_on` are the days of its record.
    """

    element: Element
    coupling: Coupling
    family: str
    part: str
    how: str
    reason: str
    fitted_on: date
    last_on: date
    running: bool
    days: tuple[float, float, float]
    hours: tuple[float, float, float] | None

    @property
    def age_days(self) -> float:
        """Its age when it was last looked at. [day]"""
        return self.days[0] if math.isinf(self.days[1]) else self.days[1]


@dataclass(frozen=True)
class _Spell:
    """One stay of an element in a fit."""

    element: Element
    begin: date
    end: date


def element_lives(site: Site, today: date) -> list[ElementLife]:
    """Every element of a site whose record says something; in a number of queries that does not grow with them."""
    rows = list(
        Element.objects.filter(site=site, fitted_on__lte=today)
        .select_related(
            "removal_code", "fit__coupling__train__area", "fit__coupling__site", "fit__sheet_version__sheet__family"
        )
        .order_by("fitted_on", "pk")
    )
    after = {row.continues_id: row for row in rows if row.continues_id is not None}
    known = _Known(site, [row.fit.coupling for row in rows])
    found = []
    for row in rows:
        if row.continues_id is None:
            chain = [row]
            while (following := after.get(chain[-1].pk)) is not None:
                chain.append(following)
            life = _life(chain, known, today)
            if life is not None:
                found.append(life)
    return found


def by_type(found: Iterable[ElementLife]) -> dict[str, dict[str, list[ElementLife]]]:
    """Lives by family and part number."""
    sorted_: dict[str, dict[str, list[ElementLife]]] = defaultdict(lambda: defaultdict(list))
    for one in found:
        sorted_[one.family][one.part].append(one)
    return sorted_


def counts_by_hours(found: Sequence[ElementLife]) -> bool:
    """Whether these lives go by run hours: every meter has to say, for all of one law go by one clock."""
    return bool(found) and all(one.hours is not None for one in found)


def as_lives(found: Sequence[ElementLife], by_hours: bool) -> Lives:
    """Numbers for the fit. [hour] or [day]"""
    ages = [one.hours if by_hours and one.hours is not None else one.days for one in found]
    return lives([one[0] for one in ages], [one[1] for one in ages], None, [one[2] for one in ages])


class _Known:
    """What signed visits said, by coupling and fit."""

    def __init__(self, site: Site, couplings: Sequence[Coupling]) -> None:
        ids = {one.pk for one in couplings}
        signed = {"visit__site": site, "visit__state": Visit.State.SIGNED, "record": F("visit__record")}
        self.begins = _begun(site, ids)
        grades: dict[tuple[int, date, int], int] = {}
        looked = Wear.objects.filter(**signed, of_element=True, grade__isnull=False)
        for fit_id, on, visit_id, grade in looked.values_list("visit__fit_id", "visit__on", "visit_id", "grade"):
            key = (fit_id, on, visit_id)
            grades[key] = max(grade or 0, grades.get(key, 0))
        self.looks: dict[int, list[tuple[date, bool]]] = defaultdict(list)
        for (fit_id, on, _visit), grade in grades.items():
            self.looks[fit_id].append((on, grade >= FLAG_FROM))
        kept = ElementFact.objects.filter(**signed, act=ElementFact.Act.KEPT)
        judged = {(fit_id, on) for fit_id, on, _visit in grades}
        for fit_id, on in kept.values_list("visit__fit_id", "visit__on"):
            if (fit_id, on) not in judged:
                self.looks[fit_id].append((on, False))
        zone = zone_of(site)
        self.broke: dict[int, list[date]] = defaultdict(list)
        for coupling_id, on, at in Breakdown.objects.filter(**signed).values_list(
            "visit__coupling_id", "visit__on", "failed_at"
        ):
            self.broke[coupling_id].append(min(on, at.astimezone(zone).date()) if at is not None else on)
        self.running = running_of_trains({one.train_id: zone for one in couplings})


def _begun(site: Site, ids: set[int]) -> dict[int, date]:
    """The day on which the record of each coupling began: it was entered, or, from old cards, first visited."""
    zone = zone_of(site)
    history: Any = Coupling.history
    entered = (
        history.filter(site_id=site.pk, history_type="+").order_by().values_list("id").annotate(Min("history_date"))
    )
    begun = {pk: at.astimezone(zone).date() for pk, at in entered if pk in ids}
    visits = Visit.objects.filter(site=site, state=Visit.State.SIGNED).order_by().values_list("coupling_id")
    for pk, on in visits.annotate(Min("on")):
        begun[pk] = min(on, begun.get(pk, on))
    return begun


def _life(chain: Sequence[Element], known: _Known, today: date) -> ElementLife | None:
    last = chain[-1]
    spells = [_Spell(one, one.fitted_on, min(one.removed_on or today, today)) for one in chain]
    reason = last.removal_code
    running = last.removed_on is None or last.removed_on > today
    coupling = last.fit.coupling
    begins = known.begins.get(chain[0].fit.coupling_id)
    begun = spells[0].begin
    entry_on = min(begins, today) if begins is not None and begins > begun else begun
    looks = sorted(
        (on, bad)
        for spell in spells
        for on, bad in known.looks.get(spell.element.fit_id, [])
        # A look on the day it was fitted was at the one before; on the day it went, at this one.
        if spell.begin < on <= spell.end
    )
    broke = [on for on in known.broke.get(coupling.pk, []) if spells[-1].begin < on <= spells[-1].end]
    worn = [on for on, bad in looks if bad]
    fails = reason is not None and reason.failure and not running
    how = RUNNING if running else REMOVED
    sound_on, ended_on = spells[-1].end, None
    if worn and not (broke and fails and min(broke) < min(worn)):
        how, ended_on = FOUND, min(worn)
    elif fails:
        at_once = bool(broke) or (reason is not None and reason.code == BROKEN)
        how, ended_on = (FAILED, max(broke, default=spells[-1].end)) if at_once else (FOUND, spells[-1].end)
    if how == FOUND and ended_on is not None:
        # Bad at the first look: it may have failed at any age, so its late record says nothing more.
        sound_on = max([on for on, bad in looks if not bad and on < ended_on], default=begun)
    if how == FAILED and ended_on is not None:
        sound_on = ended_on
    if entry_on > begun and (entry_on >= ended_on if ended_on is not None else entry_on > spells[-1].end):
        return None  # it was over when the records began
    ages = [_days(spells, on) for on in (sound_on, ended_on, entry_on) if on is not None]
    hours = [_hours(spells, on, known) for on in (sound_on, ended_on, entry_on) if on is not None]
    return ElementLife(
        last, coupling, coupling_family(last), last.part_number, how,
        str(reason) if reason is not None and not running else last.removal_reason if not running else "",
        begun, spells[-1].end, running, _three(ages, how, LEAST_DAYS),
        None if None in hours else _three([one for one in hours if one is not None], how, LEAST_DAYS * 24),
    )  # fmt: skip


def coupling_family(element: Element) -> str:
    """The family an element belongs to, by the data sheet of its fit."""
    return str(element.fit.sheet_version.sheet.family.code)


def _three(ages: Sequence[float], how: str, least: float) -> tuple[float, float, float]:
    """Sound, ended and entry ages that the fit accepts."""
    if how in (FAILED, FOUND):
        sound, ended, entry = ages
        ended = max(ended, least)
        sound = ended if how == FAILED else min(sound, ended)
        return sound, ended, min(entry, sound) if entry < ended else 0.0
    age, entry = ages
    return age, math.inf, min(entry, age)


def _days(spells: Sequence[_Spell], on: date) -> float:
    """Age on a day, the days between two fits not counted. [day]"""
    return float(sum((min(on, spell.end) - spell.begin).days for spell in spells if spell.begin <= on))


def _hours(spells: Sequence[_Spell], on: date, known: _Known) -> float | None:
    """Run hours on a day; None where a meter does not reach back or forward that far. [h]"""
    total = 0.0
    for spell in spells:
        if spell.begin > on:
            continue
        running = known.running.get(spell.element.fit.coupling.train_id, Running())
        first, last = (counted(running, float(day.toordinal())) for day in (spell.begin, min(on, spell.end)))
        if first is None or last is None or last < first:
            return None
        total += last - first
    return total
