"""Every calculation as a page: plain form by GET, so that the address keeps the inputs; nothing is stored."""

from collections.abc import Mapping
from typing import Any

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from plant import calculations
from plant.pages.context import own_site
from plant.pages.fields import problems_of, shown_groups
from plant.refusals import Refused
from plant.units import SYSTEMS

VARIANT, SYSTEM = "method", "units"


@require_safe
@login_required
def index(request: HttpRequest) -> HttpResponse:
    rows = [one for one in calculations.all_calculations() if one.form is not None]
    return render(request, "plant/calculations.html", {"calculations": rows})


@require_safe
@login_required
def calculation(request: HttpRequest, name: str) -> HttpResponse:
    """The form; once something is typed, the answer below it, or the errors beside the fields."""
    site = own_site(request)
    chosen = calculations.get(name, site)
    system = request.GET.get(SYSTEM) or (site.units if site else "metric")
    if system not in SYSTEMS:
        system = "metric"
    context: dict[str, Any] = {"calculation": chosen, "system": system, "systems": SYSTEMS}
    if chosen.form is None:
        return render(request, "plant/calculation.html", context)
    variants = chosen.form.variants()
    variant = request.GET.get(VARIANT, "")
    if variant not in dict(variants):
        variant = variants[0][0] if variants else ""
    rows = chosen.form.fields(variant)
    typed = {row.name: request.GET.get(row.name, "") for row in rows}
    errors: dict[str, str] = {}
    if any(row.name in request.GET for row in rows) and any(
        typed[row.name].strip() for row in rows if row.kind != "choice"
    ):
        payload, errors = chosen.form.payload(variant, typed, system)
        if not errors:
            try:
                result = chosen.function(chosen.reader(payload))
                context |= {"result": result, "answer": chosen.writer(result, system)}
                context |= chosen.drawn(result, system) if chosen.drawn is not None else {}
            except Refused as refusal:
                for path, message in refusal.as_dict().items():
                    errors.setdefault(chosen.form.field_of(path, payload), message)
    context |= {
        "variants": variants,
        "variant": variant,
        "groups": shown_groups(
            rows,
            typed,
            errors,
            system,
            rings=_rings(chosen, variant, typed, system),
            pictures=chosen.form.pictures(variant, typed) if chosen.form.pictures else {},
        ),
        "script_data": chosen.form.script_data(variant, system) if chosen.form.script_data else None,
        "problems": problems_of(rows, errors),
    }
    return render(request, chosen.template, context, status=422 if errors else 200)


def _rings(
    chosen: calculations.Calculation, variant: str, typed: dict[str, str], system: str
) -> Mapping[str, Mapping[float, float]]:
    return chosen.form.rings(variant, typed, system) if chosen.form is not None and chosen.form.rings else {}
