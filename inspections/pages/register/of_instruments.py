"""What the work adds to an instrument's page: the visits it measured in."""

from typing import Any

from couplings.models import Instrument
from inspections.selectors.instruments import instrument_uses, instrument_visits
from plant.pages.register import Part, add_part
from plant.pages.register import lazily as _

SHOWN = 50


def _uses(request: Any, instrument: Instrument) -> dict[str, Any]:
    visits = instrument_visits(instrument, request.user)
    uses = instrument_uses(instrument, visits[:SHOWN])
    more = max(0, visits.count() - SHOWN) if len(uses) == SHOWN else 0
    return {"uses": uses, "more": more, "in_doubt": any(one.in_doubt for one in uses)}


add_part(
    "instruments",
    Part(
        _("Measured with it"),
        "inspections/register/uses.html",
        _uses,
        _("Signed visits that name it, and what its certificates say of those days."),
    ),
)
