"""Moves held against the shims that lie under the feet: out before in, no more than is there, the count after."""

from datetime import timedelta

import pytest

from inspections.selectors.visits import draft_result
from inspections.services.signing import sign_visit
from plant.recording import recording
from tests.factories import NOW
from tests.inspections.visits import IN_LINE, PRINTED, begin, fill_installation, save

# The same set-up with the motor high; both dials close.
HIGH = PRINTED | {
    "set0.3": "-0.22", "set0.6": "-0.38", "set0.9": "-0.16", "set1.3": "0.12", "set1.6": "0.18", "set1.9": "0.06",
}  # fmt: skip


def live(visit):
    return draft_result(type(visit).objects.get(pk=visit.pk), "alignment", 1)


def packs(**feet):
    """Shims by the short names of the motor's feet: plane 1 is inboard, plane 0 outboard."""
    return {f"driver{name}.shims": text for name, text in feet.items()}


def test_each_foot_is_told_what_to_take_out_and_put_in(visit, mechanic):
    # Wanted as printed: inboard up 0.248, outboard up 0.448; of 0.05 mm shims 0.25 and 0.45.
    save(visit, "alignment", PRINTED, mechanic, number=1)
    save(visit, "soft-foot", {"driver1l.shims": "1.0 + 0.5 + 0.25 + 0.1", "driver1r.shims": "1.0"}, mechanic)

    inboard, outboard = live(visit).feet

    full, single = inboard.packs
    assert (full.foot, full.change.take_out_mm, full.change.count) == ("inboard left", (0.1,), 4)
    assert full.change.put_in_mm == pytest.approx(0.35), "take out 0.1, put in 0.35: four shims as before"
    assert (single.change.take_out_mm, single.change.count) == ((), 2)
    assert single.change.put_in_mm == pytest.approx(0.25)
    assert outboard.packs == ()
    assert outboard.shim_mm == pytest.approx(0.45), "nothing is on record there: the move alone"


def test_more_than_is_there_is_not_taken_out_and_the_outcome_follows(visit, mechanic):
    save(visit, "alignment", HIGH, mechanic, number=1)
    free = live(visit)
    assert free.feet[0].shim_mm < -0.1, "the inboard feet are to come down"
    save(visit, "soft-foot", {"driver1l.shims": "0.05", "driver1r.shims": "2.0 + 0.5"}, mechanic)

    held = live(visit)

    inboard = held.feet[0]
    assert inboard.shim_mm == pytest.approx(-0.05)
    assert inboard.short_mm == pytest.approx(-free.feet[0].shim_mm - 0.05)
    assert inboard.left_mm == pytest.approx(inboard.move.up_mm + 0.05)
    assert held.expected.tolerance_used > free.expected.tolerance_used
    assert held.misalignment == free.misalignment


def test_the_last_signed_visit_says_what_lies_there_until_this_draft_does(visit, mechanic, wrench, fit, order):
    save(visit, "soft-foot", {"driver1l.shims": "2.0 + 0.5", "driver1r.shims": "2.0"}, mechanic)
    fill_installation(visit, mechanic, wrench, left=IN_LINE)
    with recording(by=mechanic, at=NOW):
        sign_visit(visit=visit)
    later = NOW + timedelta(days=40)
    draft = begin(fit, order, mechanic, kind="alignment", on=later.date(), at=later)
    save(draft, "alignment", PRINTED | {"taken_at": ""}, mechanic, number=1, at=later)

    before = {pack.foot: pack for pack in live(draft).feet[0].packs}
    assert before["inboard left"].there_mm == (2.0, 0.5)
    assert before["inboard left"].whence == "as left on 2026-10-12"

    save(draft, "soft-foot", {"driver1l.shims": "2.0"}, mechanic, at=later)
    after = {pack.foot: pack for pack in live(draft).feet[0].packs}
    assert (after["inboard left"].there_mm, after["inboard left"].whence) == ((2.0,), "typed in this visit")
    assert after["inboard right"].there_mm == (2.0,)


def test_the_page_and_the_api_say_it_in_words(client, visit, mechanic):
    save(visit, "alignment", HIGH, mechanic, number=1)
    save(visit, "soft-foot", {"driver1l.shims": "0.05", "driver1r.shims": "2.0 + 0.5"}, mechanic)
    client.force_login(mechanic)

    page = client.get(f"/visits/{visit.uuid}/steps/alignment/1/").content.decode()
    entry = client.get(f"/api/v1/visits/{visit.uuid}/entries/alignment/1/").json()

    assert "more should come out and is not there: raise the other feet" in page
    assert "Inboard left: take out 0.05\u00a0mm (typed in this visit, 0 of at most 4 shims)" in page
    assert "Temperature: not corrected: no support temperatures were measured." in page
    row = entry["result"]["moves"][0]
    assert row["not_there"]["value"] > 0
    assert row["packs"][0]["take_out"] == [{"value": 0.05, "unit": "mm"}]
    assert entry["result"]["temperature_correction"] == {
        "applied": False, "reason": "not corrected: no support temperatures were measured",
    }  # fmt: skip
