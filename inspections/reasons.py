"""Why a date is what it is, in one sentence with its numbers, for whoever reads it.

The rows store codes and numbers; sentences are made here, so that they follow the reader's language.
"""

from datetime import date
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from couplings.selectors import CalibrationDue
from inspections.drift_reasons import drift_runner_up, drift_why
from inspections.flag_reasons import flag_sentence
from inspections.forecasting.duedates import (
    DRIFT,
    ELEMENT_AGE,
    ELEMENT_LIFE,
    FINDING,
    FIRST_DAYS,
    FIRST_HOURS,
    LOST,
    POLICY,
    RUN_HOURS,
)
from inspections.models import Check, Flag
from plant.words import day

NBSP = "\u00a0"

__all__ = ["calibration_words", "check_sentence", "flag_sentence", "when_sentence"]


def check_sentence(check: Check, system: str = "metric") -> str:
    """What, by when; because of which number; what else would have said what.

    Nothing in it has a unit that differs between systems: days, months and run hours are the same everywhere.
    """
    numbers = check.numbers
    sentence = when_sentence(check) + _why(check.winner, check.kind, numbers)
    if check.runner_up and check.runner_up_on is not None:
        sentence += "; " + _runner_up(check.runner_up, check.runner_up_on, numbers)
    elif check.winner == FIRST_DAYS and "first_hours" in numbers and "hours_per_day" not in numbers:
        sentence += "; " + _("its %(hours)s of running cannot be dated without meter readings") % {
            "hours": _hours(numbers["first_hours"])
        }
    return sentence + "." + _estimated(check, numbers)


def calibration_words(due: CalibrationDue, today: date) -> str:
    """Until when an instrument may measure, and how many operations are left."""
    said = []
    if due.ends_on is not None:
        words = _("its calibration ended on %(on)s") if due.ends_on < today else _("its calibration ends on %(on)s")
        said.append(words % {"on": _day(due.ends_on)})
    if due.operations_left is not None:
        left = max(0, due.operations_left)
        said.append(ngettext("one operation is left", "%(n)s operations are left", left) % {"n": left})
    return ", ".join(said) + "." + (" " + _("Do not measure with it until it is back.") if due.over(today) else "")


def when_sentence(check: Check) -> str:
    """By when, and who moved it from which day; the triggers' own reason follows."""
    numbers, due = check.numbers, _day(check.due_on)
    if numbers.get("deferred_from") and check.deferred_until == check.due_on:
        words = _("Deferred to %(due)s (%(reason)s), was due %(before)s: ")
        return words % {"due": due, "reason": check.deferred_reason, "before": _day(numbers["deferred_from"])}
    if numbers.get("proposed_on"):
        words = _("Due %(due)s by the work-order system; our own date would be %(before)s: ")
        return words % {"due": due, "before": _day(numbers["proposed_on"])}
    return _("Due %(due)s: ") % {"due": due}


def _why(code: str, kind: str, numbers: dict[str, Any]) -> str:
    if code == FIRST_DAYS:
        return _("%(days)s after %(work)s on %(installed)s, once the machine has done its first running") % {
            "days": _days(numbers["first_days"]),
            "work": _occasion(numbers),
            "installed": _day(numbers["installed_on"]),
        }
    if code == FIRST_HOURS:
        return _("%(hours)s of first running since %(work)s on %(installed)s, at %(rate)s a day") % {
            "hours": _hours(numbers["first_hours"]),
            "work": _occasion(numbers),
            "installed": _day(numbers["installed_on"]),
            "rate": _hours(numbers["hours_per_day"]),
        }
    if code == POLICY:
        return _("policy, every %(interval)s, %(since)s") % {"interval": _interval(numbers), "since": _since(numbers)}
    if code == RUN_HOURS:
        return _("every %(hours)s of running, counted from %(date)s, at %(rate)s a day") % {
            "hours": _hours(numbers["every_hours"]),
            "date": _day(numbers["hours_from"]),
            "rate": _hours(numbers["run_hours_per_day"]),
        }
    if code == ELEMENT_AGE:
        words = _("the element was fitted on %(date)s and may stay in %(interval)s")
        return words % {"date": _day(numbers["element_on"]), "interval": _interval(numbers)}
    if code == ELEMENT_LIFE:
        words = _(
            "the chance that the element fails before then is %(risk)s, counted from %(date)s: %(n)s like it failed"
        )
        share = f"{numbers['life_risk'] * 100:g}{NBSP}%"
        return words % {"risk": share, "date": _day(numbers["life_from"]), "n": numbers["life_failures"]}
    if code == FINDING:
        return _follow_up(numbers)
    if code == DRIFT:
        return drift_why(numbers)
    if code == LOST:
        return _("fasteners had lost on %(date)s, so they are checked again after %(running)s") % {
            "date": _day(numbers["lost_on"]),
            "running": _lost_running(numbers),
        }
    raise ValueError(f"There are no words for the trigger {code}.")


