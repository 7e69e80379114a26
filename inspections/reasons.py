"""Why a date or a flag is what it is, in one sentence with its numbers, for whoever reads it.

The rows store codes and numbers; sentences are made here, so that they follow the reader's language.
"""

from datetime import date
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from inspections.forecasting.duedates import FIRST_DAYS, FIRST_HOURS, POLICY
from inspections.models import Check, CheckKind, Flag
from plant.words import chance, day

NBSP = "\u00a0"


def check_sentence(check: Check, system: str = "metric") -> str:
    """What, by when; because of which number; what else would have said what.

    Nothing in it has a unit that differs between systems: days, months and run hours are the same everywhere.
    """
    numbers = check.numbers
    words = {"due": _day(check.due_on), "why": _why(check.winner, check.kind, numbers)}
    sentence = _("Due %(due)s: %(why)s") % words
    if check.runner_up and check.runner_up_on is not None:
        sentence += "; " + _runner_up(check.runner_up, check.runner_up_on, numbers)
    elif check.winner == FIRST_DAYS and "first_hours" in numbers and "hours_per_day" not in numbers:
        sentence += "; " + _("its %(hours)s of running cannot be dated without meter readings") % {
            "hours": _hours(numbers["first_hours"])
        }
    return sentence + "." + _estimated(check, numbers)


def flag_sentence(flag: Flag, system: str = "metric") -> str:
    """What somebody must deal with, since when, and the number behind it."""
    evidence = flag.evidence
    if flag.kind == Flag.Kind.OVERDUE:
        return _overdue(evidence)
    if flag.kind == Flag.Kind.OUT:
        return _out(evidence)
    if flag.kind == Flag.Kind.WORN:
        return _worn(evidence)
    if flag.kind == Flag.Kind.DO_NOT_RUN:
        return _do_not_run(evidence)
    return flag.get_kind_display()


def _why(code: str, kind: str, numbers: dict[str, Any]) -> str:
    if code == FIRST_DAYS:
        return _("%(days)s after the installation on %(installed)s, once the machine has done its first running") % {
            "days": _days(numbers["first_days"]),
            "installed": _day(numbers["installed_on"]),
        }
    if code == FIRST_HOURS:
        return _("%(hours)s of first running since the installation on %(installed)s, at %(rate)s a day") % {
            "hours": _hours(numbers["first_hours"]),
            "installed": _day(numbers["installed_on"]),
            "rate": _hours(numbers["hours_per_day"]),
        }
    if code == POLICY:
        return _("policy, every %(interval)s, %(since)s") % {"interval": _interval(numbers), "since": _since(numbers)}
    raise ValueError(f"There are no words for the trigger {code}.")


def _runner_up(code: str, on: date, numbers: dict[str, Any]) -> str:
    if code == FIRST_DAYS:
        words = _("%(days)s after the installation would say %(date)s")
        return words % {"days": _days(numbers["first_days"]), "date": _day(on)}
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
    raise ValueError(f"There are no words for the trigger {code}.")


def _since(numbers: dict[str, Any]) -> str:
    if "last_done_on" not in numbers:
        return _("fitted on %(date)s and never checked here since") % {"date": _day(numbers["fitted_on"])}
    done = _("last done on %(date)s") % {"date": _day(numbers["last_done_on"])}
    if numbers.get("counts_from") not in (None, numbers["last_done_on"]):
        return done + _(" and counted from the due date %(date)s") % {"date": _day(numbers["counts_from"])}
    return done


def _estimated(check: Check, numbers: dict[str, Any]) -> str:
    if not numbers.get("hours_estimated") or FIRST_HOURS not in (check.winner, check.runner_up):
        return ""
    return " " + _("Hours estimated: the meter was last read on %(date)s.") % {"date": _day(numbers["last_reading_on"])}


def _overdue(evidence: dict[str, Any]) -> str:
    late = [
        _("%(kind)s was due on %(date)s") % {"kind": CheckKind(one["kind"]).label, "date": _day(one["due_on"])}
        for one in evidence.get("checks", [])
    ]
    return _("Overdue: %(checks)s.") % {"checks": "; ".join(late)} if late else _("Overdue.")


def _out(evidence: dict[str, Any]) -> str:
    if "on" not in evidence:
        return _("Out of tolerance.")
    left = evidence.get("role") != "as-found"
    words = _("Left out of tolerance on %(date)s") if left else _("Found out of tolerance on %(date)s")
    sentence = words % {"date": _day(evidence["on"])}
    used = evidence.get("tolerance_used")
    if used is not None:
        sentence += _(": %(share)s of the limit") % {"share": f"{used * 100:.0f}{NBSP}%"}
    if evidence.get("probability") is not None:
        sentence += _("; %(chance)s that it is in tolerance") % {"chance": chance(evidence["probability"])}
    sentence += "."
    if evidence.get("left_so_reason"):
        sentence += " " + _("Left so: %(reason)s") % {"reason": evidence["left_so_reason"]}
    return sentence


def _worn(evidence: dict[str, Any]) -> str:
    return _("Worn out: %(found)s. Plan the replacement now.") % {"found": _found(evidence)}


def _do_not_run(evidence: dict[str, Any]) -> str:
    words = _(
        "Do not run: %(found)s. Who may decide otherwise, and how the machine is made safe, follows the "
        "site's procedure."
    )
    return words % {"found": _found(evidence)}


def _found(evidence: dict[str, Any]) -> str:
    """What was found, each with its grade, its words and the day."""
    return "; ".join(
        _("%(title)s, grade %(grade)s (%(words)s), found on %(date)s")
        % {"title": one["title"], "grade": one["grade"], "words": one["words"], "date": _day(one["on"])}
        for one in evidence.get("found", [])
    )


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
