"""A survey of a visit with everything a dial can show: kept as typed, solved, signed, and shown again."""

import json

import pytest
from django.urls import reverse

from inspections.models import Reading, ReadingSet
from inspections.selectors.visits import draft_result
from inspections.services.signing import sign_visit
from plant.recording import recording
from tests.factories import NOW
from tests.inspections.visits import fill_installation, save

pytestmark = pytest.mark.django_db
# In line, no sag: rim and face, the face with a second dial and again with the shafts turned.
FULL = {
    "method": "rim-and-face", "stationary": "driven", "viewed_from": "stationary", "taken_at": "09:40",
    "set0.x": "50", "set0.u": "0.01", "set0.12": "0", "set0.3": "0", "set0.6": "0", "set0.9": "0",
    "set0.more": "45: 0.001; 100: 0,002 mm", "set0.bracket": "long", "set0.sag_u": "0.002",
    "set1.swing_radius": "90", "set1.u": "0.01", "set1.surface": "far", "set1.bracket": "long",
    **{f"set1.{layer}{hour}": "0" for layer in ("", "opposed") for hour in (12, 3, 6, 9)},
    **{f"set1.turned{hour}": "0.01" for hour in (12, 3, 6, 9)},
    "set1.opposed3": "0.004 mm",
}  # fmt: skip


def test_it_is_kept_as_it_was_read_when_it_is_signed(visit, mechanic, wrench, client):
    fill_installation(visit, mechanic, wrench, left=FULL)
    with recording(by=mechanic, at=NOW):
        sign_visit(visit=visit, expected=visit.version)
    rows = list(ReadingSet.objects.order_by("number"))
    assert [(row.kind, row.bracket, row.surface) for row in rows] == [
        ("rim", "long", ""), ("face", "long", "far"), ("face", "long", "far"),
    ]  # fmt: skip
    rim = {one.angle_deg: one.typed for one in rows[0].readings.all()}
    assert rim[315.0] == "0.001", "45 degrees clockwise seen from the stationary machine"
    assert rim[260.0] == "0,002 mm"
    second = Reading.objects.get(set=rows[1], angle_deg=270)
    assert (second.opposed_typed, second.opposed_mm) == ("0.004 mm", pytest.approx(0.004))
    assert all(one.turned and one.typed == "0.01" for one in rows[2].readings.all())
    text = json.loads(visit.__class__.objects.get(pk=visit.pk).record.text)
    assert text["surveys"][0]["sets"][0]["bracket"] == "long"
    client.force_login(mechanic)
    assert client.get(reverse("visit-record", args=[visit.uuid])).status_code == 200


def test_the_form_shows_what_was_typed_and_what_is_wrong_with_it(visit, mechanic, client):
    save(visit, "as-left", FULL | {"set0.more": "45 0.001", "set1.turned12": "a lot"}, mechanic)
    client.force_login(mechanic)
    answer = client.get(reverse("visit-step", args=[visit.uuid, "as-left"]))
    page = answer.content.decode()
    assert answer.status_code == 422
    for words in ('value="45 0.001"', 'value="a lot"', "is not an angle with its reading", "“a lot” is not a number"):
        assert words in page
    assert page.count('<details class="more" open>') >= 2, "what is used is unfolded"


def test_what_is_not_used_is_folded_away(visit, mechanic, client):
    save(visit, "as-left", {"method": "rim-and-face"}, mechanic)
    client.force_login(mechanic)
    page = client.get(reverse("visit-step", args=[visit.uuid, "as-left"])).content.decode()
    assert 'name="set1.opposed12"' in page
    assert '<details class="more" open>' not in page


def test_the_uncertainty_of_a_turned_set_is_that_of_its_instrument(visit, mechanic, site):
    site.reading_u_mm = 0.013
    site.save()
    fields = {name: text for name, text in FULL.items() if name != "set1.u"}
    save(visit, "as-left", fields, mechanic)
    visit = type(visit).objects.get(pk=visit.pk)
    found = draft_result(visit, "as-left")
    assert [one.u_mm for one in found.surveyed.request.sets] == [0.01, 0.013, 0.013]


def test_a_reason_does_not_stand_beside_readings_at_odd_angles(visit, mechanic):
    save(visit, "as-left", {"not_measured": "dark", "set0.more": "45: 0.1"}, mechanic)
    entry = visit.entries.get(step="as-left")
    assert entry.errors["not_measured"] == "There are readings here: empty them, or leave the reason out."


def test_a_bracket_has_a_short_name(visit, mechanic):
    save(visit, "as-left", FULL | {"set0.bracket": "b" * 81}, mechanic)
    assert visit.entries.get(step="as-left").errors["set0.bracket"] == "At most 80 characters; this is 81."
