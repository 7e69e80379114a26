"""What is said of the life of a group of elements: sentences and the picture, in the reader's language."""

from __future__ import annotations

import math

import numpy as np
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from inspections.forecasting.life import BOUND, COUNTS, FAMILY
from inspections.selectors.elements import Costs, Group, clock_age
from plant.drawings.curve import Curve, curve_plot

YEAR_DAYS = 365.25
THOUSAND = 1000.0


def law_words(group: Group) -> str:
    """How long they live and on what that rests, or why it is not known."""
    found, n = group.estimate, int(group.estimate.failures)
    counts = ngettext(
        "%(n)s of one element failed", "%(n)s of %(all)s elements failed", int(found.elements)
    ) % {"n": n, "all": int(found.elements)}  # fmt: skip
    if found.open:
        return _("%(counts)s, at ages that leave the law open: there is no B10.") % {"counts": counts}
    if found.basis == COUNTS:
        return _("%(counts)s, and %(family)s in the family: too few for a law, so there is no B10.") % {
            "counts": counts, "family": int(found.family_failures),
        }  # fmt: skip
    age = clock_age(found.b10, group.by_hours)
    if found.basis == BOUND:
        return _("%(counts)s: one in ten fails at %(age)s at the earliest, by the shape of its family.") % {
            "counts": counts, "age": age,
        }  # fmt: skip
    limits = " – ".join(clock_age(one, group.by_hours) for one in found.b10_limits or ())
    said = _("%(counts)s; one in ten fails by %(age)s, nine chances in ten between %(limits)s.") % {
        "counts": counts, "age": age, "limits": limits,
    }  # fmt: skip
    if found.basis == FAMILY:
        said += " " + _("Its shape is that of its family, since it has few failures of its own.")
    if found.beta_limits is not None and found.beta_limits[0] <= 1:
        said += " " + _("That it wears at all is not sure.")
    return said


def replacement_words(group: Group, costs: Costs, currency: str) -> str:
    """At which age replacing a sound one pays, and what it saves; "" where nothing can be said."""
    best = group.best
    if best is None:
        return ""
    if math.isinf(best.age):
        return _("Run to failure: at no age does replacing a sound one pay.")
    running = group.running
    unit = THOUSAND if group.by_hours else YEAR_DAYS
    saved = (best.to_failure - best.cost) * unit * running
    what = {
        "age": clock_age(best.age, group.by_hours),
        "low": clock_age(best.band[0], group.by_hours),
        "high": clock_age(best.band[1], group.by_hours),
        "share": f"{best.saving:.0%}",
        "money": f"{saved:,.0f}".replace(",", "\u202f") + f"\u00a0{currency}",
        "n": running,
    }
    what["per"] = _("in a thousand hours") if group.by_hours else _("in a year")
    said = _("Replacing sound ones at %(age)s costs least; anywhere from %(low)s to %(high)s costs nearly as little.")
    if best.recommended:
        saves = _("It saves %(share)s of what running to failure costs, %(money)s %(per)s over the %(n)s running.")
        return f"{said % what} {saves % what}"
    why = _("that they wear at all is not sure") if (best.wears or 0) <= 1 else _("the saving is not sure enough")
    return said % what + " " + _("It is not recommended: %(why)s.") % {"why": why}


def life_picture(group: Group) -> str:
    """Steps as recorded with their limits, the law dashed, B10 and the best age marked; "" without a failure."""
    found = group.estimate
    unit = THOUSAND if group.by_hours else YEAR_DAYS
    if not len(found.curve) or group.longest <= 0:
        return ""
    most = group.longest * 1.05 / unit
    steps = [(0.0, 1.0)] + [
        (float(age) / unit, float(share)) for age, share in zip(found.curve.age, found.curve.survival, strict=True)
    ]
    steps.append((most, steps[-1][1]))
    band = [(0.0, 1.0, 1.0)] + [
        (float(age) / unit, float(low), float(high))
        for age, low, high in zip(found.curve.age, found.curve.low, found.curve.high, strict=True)
        if math.isfinite(low)
    ]
    if len(band) == len(steps) - 1:
        band.append((most, *band[-1][1:]))  # the last limits stand as the last share does
    law: list[tuple[float, float]] = []
    marks: list[tuple[float, str]] = []
    if found.eta is not None and found.beta is not None and found.basis != BOUND:
        ages = np.linspace(0, most * unit, 60)
        law = [(float(a) / unit, math.exp(-((float(a) / found.eta) ** found.beta))) for a in ages]
        marks = [] if found.b10 is None else [(found.b10 / unit, "B10")]
    words = _("thousand hours") if group.by_hours else _("years")
    label = _("%(name)s: share that reaches an age, in per cent, over %(unit)s") % {"name": group.name, "unit": words}
    return curve_plot(Curve(most, 1.0, steps, law, band, marks, steps=True, percent=True), label, law_words(group))
