"""Bad input: each is told beside its field, stays as it was typed, and becomes no measurement, result or record.

Replays under a key and stale ETags are tried where those live, in tests of the API and of recording().
"""

from datetime import timedelta

import pytest

from couplings.models import Element
from inspections.models import (
    ElementFact,
    Entry,
    Placement,
    Reading,
    ReadingSet,
    SetScrew,
    SignedRecord,
    Survey,
    SurveyResult,
    Torque,
    Visit,
)
from inspections.services.drafts import save_entry
from inspections.services.signing import sign_visit
from plant.recording import recording
from plant.refusals import Missing, Refused, Stale
from tests.factories import NOW, InstrumentFactory, WorkOrderFactory
from tests.inspections.visits import ELEMENT, IN_LINE, PLACEMENT, PRINTED, begin, fasteners, fill_installation, save

STORED = (Survey, ReadingSet, Reading, SurveyResult, Placement, SetScrew, Torque, ElementFact, SignedRecord, Element)
DIRECT = {
    "method": "direct", "stationary": "driven", "viewed_from": "movable",
    "offset_v": "0.01", "offset_h": "0.01", "slope_v": "0.02", "slope_h": "0.02",
}  # fmt: skip
STRAIGHTEDGE = {
    "method": "straightedge", "stationary": "driven", "viewed_from": "movable",
    "set0.12": "0.1", "set0.6": "-0.1", "set0.3": "0", "set0.9": "0",
    "set1.12": "4", "set1.6": "4", "set1.3": "4", "set1.9": "4", "set1.swing_radius": "80",
}  # fmt: skip
RIM_FACE = {
    "method": "rim-and-face", "stationary": "driven", "viewed_from": "movable",
    "set0.x": "50", "set0.12": "0", "set0.3": "0", "set0.6": "0", "set0.9": "0",
    "set1.swing_radius": "90", "set1.12": "0", "set1.3": "0", "set1.6": "0", "set1.9": "0",
}  # fmt: skip
TORQUED = {"joint0.how": "set", "joint0.torque": "45", "joint0.instrument": "T-1"}
SCREWS = {"driver_count": "2", "driven_count": "2", "driver_torque": "12", "driver_instrument": "T-1"}


def nothing_is_stored():
    return [model.__name__ for model in STORED if model.objects.exists()] == []


@pytest.fixture
def others(site, other_site):
    """Instruments a slip of the hand could name: of another site, of another kind, a wrench that reads."""
    InstrumentFactory(site=other_site, serial="F-9")
    InstrumentFactory(site=site, serial="D-1", kind="dial")
    InstrumentFactory(site=site, serial="R-1", kind="torque-read", name="Dial wrench")


