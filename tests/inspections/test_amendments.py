"""Amendments: whole steps replaced by the next link; everything else goes over unchanged."""

import json

import pytest

from couplings.models import Element
from inspections.models import Flag, Placement, SignedRecord, Survey, SurveyResult, Torque
from inspections.selectors.verification import verify
from inspections.selectors.visits import latest_as_left
from inspections.services.amendments import amend_visit
from inspections.services.signing import sign_visit
from plant.models import Event
from plant.recording import recording
from plant.refusals import NotAllowed, Refused
from tests.factories import NOW
from tests.inspections.visits import ELEMENT, IN_LINE, PLACEMENT, PRINTED, begin, save


@pytest.fixture
def signed(filled, mechanic):
    with recording(by=mechanic, at=NOW):
        sign_visit(visit=filled)
    filled.refresh_from_db()
    return filled


def amend(visit, by, steps, reason="read the rule wrongly", **more):
    with recording(by=by, at=NOW):
        return amend_visit(visit=visit, steps=steps, reason=reason, **more)


def test_an_amendment_is_the_next_link_and_feeds_the_dates(signed, engineer):
    first = signed.record

    second = amend(signed, engineer, {"placement": PLACEMENT | {"dbse": "140.6"}})

    signed.refresh_from_db()
    assert (signed.record, second.amends, second.kind) == (second, first, "amendment")
    assert (second.number, second.previous_digest, second.reason) == (2, first.digest, "read the rule wrongly")
    assert Placement.objects.get(record=first).dbse_mm == pytest.approx(140.2), "the old text stands beside it"
    assert Placement.objects.get(record=second).dbse_mm == pytest.approx(140.6)
    signed.fit.refresh_from_db()
    assert signed.fit.dbse_mm == pytest.approx(140.6)
    assert Event.objects.filter(kind="visit.amended").count() == 1
    assert verify().findings == []


def test_what_is_not_replaced_goes_over_without_being_judged_again(signed, engineer):
    signed.sheet_version.limits.update(value=0.0001)  # judged today nothing would be in tolerance

    amend(signed, engineer, {"placement": PLACEMENT})

    before, after = SurveyResult.objects.order_by("pk")
    assert (before.verdict, after.verdict) == ("in tolerance", "in tolerance")
    assert before.lines == after.lines
    assert Torque.objects.count() == 2
    assert Survey.objects.filter(record=signed.record_id).count() == 1


def test_a_replaced_survey_is_judged_and_asks_for_its_reason(signed, engineer):
    signed.sheet_version.limits.filter(quantity="offset").update(value=0.05)
    with pytest.raises(Refused) as refused:
        amend(signed, engineer, {"as-left": PRINTED})
    assert "left_so_reason" in refused.value.as_dict()
    assert SignedRecord.objects.count() == 1

    amend(signed, engineer, {"as-left": PRINTED}, left_so_reason="found when the readings were typed in again")

    assert latest_as_left(signed.coupling).result.verdict == "out of tolerance"
    raised = set(Flag.objects.filter(cleared_at__isnull=True).values_list("kind", flat=True))
    assert raised == {"out-of-tolerance", "left-so"}
    signed.refresh_from_db()
    assert signed.left_so_reason.startswith("found when")


def test_an_amendment_can_be_amended(signed, engineer):
    amend(signed, engineer, {"placement": PLACEMENT | {"dbse": "140.6"}})
    signed.refresh_from_db()
    third = amend(signed, engineer, {"placement": PLACEMENT | {"dbse": "140.4"}})

    assert (third.number, third.amends.number) == (3, 2)
    assert json.loads(third.text)["facts"]["placement"][0]["dbse_mm"] == pytest.approx(140.4)
    assert verify().findings == []


def test_a_step_can_be_added_or_taken_back(signed, engineer):
    amend(signed, engineer, {"as-found": PRINTED | {"taken_at": "07:00"}, "fasteners": {}})

    signed.refresh_from_db()
    text = json.loads(signed.record.text)
    assert [step["step"] for step in text["steps"]] == ["as-found", "as-left", "element", "placement"]
    assert {survey.as_found for survey in Survey.objects.filter(record=signed.record)} == {True, False}
    assert not Torque.objects.filter(record=signed.record).exists()
    assert verify().findings == []


def test_a_survey_that_becomes_as_left_is_judged_by_the_guard_band(fit, order, mechanic, engineer):
    visit = begin(fit, order, mechanic, kind="periodic")
    save(visit, "as-found", IN_LINE, mechanic)
    save(visit, "as-left", PRINTED | {"taken_at": "09:50"}, mechanic)
    with recording(by=mechanic, at=NOW):
        sign_visit(visit=visit, left_so_reason="typed from paper")
    visit.refresh_from_db()

    record = amend(visit, engineer, {"as-left": {"same_as": "as-found"}})

    survey = Survey.objects.get(record=record)
    assert (survey.as_found, survey.as_left, survey.result.decision) == (True, True, "guarded")
    visit.refresh_from_db()
    assert visit.nothing_moved
    assert verify().findings == []


def test_a_corrected_batch_reaches_the_element_in_place(signed, engineer):
    amend(signed, engineer, {"element": ELEMENT | {"batch": "B9"}})

    assert Element.objects.get().batch == "B9"


@pytest.mark.parametrize(
    "steps, reason, field, message",
    [
        ({}, "because", "steps", "Nothing is replaced"),
        ({"placement": PLACEMENT}, " ", "reason", "Say why the record is amended"),
        ({"grease": {}}, "because", "steps.grease", "There is no such step to amend"),
        ({"isolation": {}}, "because", "steps.isolation", "There is no such step to amend"),
        ({"alignment": PRINTED}, "because", "steps.alignment", "Rounds are named alignment.1"),
        ({"placement.1": PLACEMENT}, "because", "steps.placement.1", "every other step without a number"),
        ({"placement": {"colour": "red"}}, "because", "steps.placement.colour", "has no field of this name"),
        ({"placement": PLACEMENT | {"dbse": "nan"}}, "because", "steps.placement.dbse", "is not a number"),
        ({"placement": {"dbse": "140"}}, "because", "steps.placement.driver_engagement", "is not measured yet"),
        ({"as-left": {"same_as": "round:4"}}, "because", "steps.as-left.same_as", "is not there: choose another"),
        ({"element": {"act": "kept"}}, "because", "steps.element.act", "write it down as a visit of its own"),
    ],
)
def test_an_amendment_is_refused_when(signed, engineer, steps, reason, field, message):
    with pytest.raises(Refused) as refused:
        amend(signed, engineer, steps, reason)
    assert message in refused.value.as_dict()[field]
    assert SignedRecord.objects.count() == 1


def test_a_mechanic_signs_but_does_not_amend(signed, mechanic):
    with pytest.raises(NotAllowed, match="does not let you amend signed visits"):
        amend(signed, mechanic, {"placement": PLACEMENT})


def test_a_draft_is_not_amended(visit, engineer):
    with pytest.raises(Refused, match="only a signed visit is amended"):
        amend(visit, engineer, {"placement": PLACEMENT})