def _runner_up(code: str, on: date, numbers: dict[str, Any]) -> str:
    if code == FIRST_DAYS:
        words = _("%(days)s after %(work)s would say %(date)s")
        return words % {"days": _days(numbers["first_days"]), "work": _occasion(numbers), "date": _day(on)}
    if code == FIRST_HOURS:
        words = _("%(hours)s of running, at %(rate)s a day, would say %(date)s")
        return words % {
            "hours": _hours(numbers["first_hours"]),
            "rate": _hours(numbers["hours_per_day"]),
            "date": _day(on),
        }
    if code == POLICY:
        words = _("policy, every %(interval)s, would say %(date)s")
        return words % {"interval": _interval(numbers), "date": _day(on)}
    if code == RUN_HOURS:
        words = _("every %(hours)s of running, at %(rate)s a day, would say %(date)s")
        return words % {
            "hours": _hours(numbers["every_hours"]),
            "rate": _hours(numbers["run_hours_per_day"]),
            "date": _day(on),
        }
    if code == DRIFT:
        return drift_runner_up(on, numbers)
    if code == LOST:
        words = _("fasteners that had lost on %(lost)s would say %(date)s")
        return words % {"lost": _day(numbers["lost_on"]), "date": _day(on)}
    if code == ELEMENT_AGE:
        return _("the element's age would say %(date)s") % {"date": _day(on)}
    if code == ELEMENT_LIFE:
        return _("the life of its kind would say %(date)s") % {"date": _day(on)}
    raise ValueError(f"There are no words for the trigger {code}.")


def _occasion(numbers: dict[str, Any]) -> str:
    """The work after which the machine's first running is waited for."""
    return {
        "": _("the installation"),
        "realigned": _("the re-alignment"),
        "foundation": _("work on the foundation"),
        "pipe": _("work on the pipes"),
    }[numbers.get("occasion", "")]


def _lost_running(numbers: dict[str, Any]) -> str:
    if "lost_hours" in numbers:
        words = _("%(hours)s of running, at %(rate)s a day")
        return words % {"hours": _hours(numbers["lost_hours"]), "rate": _hours(numbers["lost_hours_per_day"])}
    return _days(numbers["lost_days"])


def _follow_up(numbers: dict[str, Any]) -> str:
    found = "; ".join(
        _("%(what)s, found on %(date)s") % {"what": Flag.Kind(one["kind"]).label, "date": _day(one["on"])}
        for one in numbers["found"]
    )
    return _("to be looked at again within %(days)s: %(found)s") % {
        "days": _days(numbers["first_days"]),
        "found": found,
    }


def _since(numbers: dict[str, Any]) -> str:
    if "last_done_on" not in numbers:
        return _("fitted on %(date)s and never checked here since") % {"date": _day(numbers["fitted_on"])}
    done = _("last done on %(date)s") % {"date": _day(numbers["last_done_on"])}
    if numbers.get("skipped_until"):
        return done + _(" and the one due %(date)s cancelled") % {"date": _day(numbers["skipped_until"])}
    if numbers.get("counts_from") not in (None, numbers["last_done_on"]):
        return done + _(" and counted from the due date %(date)s") % {"date": _day(numbers["counts_from"])}
    return done


def _estimated(check: Check, numbers: dict[str, Any]) -> str:
    by_hours = {FIRST_HOURS, RUN_HOURS} & {check.winner, check.runner_up}
    if not numbers.get("hours_estimated") or not by_hours:
        return ""
    return " " + _("Hours estimated: the meter was last read on %(date)s.") % {"date": _day(numbers["last_reading_on"])}


def _interval(numbers: dict[str, Any]) -> str:
    months = numbers.get("every_months")
    if months:
        return ngettext("%(n)s\u00a0month", "%(n)s\u00a0months", months) % {"n": months}
    return _days(numbers["every_days"])


def _days(count: int) -> str:
    return ngettext("%(n)s\u00a0day", "%(n)s\u00a0days", count) % {"n": count}


def _hours(hours: float) -> str:
    return f"{hours:g}{NBSP}h"


def _day(on: date | str) -> str:
    return day(date.fromisoformat(on) if isinstance(on, str) else on, weekday=False)
