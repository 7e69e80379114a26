"""The visit's pages without a browser: what each answers, what it keeps, and what it refuses beside the field."""

import json

import pytest
import time_machine

from inspections.models import Entry, SignedRecord, SurveyResult, Visit
from tests.factories import NOW
from tests.inspections.visits import IN_LINE, PRINTED, save

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _on_the_day():
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def phone(client, mechanic):
    client.force_login(mechanic)
    return client


def post(client, visit, step, seen=0, was=None, **fields):
    typed = {"seen": str(seen), "was": json.dumps(was or {}), **fields}
    return client.post(f"/visits/{visit.uuid}/steps/{step}/", typed)


def test_a_visit_begins_with_a_new_work_order_and_the_day_of_the_site(phone, fit):
    begun = phone.post(
        f"/couplings/{fit.coupling.uuid}/begin/", {"kind": "installation", "on": "2026-10-12", "new_number": "WO-7"}
    )

    visit = Visit.objects.get()
    assert begun["Location"] == f"/visits/{visit.uuid}/"
    assert (visit.work_order.number, str(visit.on), visit.zone) == ("WO-7", "2026-10-12", "Europe/Oslo")


@pytest.mark.parametrize(
    ("typed", "field", "said"),
    [
        ({"on": "2026-10-12"}, "new_number", "Type the work order"),
        ({"on": "12.10.2026", "new_number": "WO-7"}, "on", "Write the day as 2026-10-12."),
        ({"on": "2026-10-14", "new_number": "WO-7"}, "on", "future"),
        ({"on": "2020-01-01", "new_number": "WO-7"}, "on", "when this fit was made"),
        ({"on": "2026-10-12", "new_number": "W" * 41}, "new_number", "at most 40 characters"),
    ],
)
def test_a_visit_that_cannot_begin_says_why_beside_the_field_and_opens_no_order(phone, fit, typed, field, said):
    answer = phone.post(f"/couplings/{fit.coupling.uuid}/begin/", {"kind": "installation", **typed})

    page = answer.content.decode()
    assert answer.status_code == 422
    assert f'id="id_{field}_error"' in page
    assert said in page
    assert typed["on"] in page
    assert not Visit.objects.exists()
    assert not fit.coupling.train.work_orders.exists()


def test_isolation_is_refused_without_permit_or_reason_and_then_stands(phone, visit):
    order = visit.work_order
    order.permit, order.isolated_at, order.verified_at = "", None, None
    order.save()

    refused = phone.post(f"/visits/{visit.uuid}/isolation/isolate/", {"permit": "", "no_permit_reason": ""})
    assert refused.status_code == 422
    assert "permit" in refused.content.decode()
    phone.post(f"/visits/{visit.uuid}/isolation/isolate/", {"no_permit_reason": "Plant never energised."})
    phone.post(f"/visits/{visit.uuid}/isolation/verify/")
    order.refresh_from_db()
    assert order.isolation_stands
    assert order.verified_by.username == "mia"


def test_a_step_sends_only_what_this_hand_changed(phone, visit, engineer):
    save(visit, "placement", {"dbse": "140.2"}, engineer)
    # The page was shown before the engineer typed: its field for the distance is still blank, and was blank.
    answer = post(phone, visit, "placement", was={"dbse": "", "driver_engagement": ""}, dbse="", driver_engagement="75")

    assert answer.status_code == 302
    assert Entry.objects.get().typed == {"dbse": "140.2", "driver_engagement": "75"}


def test_the_same_field_asks_and_the_rest_is_kept(phone, visit, engineer):
    save(visit, "placement", {"dbse": "140.2"}, engineer)
    answer = post(phone, visit, "placement", dbse="139.8", driver_engagement="75")

    page = answer.content.decode()
    assert answer.status_code == 412
    assert Entry.objects.get().typed == {"dbse": "140.2", "driver_engagement": "75"}
    assert 'value="139.8" required' in page
    assert "Ana: <b>140.2</b>" in page
    assert "checked" not in page


def test_a_refused_value_stays_as_typed_with_its_sentence_and_makes_no_row(phone, visit):
    answer = post(phone, visit, "as-left", **(PRINTED | {"set0.3": "NaN"}))

    page = answer.content.decode()
    assert answer.status_code == 422
    assert 'value="NaN"' in page
    assert 'aria-describedby="f-set0-3_error"' in page
    assert not SurveyResult.objects.exists()


def test_a_round_shows_its_result_and_the_next_begins_as_it_was_read(phone, visit):
    post(phone, visit, "alignment/1", **PRINTED)
    first = phone.get(f"/visits/{visit.uuid}/steps/alignment/1/").content.decode()
    second = phone.get(f"/visits/{visit.uuid}/steps/alignment/2/").content.decode()

    # The answer printed with this survey: 0.14 mm down and level sideways, angularity 0.4 mm/m.
    assert "−0.14" in first
    assert "−0.40" in first
    assert 'value="75"' in second  # where the dials sit
    assert 'name="set0.3" value=""' in second  # no reading is carried over
    assert Entry.objects.count() == 1


