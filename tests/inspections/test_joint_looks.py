"""A joint that a wrench would spoil is looked at on a re-check: undisturbed, a line moved, found loose."""

import pytest

from couplings.models import SheetJoint
from inspections.models import JointLook
from inspections.selectors.summary import summary_of
from inspections.selectors.verification import verify
from inspections.selectors.visits import read_entry
from inspections.services.signing import sign_visit
from inspections.steps import STEPS
from plant.recording import recording
from tests.factories import NOW
from tests.inspections.visits import begin, save


@pytest.fixture
def recheck(fit, order, mechanic):
    """A torque visit to a coupling whose only joint has a locking patch."""
    SheetJoint.objects.filter(version=fit.sheet_version).update(
        feature="locking-patch", recheck="not-allowed", recheck_reason="thread-locking patch"
    )
    return begin(fit, order, mechanic, kind="torque")


def read(visit, by, **typed):
    save(visit, "fasteners", {f"joint0.{name}": text for name, text in typed.items()}, by)
    return read_entry(type(visit).objects.get(pk=visit.pk), "fasteners")


def test_only_a_look_is_asked_with_the_rule_that_forbids_more(recheck):
    rows = {row.name: row for row in STEPS["fasteners"].fields(recheck, {})}
    assert set(rows) == {"joint0.seen", "joint0.seen_at", "not_measured"}
    assert "must not be re-checked (thread-locking patch)" in rows["joint0.seen"].hint
    assert "fit a screw with a new patch" in rows["joint0.seen"].hint


@pytest.mark.parametrize(
    ("typed", "verdict", "said"),
    [
        ({"seen": "undisturbed"}, "in tolerance", "Undisturbed: every witness line meets."),
        ({"seen": "moved", "seen_at": "3"}, "too close to call", "A witness line has moved"),
        ({"seen": "loose", "seen_at": "3, 7"}, "out of tolerance", "Found loose: it holds nothing any more."),
    ],
)
def test_what_is_seen_is_a_finding(recheck, mechanic, typed, verdict, said):
    told = read(recheck, mechanic, **typed)
    (one,) = told.found
    assert (one.subject, one.verdict) == ("hub bolts", verdict)
    assert said in one.sentence
    assert bool(told.warnings) == (verdict != "in tolerance")
    assert all("must not be re-checked" in warning for warning in told.warnings)


@pytest.mark.parametrize(
    ("typed", "where", "said"),
    [
        ({"seen": "fine"}, "errors", "is not a choice here"),
        ({"seen": "loose"}, "missing", "say at which positions"),
        ({"seen": "loose", "seen_at": "9"}, "errors", "from 1 to 8"),
        ({"seen_at": "3"}, "missing", "say what is seen"),
        ({"seen": "undisturbed", "seen_at": "3"}, "errors", "leave this empty"),
        ({"how": "read"}, "errors", "must not be re-checked"),
        ({"position3": "45"}, "errors", "must not be re-checked"),
    ],
)
def test_what_cannot_be_taken_is_told(recheck, mechanic, typed, where, said):
    assert any(said in sentence for sentence in getattr(read(recheck, mechanic, **typed), where).values())


def test_a_look_is_signed_and_nobody_has_to_wait_for_one(recheck, mechanic):
    assert not any(one.step == "fasteners" for one in summary_of(recheck).missing)
    save(recheck, "fasteners", {"joint0.seen": "loose", "joint0.seen_at": "3"}, mechanic)
    with recording(by=mechanic, at=NOW):
        record = sign_visit(visit=recheck)
    row = JointLook.objects.get(record=record)
    assert (row.joint, row.seen, row.positions, row.verdict) == ("hub bolts", "loose", [3], "out of tolerance")
    assert row.rule.startswith("The data sheet says this joint must not be re-checked")
    assert verify().findings == []
