"""The administration of visits: staff read their own sites, and nothing signed is written there."""

import pytest
from django.urls import reverse

from inspections.models import Policy, SignedRecord
from inspections.services.signing import sign_visit
from plant.recording import recording
from tests.factories import NOW

SEEN = ["workorder", "visit", "signedrecord", "check", "flag"]


@pytest.fixture
def record(filled, mechanic):
    with recording(by=mechanic, at=NOW):
        return sign_visit(visit=filled)


def page(client, person, name, *args):
    person.is_staff = True
    person.save()
    client.force_login(person)
    return client.get(reverse(f"admin:inspections_{name}", args=args))


@pytest.mark.parametrize("name", SEEN)
def test_staff_read_what_their_site_did_and_others_see_nothing_of_it(client, record, keeper, stranger, name):
    tag = record.coupling.tag.encode()
    own = page(client, keeper, f"{name}_changelist")
    assert own.status_code == 200
    if name in ("visit", "signedrecord"):
        assert tag in own.content
    assert tag not in page(client, stranger, f"{name}_changelist").content


def test_a_record_is_shown_as_it_was_signed_and_cannot_be_changed(client, record, keeper):
    shown = page(client, keeper, "signedrecord_change", record.pk)
    assert "reverse-rim" in shown.content.decode()

    refused = client.post(reverse("admin:inspections_signedrecord_change", args=[record.pk]), {"reason": "x"})
    assert refused.status_code == 403
    deleted = client.post(reverse("admin:inspections_signedrecord_delete", args=[record.pk]), {"post": "yes"})
    assert deleted.status_code == 403
    assert SignedRecord.objects.get().reason == ""


def test_a_draft_shows_what_was_typed(client, filled, keeper):
    assert b"140.2" in page(client, keeper, "visit_change", filled.pk).content


def test_an_engineer_writes_a_policy_there_and_a_keeper_does_not(client, site, engineer, keeper):
    assert page(client, keeper, "policy_add").status_code == 403
    assert page(client, engineer, "policy_add").status_code == 200
    given = {
        "site": site.pk, "check_kind": "alignment", "criticality": "A", "every_months": "12", "mode": "window",
        "window_share": "0.1", "first_days": "30", "first_hours": "500", "needs_stop": "on", "crew_hours": "2",
        "crew_size": "2", "defer_days": "30", "shortest_days": "30",
    }  # fmt: skip
    answer = client.post(reverse("admin:inspections_policy_add"), given)
    assert answer.status_code == 302, answer.context["adminform"].form.errors
    assert Policy.objects.get().every_months == 12
