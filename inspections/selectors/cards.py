"""What job cards say of many couplings, asked for all of them at once: as many questions for fifty cards as for one."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field

from django.db.models import OuterRef, Prefetch, Q, Subquery

from couplings.models import Coupling, Element, Fit
from couplings.selectors import limits_of_each
from couplings.selectors.limits import Limits
from inspections.models import Flag, HoldDown, ShimPack, Survey


@dataclass
class CardFacts:
    """What is fitted at one coupling, how it was left, what lies under its machines, and what is open there."""

    fit: Fit | None = None
    element: Element | None = None
    limits: Limits | None = None
    left: Survey | None = None
    flags: list[Flag] = field(default_factory=list)
    shims: list[tuple[str, ShimPack]] = field(default_factory=list)
    hold_downs: list[HoldDown] = field(default_factory=list)


def card_facts(couplings: Iterable[Coupling]) -> dict[int, CardFacts]:
    """The facts by coupling id; the couplings come with their machines, train and site."""
    here = {one.pk: one for one in couplings}
    found = {pk: CardFacts() for pk in here}
    _fits(here, found)
    _left(here, found)
    for flag in Flag.objects.filter(coupling__in=here, cleared_at__isnull=True).order_by("opened_at", "id"):
        found[flag.coupling_id].flags.append(flag)
    _shims(here, found)
    return found


def _fits(here: dict[int, Coupling], found: dict[int, CardFacts]) -> None:
    elements = Prefetch("elements", Element.objects.filter(removed_on__isnull=True), to_attr="in_place")
    version = "sheet_version__"
    fits = Fit.objects.filter(coupling__in=here, removed_on__isnull=True).select_related(f"{version}sheet__family")
    for fit in fits.prefetch_related(elements, f"{version}joints", f"{version}hubs", f"{version}limits"):
        facts, in_place = found[fit.coupling_id], fit.in_place
        facts.fit, facts.element = fit, next(iter(in_place), None)
    held = [(here[pk], facts.fit.sheet_version) for pk, facts in found.items() if facts.fit is not None]
    for pk, limits in limits_of_each(held).items():
        found[pk].limits = limits


def _left(here: dict[int, Coupling], found: dict[int, CardFacts]) -> None:
    """The survey in force that was left behind last at each."""
    of_each = Survey.objects.filter(visit__coupling=OuterRef("pk"), as_left=True, record__feeds__isnull=False)
    last = of_each.order_by("-visit__on", "-record__number").values("pk")[:1]
    ids = Coupling.objects.filter(pk__in=here).annotate(left=Subquery(last)).values("left")
    for survey in Survey.objects.filter(pk__in=ids).select_related("visit", "result"):
        found[survey.visit.coupling_id].left = survey
    bolts = HoldDown.objects.filter(visit__coupling__in=here, record__feeds__isnull=False).select_related("visit")
    day: dict[int, object] = {}
    for row in bolts.order_by("-visit__on", "-visit_id", "side", "foot"):
        if day.setdefault(row.visit.coupling_id, row.visit_id) == row.visit_id:
            found[row.visit.coupling_id].hold_downs.append(row)


def _shims(here: dict[int, Coupling], found: dict[int, CardFacts]) -> None:
    """The pack under each foot as a signed visit wrote it last, at whichever of the machine's couplings."""
    machines = {pk for one in here.values() for pk in (one.driver_machine_id, one.driven_machine_id)}
    rows = ShimPack.objects.filter(record__feeds__isnull=False).filter(
        Q(side="driver", visit__coupling__driver_machine__in=machines)
        | Q(side="driven", visit__coupling__driven_machine__in=machines)
    )
    packs: dict[int, dict[str, ShimPack]] = defaultdict(dict)
    for pack in rows.select_related("visit__coupling").order_by("-visit__on", "-visit_id"):
        machine = getattr(pack.visit.coupling, f"{pack.side}_machine_id")
        packs[machine].setdefault(pack.foot, pack)
    for pk, one in here.items():
        for side in ("driver", "driven"):
            found[pk].shims += [(side, pack) for pack in packs[getattr(one, f"{side}_machine_id")].values()]
