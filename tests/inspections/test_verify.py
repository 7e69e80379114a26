"""verify_records finds what was changed behind the application's back."""

import pytest
from django.core.management import CommandError, call_command
from django.db import connection

from inspections import triggers
from inspections.models import Visit
from inspections.selectors.verification import verify
from inspections.services.signing import sign_visit
from plant.recording import recording
from tests.factories import NOW
from tests.inspections.visits import begin, fasteners, fill_installation, save


@pytest.fixture
def chain(fit, order, mechanic, wrench):
    """Two signed visits at one coupling: an installation and a torque check."""
    visits = [fill_installation(begin(fit, order, mechanic), mechanic, wrench), begin(fit, order, mechanic, "torque")]
    save(visits[1], "fasteners", fasteners(wrench), mechanic)
    with recording(by=mechanic, at=NOW):
        return [sign_visit(visit=visit) for visit in visits]


def behind_the_back(sql):
    """What somebody does who holds the database's password: opens the maintenance row, changes, closes it."""
    with triggers.opened(reason="nobody knows", at=NOW), connection.cursor() as cursor:
        cursor.execute(sql)


def findings():
    return [str(finding) for finding in verify().findings]


def test_untouched_records_are_as_they_were_signed(chain, capsys):
    call_command("verify_records")

    # One survey with its result, two sets, eight readings, placement, element, torque; then one torque.
    assert capsys.readouterr().out == "2 records in 1 chains, 16 rows, 2 signed visits compared: 0 changed\n"


def test_a_changed_row_ends_the_command_with_one_and_is_named(chain, capsys):
    behind_the_back("UPDATE inspections_reading SET mm = 0.5 WHERE angle_deg = 90")

    with pytest.raises(CommandError) as ended:
        call_command("verify_records")

    assert ended.value.returncode == 1
    said = capsys.readouterr().out
    assert "record 1: surveys.0.sets.0.readings.1.mm is 0.5 where -0.02 was signed" in said
    assert said.endswith("2 records in 1 chains, 16 rows, 2 signed visits compared: 2 changed\n")


@pytest.mark.parametrize(
    "sql, finding",
    [
        (
            "UPDATE inspections_signedrecord SET text = replace(text, '-0.02', '-0.03') WHERE number = 1",
            "digest differs",
        ),
        ("UPDATE inspections_signedrecord SET text = '[]' WHERE number = 1", "the text cannot be read"),
        ("UPDATE inspections_signedrecord SET reason = 'x' WHERE number = 1", "columns differ from the text: reason"),
        ("UPDATE inspections_signedrecord SET previous_digest = 'x' WHERE number = 2", "does not hang on the record"),
        ("UPDATE inspections_signedrecord SET number = 3 WHERE number = 2", "number 2 of the chain is not there"),
        ("UPDATE inspections_surveyresult SET verdict = 'too close to call'", "result.verdict is 'too close to call'"),
        ("UPDATE inspections_survey SET as_left = as_found", "as_left is False where True was signed"),
        ("UPDATE inspections_readingset SET sag_mm = 0 WHERE number = 1", "sets.0.sag_mm is 0.0 where -0.04"),
        ("UPDATE inspections_placement SET dbse_mm = 141", "facts.placement.0.dbse_mm is 141.0 where 140.2"),
        ("DELETE FROM inspections_elementfact", "facts.element was removed"),
        ("UPDATE inspections_torque SET torque_nm = 46", "torque_nm is 46.0 where 45.0 was signed"),
        ("DELETE FROM inspections_reading WHERE angle_deg = 90", "readings has 3 rows where 4 were signed"),
        (
            "INSERT INTO inspections_torque (visit_id, record_id, joint, how, torque_nm, position, out_of_calibration, "
            "found, verdict, reason) SELECT visit_id, record_id, joint, 'read', 45, 9, out_of_calibration, found, "
            "verdict, reason FROM inspections_torque",
            "facts.fasteners has 2 rows where 1 were signed",
        ),
    ],
)
def test_every_way_to_change_a_signed_row_is_found(chain, sql, finding):
    behind_the_back(sql)
    assert any(finding in found for found in findings()), findings()


def test_a_visit_changed_after_signing_is_found(chain):
    Visit.objects.filter(record=chain[0]).update(left_so_reason="it was like that")
    assert findings()[0].endswith("the visit differs from the text: left_so_reason")


def test_a_visit_that_was_unsigned_by_hand_is_found(chain):
    Visit.objects.filter(record=chain[1]).update(state="draft", signed_at=None, signed_by=None)
    assert findings()[0].endswith("record 2: its visit is not signed any more")


def test_an_older_text_made_to_feed_the_dates_is_found(chain):
    Visit.objects.filter(record=chain[1]).update(record=chain[0])
    assert any("is fed by another record than its latest" in finding for finding in findings())


def test_a_row_added_with_the_triggers_shut_is_found(chain):
    """The triggers let new rows in, since signing inserts them; what was not signed shows here."""
    with connection.cursor() as cursor:
        cursor.execute(
            "INSERT INTO inspections_reading (set_id, angle_deg, turned, typed, mm, opposed_typed) "
            "SELECT set_id, 45, turned, '0.1', 0.1, '' FROM inspections_reading WHERE angle_deg = 90"
        )
    assert len([finding for finding in findings() if "readings has 5 rows" in finding]) == 2
