"""Bad input of the steps round the measuring and of the other kinds of visits: a sentence beside its field, nothing
stored. With the table of `test_bad_input` these are the counted bad inputs of a visit."""

import pytest

from inspections.models import Entry, SignedRecord, Visit
from inspections.services.drafts import begin_visit
from inspections.services.signing import sign_visit
from plant.recording import recording
from plant.refusals import Refused
from tests.factories import NOW, TODAY, InstrumentFactory, WorkOrderFactory
from tests.inspections.test_bad_input import REFUSED, WANTING
from tests.inspections.visits import begin, save

pytestmark = pytest.mark.django_db
AT_LEAST = 60
BACKWARDS = {"proved": "known", "solo_from": "2026-10-12 08:00", "solo_until": "2026-10-12 07:00"}

# kind of visit, step, what was typed there, the field that is refused, what is said beside it
BAD = [
    ("running", "running-look", {"noise": "loud"}, "noise", "“loud” is not a choice here"),
    ("running", "running-look", {"temperature": "900"}, "temperature", "cannot be meant"),
    ("running", "running-look", {"temperature": "hot"}, "temperature", "is not a number"),
    ("running", "running-look", {"ambient": "20 rpm"}, "ambient", "rpm is a unit of"),
    ("running", "running-look", {"odd": "x" * 301}, "odd", "At most 300 characters; this is 301"),
    ("running", "running-look", {"noise": "usual", "not_measured": "x"}, "not_measured", "Something is entered here"),
    ("breakdown", "breakdown", {"noticed": "x" * 501}, "noticed", "At most 500 characters; this is 501"),
    ("breakdown", "breakdown", {"noticed": "bang", "photos": "some"}, "photos", "is not a choice here"),
    ("breakdown", "breakdown", {"noticed": "bang", "went": "river"}, "went", "Choose one of: stores"),
    ("breakdown", "breakdown", {"noticed": "bang", "failed_at": "2031-01-01 02:00"}, "failed_at", "in the future"),
    ("breakdown", "breakdown", {"noticed": "bang", "failed_at": "at night"}, "failed_at", "is not a time"),
    ("breakdown", "breakdown", {"noticed": "bang", "hours_down": "-1"}, "hours_down", "cannot be meant"),
    ("breakdown", "breakdown", {"noticed": "bang", "hours_down": "6 mm"}, "hours_down", "mm is a unit of length"),
    ("legacy", "stated", {"source": "card", "offset": "4 N*m"}, "offset", "is a unit of torque"),
    ("legacy", "stated", {"source": "card", "slope": "nan"}, "slope", "“nan” is not a number"),
    ("legacy", "stated", {"source": "card", "gap": "inf"}, "gap", "“inf” is not a number"),
    ("legacy", "stated", {"source": "x" * 201}, "source", "At most 200 characters; this is 201"),
    ("periodic", "conditions", {"stopped": "-2"}, "stopped", "cannot be meant"),
    ("periodic", "conditions", {"driver_vibration": "2 mm"}, "driver_vibration", "mm is a unit of length"),
    ("periodic", "conditions", {"current": "-5"}, "current", "cannot be meant"),
    ("periodic", "conditions", {"ambient": "-300"}, "ambient", "below absolute zero"),
    ("periodic", "cleaning", {"driver.state": "shiny"}, "driver.state", "is not a choice here"),
    ("periodic", "cleaning", {"driver.agent": "x" * 81}, "driver.agent", "At most 80 characters; this is 81"),
    ("periodic", "hold-down", {"driver.torque": "0"}, "driver.torque", "cannot be meant"),
    ("periodic", "hold-down", {"driver.torque": "120 kWh"}, "driver.torque", "a unit of energy"),
    ("periodic", "hold-down", {"driver.torque": "120", "driver.how": "felt"}, "driver.how", "is not a choice here"),
    ("periodic", "hold-down", {"driver.instrument": "D-1"}, "driver.instrument", "this needs a"),
    ("periodic", "rotation", {"proved": "uncoupled", "right": "maybe"}, "right", "is not a choice here"),
    ("periodic", "rotation", BACKWARDS, "solo_until", "before it began"),
    ("periodic", "rotation", {"proved": "known", "vibration": "nan"}, "vibration", "“nan” is not a number"),
    ("periodic", "guard", {"state": "on", "why": "two bolts short"}, "why", "The guard is on and whole"),
    ("periodic", "guard", {"state": "somewhere"}, "state", "is not a choice here"),
    ("periodic", "pipe-strain", {"viewed_from": "above"}, "viewed_from", "is not a choice here"),
    ("periodic", "pipe-strain", {"driver.vertical": "30"}, "driver.vertical", "cannot be meant"),
    ("periodic", "pipe-strain", {"driver.horizontal": "0.02 mm/m"}, "driver.horizontal", "is a unit of slope"),
    ("periodic", "run-out", {"driver_shaft.tir": "-0.03"}, "driver_shaft.tir", "cannot be meant"),
    ("periodic", "soft-foot", {"method": "by ear"}, "method", "is not a choice here"),
]  # fmt: skip