# step, what was typed there, the field that is refused, what is said beside it
REFUSED = [
    pytest.param("placement", {"dbse": "nan"}, "dbse", "“nan” is not a number", id="NaN"),
    pytest.param("placement", {"dbse": "inf"}, "dbse", "“inf” is not a number", id="infinity"),
    pytest.param("placement", {"dbse": "1e400 mm"}, "dbse", "The value is infinite", id="a number beyond all"),
    pytest.param("placement", {"dbse": "140 N*m"}, "dbse", "N*m is a unit of torque", id="a torque for a length"),
    pytest.param("placement", {"dbse": "140 parsec"}, "dbse", "“parsec” is not known", id="an unknown unit"),
    pytest.param("placement", {"dbse": "-3"}, "dbse", "cannot be meant", id="a gap below nothing"),
    pytest.param("placement", {"dbse": "1,402"}, "dbse", "without thousands separators", id="comma or thousands"),
    pytest.param("placement", {"dbse": "about 140"}, "dbse", "is not a number", id="words for a number"),
    pytest.param("placement", {"driver_engagement": "81"}, "driver_engagement", "over 100 % cannot be", id="101 %"),
    pytest.param("placement", {"driven_engagement": "9 inch"}, "driven_engagement", "286% of the bore", id="in inches"),
    pytest.param("set-screws", {"driver_torque": "12 J"}, "driver_torque", "a torque is not an energy", id="joules"),
    pytest.param(
        "set-screws", {"driver_count": "2.5"}, "driver_count", "A whole number from 0 to 16", id="half a screw"
    ),
    pytest.param("set-screws", {"driven_count": "99"}, "driven_count", "A whole number from 0 to 16", id="99 screws"),
    pytest.param(
        "set-screws",
        {"driver_instrument": "D-1"},
        "driver_instrument",
        "this needs a click torque wrench or",
        id="dial",
    ),
    pytest.param("fasteners", {"joint0.torque": "45 kWh"}, "joint0.torque", "a unit of energy", id="kilowatt-hours"),
    pytest.param("fasteners", {"joint0.torque": "45 degC"}, "joint0.torque", "a unit of temperature", id="warm bolts"),
    pytest.param("fasteners", {"joint0.how": "guessed"}, "joint0.how", "Choose one of: set, read", id="a guess"),
    pytest.param(
        "fasteners", {"joint0.how": "read"}, "joint0.torque", "belongs to a position", id="one reading for a pattern"
    ),
    pytest.param(
        "fasteners",
        {"joint0.how": "read", "joint0.torque": "", "joint0.position1": "44"},
        "joint0.instrument",
        "this needs a dial or electronic torque wrench",
        id="a click wrench that reads",
    ),
    pytest.param(
        "fasteners", {"joint0.instrument": "X-77"}, "joint0.instrument", "No instrument “X-77”", id="unknown wrench"
    ),
    pytest.param("element", {"act": "mended"}, "act", "Choose one of: fitted, kept", id="a third way"),
    pytest.param("element", {"act": "kept"}, "act", "so none can be kept", id="nothing there to keep"),
    pytest.param("element", {"cured_on": "2026-10-14"}, "cured_on", "lies in the future", id="cured tomorrow"),
    pytest.param("element", {"cured_on": "1.3.2026"}, "cured_on", "write it as 2026-10-12", id="a date of one's own"),
    pytest.param("element", {"cured_on": "1026-03-01"}, "cured_on", "mend the year", id="a date of the Normans"),
    pytest.param(
        "element", {"removal_reason": "cracked"}, "removal_reason", "so none can have come off", id="no old one"
    ),
    pytest.param("element", {"part_number": "E" * 61}, "part_number", "At most 60 characters; this is 61", id="long"),
    pytest.param("as-left", {"method": "laser beam"}, "method", "is not a choice here", id="unknown method"),
    pytest.param("as-left", {"stationary": "both"}, "stationary", "Choose one of: driver, driven", id="nobody moved"),
    pytest.param("as-left", {"viewed_from": "above"}, "viewed_from", "Choose one of: movable, stationary", id="above"),
    pytest.param("as-left", {"taken_at": "2026-10-12 23:00"}, "taken_at", "lies in the future", id="tonight"),
    pytest.param("as-left", {"taken_at": "half past"}, "taken_at", "is not a time: write 08:20", id="half past"),
    pytest.param("as-left", {"driver_support": "-300"}, "driver_support", "below absolute zero", id="colder than cold"),
    pytest.param("as-left", {"driven_support": "900"}, "driven_support", "cannot be meant", id="melting feet"),
    pytest.param("as-left", {"stopped": "-2"}, "stopped", "cannot be meant", id="stopped in the future"),
    pytest.param("as-left", {"set0.6": "30"}, "set0.6", "more than a dial's travel", id="beyond the dial's travel"),
    pytest.param("as-left", {"set0.6": "0.30 deg"}, "set0.6", "deg is a unit of angle", id="a reading in degrees"),
    pytest.param("as-left", {"set1.x": "75"}, "set1.x", "One plane is read twice", id="one plane twice"),
    pytest.param("as-left", {"set0.instrument": "F-9"}, "set0.instrument", "No instrument “F-9”", id="a foreign dial"),
    pytest.param("as-left", {"set0.instrument": "T-1"}, "set0.instrument", "is a click torque wrench", id="a wrench"),
    pytest.param("as-left", {"set0.u": "0"}, "set0.u", "greater than zero", id="perfect readings"),
    pytest.param(
        "as-left",
        {"feet0.name": "in", "feet0.x": "250", "feet1.name": "out", "feet1.x": "250"},
        "feet1.x",
        "Another foot plane",
        id="feet in one place",
    ),
    pytest.param(
        "as-left", DIRECT | {"slope_v": "2 mil"}, "slope_v", "a length and never an angle", id="mil for angle"
    ),
    pytest.param(
        "as-left", DIRECT | {"offset_v": "0.05 mm/m"}, "offset_v", "is a unit of slope", id="slope for offset"
    ),
    pytest.param("as-left", STRAIGHTEDGE | {"set0.sag": "-0.04"}, "set0.sag", "no bracket that could sag", id="sag"),
    pytest.param(
        "as-left", RIM_FACE | {"set1.swing_radius": "0"}, "set1.swing_radius", "greater than zero", id="no radius"
    ),
    pytest.param("as-left", {"same_as": "last year"}, "same_as", "is no survey of this visit", id="last year's"),
    pytest.param("as-left", {"same_as": "as-found"}, "same_as", "There are readings here too", id="two as-lefts"),
    pytest.param(
        "as-left", {"not_measured": "rain"}, "not_measured", "There are readings here", id="a needless excuse"
    ),
]


