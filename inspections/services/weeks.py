"""Putting checks in a week: what the planner hands the crew, beside the date that the check itself has."""

from collections.abc import Sequence
from datetime import date

from inspections.models import Check
from plant.access import require
from plant.recording import bump, current
from plant.refusals import Refused
from plant.sitetime import today_at

FURTHEST_DAYS = 366


def put_in_week(*, checks: Sequence[Check], week_on: date | None) -> list[Check]:
    """Plan open checks for the week that begins on a Monday; None takes them out of their week again.

    All of them or none: a refusal names the coupling it is about.
    """
    unit = current()
    if not checks:
        raise Refused("Tick the checks first.")
    for check in checks:
        require(unit.by, "check.plan", check.site_id)
    for check in checks:
        today = today_at(check.site, unit.at)
        if week_on is not None:
            if week_on.weekday() != 0:
                raise Refused({"week": "A week begins on a Monday."})
            if (today - week_on).days > 6:
                raise Refused({"week": "This week is over: choose the current one or a later one."})
            if (week_on - today).days > FURTHEST_DAYS:
                raise Refused({"week": "At most a year ahead."})
        if check.week_on == week_on:
            continue
        bump(check)
        if check.settled_on is not None:
            raise Refused(f"{check.coupling.tag}, {check.get_kind_display()}: settled in the meantime.")
        check.week_on = week_on
        check.save(update_fields=["week_on"])
    return list(checks)
