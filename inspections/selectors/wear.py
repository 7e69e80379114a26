"""What was found worn at a coupling and still stands: each code as it was graded last, unless its part is gone."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import F

from couplings.models import Coupling, Element, Fit
from inspections.forecasting.growth import growth
from inspections.models import ElementFact, Hardness, Lubrication, SignedRecord, Visit, Wear, WearNote

HARDNESS = "hardness"
HARDNESS_TITLE = "Hardness of the element"


@dataclass(frozen=True)
class Finding:
    """One code as it was graded last; `gone_on` is the day on which a new element took it away."""

    code: str
    title: str
    grade: int
    words: str
    visit: str
    on: date
    gone_on: date | None = None

    def as_evidence(self) -> dict[str, Any]:
        """As a flag keeps it."""
        return {
            "code": self.code,
            "title": self.title,
            "grade": self.grade,
            "words": self.words,
            "visit": self.visit,
            "on": self.on.isoformat(),
        }


def wear_facts(record: SignedRecord) -> dict[str, Any]:
    """What a signed text holds of wear and lubricant, as its page prints it."""
    return {
        "wears": list(Wear.objects.filter(record=record)),
        "hardness": Hardness.objects.filter(record=record).first(),
        "wear_note": WearNote.objects.filter(record=record).first(),
        "lubrication": Lubrication.objects.filter(record=record).first(),
    }


def open_fit(coupling: Coupling) -> Fit | None:
    """What is fitted at a coupling now."""
    return (
        Fit.objects.filter(coupling=coupling, removed_on__isnull=True)
        .select_related("sheet_version__sheet__family")
        .first()
    )


def findings_in(fit: Fit) -> dict[str, Finding]:
    """Every code that signed visits graded in a fit, by its latest grade; those that went with an element too."""
    signed = {"record": F("visit__record"), "visit__fit": fit, "visit__state": Visit.State.SIGNED}
    changes = [
        (one.visit.on, one.visit_id)
        for one in ElementFact.objects.filter(**signed, act=ElementFact.Act.FITTED).select_related("visit")
    ]
    fitted = list(Element.objects.filter(fit=fit).values_list("fitted_on", flat=True))
    rows = Wear.objects.filter(**signed, grade__isnull=False).select_related("visit")
    found: dict[str, Finding] = {}
    for row in sorted(rows, key=lambda row: (row.visit.on, row.visit_id)):
        gone_on = None
        if row.of_element:
            # An element fitted in the same visit takes away what was found before it.
            days = [on for on, visit_id in changes if (on, visit_id) >= (row.visit.on, row.visit_id)]
            gone_on = min([*days, *(on for on in fitted if on > row.visit.on)], default=None)
        assert row.grade is not None
        found[row.code] = Finding(row.code, row.title, row.grade, row.words, str(row.visit.uuid), row.visit.on, gone_on)
    read = Hardness.objects.filter(**signed).select_related("visit")
    for one in sorted(read, key=lambda one: (one.visit.on, one.visit_id)):
        # Hardness is read on the element that is left in place, so only a later one takes it away.
        days = [on for on, visit_id in changes if (on, visit_id) > (one.visit.on, one.visit_id)]
        gone_on = min([*days, *(on for on in fitted if on > one.visit.on)], default=None)
        found[HARDNESS] = Finding(
            HARDNESS, HARDNESS_TITLE, one.grade or 0, _change(one), str(one.visit.uuid), one.visit.on, gone_on
        )
    return found


def accelerating_in(fit: Fit) -> list[dict[str, Any]]:
    """Figures measured in a fit that grow faster than before, as a flag keeps them; an element takes its own away."""
    signed = {"record": F("visit__record"), "visit__fit": fit, "visit__state": Visit.State.SIGNED}
    fitted = max(Element.objects.filter(fit=fit).values_list("fitted_on", flat=True), default=None)
    rows = Wear.objects.filter(**signed, value__isnull=False, u__gt=0).select_related("visit")
    by_code: dict[str, dict[date, Wear]] = {}
    for row in sorted(rows, key=lambda row: (row.visit.on, row.visit_id)):
        if not row.of_element or fitted is None or row.visit.on > fitted:
            by_code.setdefault(row.code, {})[row.visit.on] = row  # of two on one day the later counts
    found = []
    for code, read in sorted(by_code.items()):
        last = list(read.values())[-3:]
        compared = growth(
            [float(row.visit.on.toordinal()) for row in last], [row.value or 0.0 for row in last],
            [row.u or 0.0 for row in last],
        )  # fmt: skip
        if compared is not None and compared.accelerates:
            found.append(
                {
                    "code": code, "title": last[-1].title, "kind": last[-1].kind, "visit": str(last[-1].visit.uuid),
                    "on": last[-1].visit.on.isoformat(), "since": last[-2].visit.on.isoformat(),
                    "earlier": round(compared.earlier, 6), "later": round(compared.later, 6),
                }
            )  # fmt: skip
    return found


def _change(one: Hardness) -> str:
    if one.first_median is None:
        return f"Shore {one.scale} {one.median:g}"
    return f"Shore {one.scale} {one.median:g}, at first {one.first_median:g}"