@pytest.mark.usefixtures("others")
@pytest.mark.parametrize("step, fields, name, message", REFUSED)
def test_what_cannot_be_meant_is_told_beside_its_field_and_stored_nowhere(
    visit, mechanic, wrench, step, fields, name, message
):
    fill_installation(visit, mechanic, wrench)
    save(visit, "set-screws", SCREWS, mechanic)
    seen = Entry.objects.get(step=step).version

    entry = save(visit, step, fields, mechanic, seen=seen)

    assert message in entry.errors[name]
    assert entry.typed[name] == fields.get(name, entry.typed[name]), "what was typed is still there"
    with recording(by=mechanic, at=NOW), pytest.raises(Refused) as refused:
        sign_visit(visit=visit)
    assert message in refused.value.as_dict()[f"{step}.{name}"]
    assert nothing_is_stored()
    visit.refresh_from_db()
    assert visit.state == Visit.State.DRAFT


# what is missing or does not hold together, told when it is to be signed
WANTING = [
    pytest.param({"set1.12": "", "set1.3": "", "set1.6": "", "set1.9": ""}, "set1.12", "missing", id="a dial missing"),
    pytest.param({"set0.3": "", "set0.6": "", "set0.9": ""}, "set0.12", "One position alone", id="one position"),
    pytest.param({"set0.x": ""}, "set0.x", "where along the shaft", id="no plane"),
    pytest.param({"method": ""}, "method", "by which method", id="no method"),
    pytest.param({"stationary": ""}, "stationary", "which machine stood still", id="nobody stood still"),
    pytest.param({"viewed_from": ""}, "viewed_from", "from which machine", id="seen from nowhere"),
    pytest.param({"set0.6": "", "set0.9": "", "set1.6": "", "set1.9": ""}, "set0.12", "read a third", id="a quarter"),
    pytest.param({"same_as": "round:3"} | dict.fromkeys(IN_LINE, ""), "same_as", "is not complete", id="no round 3"),
]


@pytest.mark.parametrize("fields, name, message", WANTING)
def test_what_is_missing_keeps_the_visit_from_being_signed(visit, mechanic, wrench, fields, name, message):
    fill_installation(visit, mechanic, wrench)
    save(visit, "as-left", fields, mechanic, seen=1)

    with recording(by=mechanic, at=NOW), pytest.raises(Refused) as refused:
        sign_visit(visit=visit)

    assert message in refused.value.as_dict()[f"as-left.{name}"]
    assert nothing_is_stored()


def test_a_survey_taken_after_loosening_is_not_as_found(fit, order, mechanic):
    visit = begin(fit, order, mechanic, kind="periodic")

    entry = save(visit, "as-found", PRINTED | {"loosened_at": "08:00"}, mechanic)

    assert "taken after something was loosened, so they are not as-found" in entry.errors["taken_at"]
    with recording(by=mechanic, at=NOW), pytest.raises(Refused):
        sign_visit(visit=visit)
    assert nothing_is_stored()


def test_readings_that_do_not_close_get_no_verdict_and_are_not_left_without_a_word(visit, mechanic, wrench):
    # 0.00 + -0.04 - -0.02 - -0.32 = 0.30 mm: beyond the site's 0.05 and three deviations of 0.02.
    fill_installation(visit, mechanic, wrench, left=IN_LINE | {"set0.9": "-0.32"})

    with recording(by=mechanic, at=NOW), pytest.raises(Refused) as refused:
        sign_visit(visit=visit)

    assert "do not close" in refused.value.as_dict()["left_so_reason"]
    assert nothing_is_stored()


def test_readings_taken_after_the_isolation_was_removed_are_refused(visit, order, mechanic):
    order.removed_at = NOW - timedelta(hours=2)
    order.save()

    entry = save(visit, "as-left", IN_LINE | {"taken_at": "10:00"}, mechanic)

    assert "Taken after the isolation was removed" in entry.errors["taken_at"]


def test_a_joint_that_must_not_be_re_checked_is_left_alone(fit, order, mechanic, wrench):
    fit.sheet_version.joints.create(
        name="clamp screws", positions=4, torque_nm=20, recheck="not-allowed", recheck_reason="thread-locking patch"
    )
    visit = begin(fit, order, mechanic, kind="torque")

    entry = save(visit, "fasteners", TORQUED | {"joint1.how": "set"}, mechanic)

    # Joints stand in the order of their names: clamp screws, hub bolts.
    assert entry.errors["joint0.how"] == (
        "clamp screws: The data sheet says this joint must not be re-checked (thread-locking patch): leave it empty."
    )
    assert nothing_is_stored()


