"""Whoever signs has seen what is signed: a step changed since asks to look again; a refused save is sent again."""

import json
import re

import pytest

from inspections.models import Entry, SignedRecord
from inspections.selectors.hold_points import typed_version
from inspections.services.signing import sign_visit
from inspections.steps import STEPS
from plant.recording import recording
from plant.refusals import Refused
from tests.factories import NOW
from tests.inspections.visits import PLACEMENT, save

pytestmark = pytest.mark.django_db


def test_a_step_changed_since_the_summary_was_shown_asks_to_look_again(filled, mechanic, engineer):
    seen = typed_version(filled)
    save(filled, "placement", {"dbse": "140.4"}, engineer, seen=1)
    with recording(by=mechanic, at=NOW), pytest.raises(Refused, match="Placement of the hubs, last by Ana") as caught:
        sign_visit(visit=filled, typed_at=seen)
    assert caught.value.code == "changed-since"
    assert not SignedRecord.objects.exists()
    filled.refresh_from_db()
    with recording(by=mechanic, at=NOW):
        sign_visit(visit=filled, typed_at=typed_version(filled))


def test_what_was_refused_is_sent_again_by_the_next_save(client, visit, mechanic):
    """The page learns what the server has: not what it refused, else the same text would count as known ever after."""
    client.force_login(mechanic)
    visit.work_order.verified_at = None
    visit.work_order.save()
    where = f"/visits/{visit.uuid}/steps/placement/"
    sent = {**PLACEMENT, "seen": "0", "was": "{}"}
    answer = client.post(where, sent, headers={"HX-Request": "true"})
    assert answer.status_code == 422
    assert "can be read but not filled" in answer.content.decode()
    (was,) = re.findall(r'id="was" value="([^"]*)"', answer.content.decode())
    assert json.loads(was.replace("&quot;", '"')) == dict.fromkeys(PLACEMENT, "")
    visit.work_order.verified_at = NOW
    visit.work_order.save()
    client.post(where, {**sent, "was": was.replace("&quot;", '"')}, headers={"HX-Request": "true"})
    assert Entry.objects.get(visit=visit, step="placement").typed == PLACEMENT


def test_a_step_typed_after_the_signature_is_told_and_not_thrown_away(client, filled, mechanic, engineer):
    with recording(by=mechanic, at=NOW):
        sign_visit(visit=filled)
    client.force_login(engineer)
    sent = {"dbse": "140.6", "seen": "1", "was": json.dumps({"dbse": "140.2"})}
    answer = client.post(f"/visits/{filled.uuid}/steps/placement/", sent)
    assert answer.status_code == 422
    page = answer.content.decode()
    assert "Mia signed it; what is typed now goes into the record by an amendment." in page
    assert 'value="140.6"' in page
    assert client.get(f"/visits/{filled.uuid}/steps/placement/").status_code == 302


def test_a_survey_not_measured_says_so_where_its_result_would_stand(client, visit, mechanic):
    save(visit, "as-found", {"not_measured": "Loosened by the day shift"}, mechanic)
    client.force_login(mechanic)
    page = client.get(f"/visits/{visit.uuid}/steps/as-found/").content.decode()
    assert "Complete. Not done or measured, because: Loosened by the day shift" in " ".join(page.split())
    assert STEPS["as-found"].surveys