def test_nothing_is_filled_before_isolation_is_verified(phone, visit):
    visit.work_order.verified_at = None
    visit.work_order.save()
    answer = post(phone, visit, "placement", dbse="140")

    page = answer.content.decode()
    assert answer.status_code == 422
    assert "Not isolated yet." in page
    assert 'value="140"' in page
    assert not Entry.objects.exists()


def test_signing_lists_what_is_missing_with_links_and_then_signs(phone, filled):
    filled.entries.filter(step="fasteners").delete()
    page = phone.get(f"/visits/{filled.uuid}/sign/").content.decode()
    assert "One thing is missing" in page
    assert f"/visits/{filled.uuid}/steps/fasteners/" in page
    refused = phone.post(f"/visits/{filled.uuid}/sign/", {"seen": str(filled.version)})
    assert refused.status_code == 422
    assert not SignedRecord.objects.exists()


def test_out_of_tolerance_is_signed_only_with_a_reason(phone, filled, mechanic):
    save(
        filled,
        "as-left",
        PRINTED | {"set0.6": "0.9", "set1.6": "-0.86", "set0.9": "0.78", "set1.9": "-0.76"},
        mechanic,
        seen=9,
    )
    url = f"/visits/{filled.uuid}/sign/"
    page = phone.get(url).content.decode()
    assert "Not yet: back to the steps" in page
    refused = phone.post(url, {"left_so_reason": ""})
    assert refused.status_code == 422
    assert "say why it is left so" in refused.content.decode()
    signed = phone.post(url, {"left_so_reason": "Feet at the end of their slots."})
    assert signed["Location"] == f"/visits/{filled.uuid}/record/"
    assert "Feet at the end of their slots." in phone.get(signed["Location"]).content.decode()


def test_a_signed_visit_shows_its_record_and_only_the_engineer_amends_it(phone, client, filled, engineer):
    phone.post(f"/visits/{filled.uuid}/sign/", {})
    record = f"/visits/{filled.uuid}/record/"
    assert phone.get(f"/visits/{filled.uuid}/")["Location"] == record
    assert "Amend a step" not in phone.get(record).content.decode()
    amend = f"/visits/{filled.uuid}/amend/placement/"
    assert phone.get(amend).status_code == 404

    client.force_login(engineer)
    assert 'name="step:dbse" value="140.2"' in client.get(amend).content.decode()
    typed = {"step:dbse": "140,9", "step:driver_engagement": "78", "step:driven_engagement": "80"}
    refused = client.post(amend, typed)
    assert refused.status_code == 422
    assert 'value="140,9"' in refused.content.decode()
    assert client.post(amend, {**typed, "reason": "Misread the rule."})["Location"] == record
    page = client.get(record).content.decode()
    assert "140.9" in page
    assert "Misread the rule." in page
    assert [one.kind for one in SignedRecord.objects.order_by("number")] == ["visit", "amendment"]


def test_a_dropped_visit_is_read_but_not_written(phone, visit):
    phone.post(f"/visits/{visit.uuid}/drop/")
    page = phone.get(f"/visits/{visit.uuid}/").content.decode()
    assert "Dropped: it feeds nothing." in page
    assert "Look it over and sign" not in page


def test_a_stranger_finds_nothing(client, stranger, visit):
    client.force_login(stranger)
    for address in ("", "sign/", "record/", "steps/placement/", "amend/placement/"):
        assert client.get(f"/visits/{visit.uuid}/{address}").status_code == 404


def test_the_steps_of_a_visit_are_asked_for_in_a_fixed_number_of_queries(phone, visit, mechanic, connection_queries):
    def queries():
        with connection_queries() as asked:
            phone.get(f"/visits/{visit.uuid}/")
        return len(asked)

    save(visit, "alignment", PRINTED, mechanic, number=1)
    one = queries()
    for number in (2, 3, 4):
        save(visit, "alignment", IN_LINE, mechanic, number=number)
    # Rounds ride on the visit's entries; only reading them costs time.
    assert queries() == one


def test_what_others_typed_is_told_to_the_open_page(phone, visit, engineer):
    save(visit, "placement", {"dbse": "140.2"}, engineer)
    answer = phone.post(
        f"/visits/{visit.uuid}/steps/placement/",
        {"seen": "0", "was": "{}", "dbse": "", "driver_engagement": "75"},
        headers={"HX-Request": "true"},
    )

    assert json.loads(answer["HX-Trigger-After-Swap"]) == {"asleft:entered": {"f-dbse": "140.2"}}
    assert 'id="seen" value="2"' in answer.content.decode()


def test_an_instrument_named_by_its_serial_number_stays_named(phone, visit, mechanic, wrench):
    save(visit, "fasteners", {"joint0.how": "set", "joint0.torque": "45", "joint0.instrument": wrench.serial}, mechanic)
    page = phone.get(f"/visits/{visit.uuid}/steps/fasteners/").content.decode()
    assert f'<option value="{wrench.serial}" selected>' in page
