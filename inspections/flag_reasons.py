"""Why somebody must deal with a coupling, in one sentence with its numbers, made from a flag's evidence."""

from collections.abc import Callable
from datetime import date
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from couplings.models import Element
from inspections.drift_words import jump_sentence
from inspections.models import CheckKind, Flag, JumpCause, RunningLook
from plant.words import chance
from plant.words import day as _written

NBSP = "\u00a0"


def flag_sentence(flag: Flag, system: str = "metric") -> str:
    """What somebody must deal with, since when, and the number behind it."""
    words = WORDS.get(flag.kind)
    # A flag that was opened without evidence has no more to say than its kind.
    return words(flag.evidence) if words is not None and flag.evidence else _bare(flag)


def _bare(flag: Flag) -> str:
    label = flag.get_kind_display()
    return label[:1].upper() + label[1:] + "."


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


def _accelerating(evidence: dict[str, Any]) -> str:
    words = _("%(title)s grew by %(earlier)s in a year until %(since)s and by %(later)s since, measured on %(on)s")
    found = "; ".join(
        words
        % {
            "title": one["title"],
            "earlier": _figure(one["earlier"], one["kind"]),
            "later": _figure(one["later"], one["kind"]),
            "since": _day(one["since"]),
            "on": _day(one["on"]),
        }
        for one in evidence["found"]
    )
    return _("Wear accelerates beyond its uncertainty: %(found)s. Look for the cause, and look again soon.") % {
        "found": found
    }


def _figure(value: float, kind: str) -> str:
    """A growth in the unit in which the figure is kept."""
    if kind == "share":
        return f"{value * 100:.2g}{NBSP}%"
    return f"{value:.2g}{NBSP}{'°' if kind == 'angle' else 'mm'}"


def _left_so(evidence: dict[str, Any]) -> str:
    return _("Signed with a reason on %(date)s: %(reason)s") % {
        "date": _day(evidence["on"]),
        "reason": evidence["left_so_reason"],
    }


def _loose(evidence: dict[str, Any]) -> str:
    return _("Loose: %(joints)s.") % {"joints": _joints(evidence)}


def _lost_twice(evidence: dict[str, Any]) -> str:
    words = _("Loose again: %(joints)s; it was so on %(before)s too. Find out why before it is tightened anew.")
    return words % {"joints": _joints(evidence), "before": _day(evidence["before"])}


def _joints(evidence: dict[str, Any]) -> str:
    return "; ".join(
        _("%(joint)s (%(said)s)") % one if one["said"] else one["joint"] for one in evidence["joints"]
    ) + _(", found on %(date)s") % {"date": _day(evidence["on"])}


def _element_age(evidence: dict[str, Any]) -> str:
    words = _("The element %(part)s, fitted on %(fitted)s, was to be replaced by %(due)s.")
    return words % {
        "part": evidence["part_number"],
        "fitted": _day(evidence["element_on"]),
        "due": _day(evidence["due_on"]),
    }


def _readings(evidence: dict[str, Any]) -> str:
    words = _("Readings of %(date)s are in doubt: %(said)s. Measure again.")
    return words % {"date": _day(evidence["on"]), "said": "; ".join(evidence["warnings"])}


def _instrument(evidence: dict[str, Any]) -> str:
    words = _("Measured on %(date)s with instruments out of calibration: %(names)s.")
    return words % {"date": _day(evidence["on"]), "names": ", ".join(evidence["instruments"])}


def _hours_estimated(evidence: dict[str, Any]) -> str:
    if not evidence.get("last_reading_on"):
        return _("A policy here goes by run hours and the meter was never read. Read it.")
    words = _("The hour meter was last read on %(date)s, so that dates by run hours are estimates. Read it.")
    return words % {"date": _day(evidence["last_reading_on"])}


def _no_survey(evidence: dict[str, Any]) -> str:
    words = _("Installed on %(date)s and its alignment was not measured then or since.")
    return words % {"date": _day(evidence["installed_on"])}


def _odd_look(evidence: dict[str, Any]) -> str:
    seen = [LOOKS[name](code).label for name, code in evidence["seen"].items()]
    found = "; ".join([*seen, evidence["odd"]] if evidence["odd"] else seen)
    sentence = _("Odd at the running check of %(date)s: %(found)s.") % {"date": _day(evidence["on"]), "found": found}
    if evidence["stop_for"]:
        sentence += " " + _("It asks for a stop: %(why)s.") % {"why": evidence["stop_for"]}
    return sentence