def test_there_are_enough_of_them():
    assert len(BAD) + len(REFUSED) + len(WANTING) >= AT_LEAST
    assert all(message for *_, message in BAD), "each is held to its own sentence"


@pytest.mark.parametrize(("kind", "step", "typed", "field", "said"), BAD)
def test_it_is_told_beside_its_field_and_signs_nothing(fit, order, site, mechanic, kind, step, typed, field, said):
    InstrumentFactory(site=site, kind="dial", serial="D-1")
    visit = begin(fit, None if kind in ("running", "legacy") else order, mechanic, kind=kind)
    entry = save(visit, step, typed, mechanic)
    assert said in entry.errors[field], entry.errors
    assert entry.typed == typed, "it stays as it was typed"
    with recording(by=mechanic, at=NOW), pytest.raises(Refused) as caught:
        sign_visit(visit=visit)
    assert caught.value.as_dict()[f"{step}.{field}"] == entry.errors[field]
    assert not SignedRecord.objects.exists()


BEGUN = [
    ({"kind": "picnic"}, "kind", "Not a kind of visit. Choose one of: installation"),
    ({"on": TODAY.replace(year=2031)}, "on", "lies in the future"),
    ({"on": TODAY.replace(year=2020)}, "on", "Before 2026-10-01, when this fit was made"),
    ({"work_order": None}, "work_order", "needs its work order"),
    ({"from_paper": True}, "paper_isolation", "Copy what the paper says of the isolation"),
    ({"paper_isolation": "P-1"}, "paper_isolation", "Only for what is typed in from a paper"),
    ({"from_paper": True, "paper_isolation": "x" * 201}, "paper_isolation", "At most 200 characters."),
    ({"taken_at": NOW.replace(year=2031)}, "taken_at", "lies in the future"),
]


@pytest.mark.parametrize(("given", "field", "said"), BEGUN)
def test_a_visit_that_cannot_begin_says_why(fit, order, mechanic, given, field, said):
    whole = {"coupling": fit.coupling, "kind": "alignment", "on": TODAY, "work_order": order}
    with recording(by=mechanic, at=NOW), pytest.raises(Refused) as caught:
        begin_visit(**whole | given)
    assert said in caught.value.as_dict()[field]
    assert not Visit.objects.exists()
    assert not Entry.objects.exists()


def test_the_order_of_another_train_and_a_person_without_a_role_are_not_taken(fit, site, mechanic, stranger):
    with recording(by=mechanic, at=NOW), pytest.raises(Refused) as caught:
        begin_visit(coupling=fit.coupling, kind="alignment", on=TODAY, work_order=WorkOrderFactory(), taken_by=stranger)
    said = caught.value.as_dict()
    assert "not for the train of" in said["work_order"]
    assert "has no role at this site" in said["taken_by"]