def test_an_element_is_not_fitted_before_it_was_cured(fit, order, mechanic, wrench):
    visit = begin(fit, order, mechanic, on=fit.fitted_on)

    entry = save(visit, "element", ELEMENT | {"cured_on": "2026-10-05"}, mechanic)

    assert "after the day it was fitted (2026-10-01)" in entry.errors["cured_on"]
    assert nothing_is_stored()


@pytest.mark.parametrize(
    "given, field, message",
    [
        (
            {"step": "grease"},
            "step",
            "There is no step “grease”. The steps are: isolation, running-look, stated, breakdown, conditions, "
            "as-found, cleaning",
        ),
        ({"step": "isolation"}, "step", "Isolation is confirmed on the work order"),
        ({"step": "alignment"}, "number", "Rounds count from 1 to 30"),
        ({"step": "alignment", "number": 31}, "number", "Rounds count from 1 to 30"),
        ({"number": 2}, "number", "has one entry only: leave the number out"),
        ({"fields": {"colour": "red"}}, "fields.colour", "Placement of the hubs has no field of this name"),
        ({"fields": {"dbse": 140.2}}, "fields.dbse", "Send what was typed, as text"),
        ({"fields": {"dbse": None}}, "fields.dbse", "Send what was typed, as text"),
        ({"fields": {"dbse": "1" * 1001}}, "fields.dbse", "At most 1000 characters"),
        ({"fields": {"dbse": "140\x00"}}, "fields.dbse", "characters that are not text"),
        ({"fields": {"dbse": "140\ud800"}}, "fields.dbse", "characters that are not text"),
        ({"step": "alignment", "number": 1, "fields": {"set9.12": "0"}}, "fields.set9.12", "no field of this name"),
        (
            {"step": "alignment", "number": 1, "fields": {"limit_offset": "9"}},
            "fields.limit_offset",
            "no field of this",
        ),
        (
            {"step": "fasteners", "fields": {"joint0.position9": "45"}},
            "fields.joint0.position9",
            "no field of this name",
        ),
    ],
)
def test_what_no_step_has_is_not_even_kept(visit, mechanic, given, field, message):
    call = {"visit": visit, "step": "placement", "number": 0, "fields": {}, "seen": None} | given
    with recording(by=mechanic, at=NOW), pytest.raises(Refused) as refused:
        save_entry(**call)
    assert message in refused.value.as_dict()[field]
    assert not Entry.objects.exists()


def test_a_step_the_data_sheet_has_nothing_for_is_refused(visit, mechanic):
    visit.sheet_version.set_screw_count = 0
    visit.sheet_version.save()
    with pytest.raises(Refused, match="Set screws: The data sheet has nothing to enter here"):
        save(visit, "set-screws", SCREWS, mechanic)


def test_an_unverified_isolation_keeps_everything_out(fit, mechanic):
    order = WorkOrderFactory(train=fit.coupling.train, permit="P-1", isolated_at=NOW)
    visit = begin(fit, order, mechanic)
    with pytest.raises(Refused, match="is not verified yet"):
        save(visit, "as-left", IN_LINE, mechanic)
    with recording(by=mechanic, at=NOW), pytest.raises(Refused) as refused:
        sign_visit(visit=visit)
    assert "is not verified yet" in refused.value.as_dict()["isolation"]
    assert not Entry.objects.exists()
    assert nothing_is_stored()


def test_a_stale_version_of_an_entry_opens_the_comparison(visit, mechanic, engineer):
    save(visit, "placement", PLACEMENT, mechanic)
    with pytest.raises(Stale) as stale:
        save(visit, "placement", {"dbse": "141"}, engineer, seen=0)
    assert stale.value.current["dbse"]["theirs"] == "140.2"
    assert nothing_is_stored()


def test_another_sites_visit_is_not_there(visit, stranger, wrench):
    with pytest.raises(Missing):
        save(visit, "fasteners", fasteners(wrench), stranger)
    with recording(by=stranger, at=NOW), pytest.raises(Missing):
        sign_visit(visit=visit)
    assert nothing_is_stored()


def test_a_figure_no_column_takes_is_refused_before_anything_is_written(visit, mechanic, wrench):
    # A swing radius of half a millimetre is a number, and no machine.
    face = RIM_FACE | {"set1.swing_radius": "0.5"}
    fill_installation(visit, mechanic, wrench, left=face)
    with recording(by=mechanic, at=NOW), pytest.raises(Refused, match="only 1 to 10000 can be meant"):
        sign_visit(visit=visit, left_so_reason="the hub is that small")
    assert nothing_is_stored()