def _breakdown(evidence: dict[str, Any]) -> str:
    sentence = _("Broke down on %(date)s: %(noticed)s.") % {
        "date": _day(evidence["on"]),
        "noticed": evidence["noticed"].rstrip("."),
    }
    if evidence["hours_down"] is not None:
        sentence += " " + _("Down for %(hours)s.") % {"hours": f"{evidence['hours_down']:g}{NBSP}h"}
    part = evidence["part"] or _("the broken part")
    if evidence["went"]:
        went = ", ".join(word for word in (Element.Went(evidence["went"]).label, evidence["went_to"]) if word)
        sentence += " " + _("The evidence: %(part)s, %(went)s.") % {"part": part, "went": went}
    if evidence["cause"]:
        return sentence + " " + _("Its cause as written down: %(cause)s.") % {"cause": evidence["cause"]}
    return sentence + " " + _("Its cause is not known yet: find out why before the part is gone.")


def _run_up(evidence: dict[str, Any]) -> str:
    words = _("The run-up after the work of %(date)s was not accepted by %(by)s: %(remarks)s")
    return words % {"date": _day(evidence["on"]), "by": evidence["by"], "remarks": evidence["remarks"]}


def _jump(evidence: dict[str, Any]) -> str:
    said = " ".join(jump_sentence(one) for one in evidence["jumps"])
    asked = _("What was it: %(causes)s?") % {"causes": ", ".join(str(label) for label in JumpCause.labels)}
    return f"{said} {asked}"


def _fast(evidence: dict[str, Any]) -> str:
    words = ngettext(
        "It uses up %(share)s of the tolerance in a year, by %(n)s leg up to %(date)s.",
        "It uses up %(share)s of the tolerance in a year, by %(n)s legs up to %(date)s.",
        evidence["legs"],
    )
    share = f"{evidence['share'] * 100:.0f}{NBSP}%"
    return words % {"share": share, "n": evidence["legs"], "date": _day(evidence["on"])}


def _forecast_out(evidence: dict[str, Any]) -> str:
    if evidence["by"] == "stop":
        words = _("By the next planned stop on %(date)s %(chance)s that it is out of tolerance; %(risk)s is accepted.")
    else:
        words = _("By its next check on %(date)s %(chance)s that it is out of tolerance; %(risk)s is accepted.")
    sentence = words % {
        "date": _day(evidence["on"]),
        "chance": chance(evidence["chance"]),
        "risk": chance(evidence["risk"]),
    }
    if evidence.get("straight_on"):
        line = _("A straight line reaches 70\u00a0%% of the tolerance on %(date)s.")
        sentence += " " + line % {"date": _day(evidence["straight_on"])}
    return sentence


def _day(on: date | str) -> str:
    return _written(date.fromisoformat(on) if isinstance(on, str) else on, weekday=False)


LOOKS: dict[str, Any] = {
    "strobe": RunningLook.Strobe,
    "noise": RunningLook.Noise,
    "below": RunningLook.Below,
    "leak": RunningLook.Leak,
}
WORDS: dict[str, Callable[[dict[str, Any]], str]] = {
    Flag.Kind.OVERDUE: _overdue,
    Flag.Kind.OUT: _out,
    Flag.Kind.WORN: _worn,
    Flag.Kind.DO_NOT_RUN: _do_not_run,
    Flag.Kind.ACCELERATING: _accelerating,
    Flag.Kind.LEFT_SO: _left_so,
    Flag.Kind.LOOSE: _loose,
    Flag.Kind.LOST_TWICE: _lost_twice,
    Flag.Kind.ELEMENT_AGE: _element_age,
    Flag.Kind.READINGS: _readings,
    Flag.Kind.INSTRUMENT: _instrument,
    Flag.Kind.HOURS: _hours_estimated,
    Flag.Kind.NO_SURVEY: _no_survey,
    Flag.Kind.ODD_LOOK: _odd_look,
    Flag.Kind.BREAKDOWN: _breakdown,
    Flag.Kind.RUN_UP: _run_up,
    Flag.Kind.JUMP: _jump,
    Flag.Kind.FAST: _fast,
    Flag.Kind.FORECAST_OUT: _forecast_out,
}
