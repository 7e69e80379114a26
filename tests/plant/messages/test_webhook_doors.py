"""Keeping webhooks over the API and on their page: secrets once, refusals beside the field, the log readable."""

import json
from datetime import timedelta

import pytest
from django.conf import settings as site_settings

from plant import tasks
from plant.messages.deliver import deliver, settle
from plant.messages.send import Answer
from plant.models import AllowedHost, Delivery, IdempotencyKey, Webhook
from plant.recording import recording, told
from tests.factories import NOW, CouplingFactory

pytestmark = pytest.mark.django_db
URL = "https://plant.example/told"


@pytest.fixture
def hook(site):
    return Webhook.objects.create(site=site, name="Orders", url=URL, secret="whsec_eA==")


@pytest.fixture
def kept(client, keeper):
    client.force_login(keeper)
    return client


def post(client, url, body=None, **headers):
    return client.post(url, json.dumps(body or {}), content_type="application/json", headers=headers)


def test_a_secret_is_in_the_answer_that_made_it_and_nowhere_else(kept, site):
    made = post(kept, "/api/v1/webhooks/", {"site": str(site.uuid), "name": "Orders", "url": URL})
    body = made.json()

    assert made.status_code == 201
    assert body["secret"].startswith("whsec_")
    one = kept.get(f"/api/v1/webhooks/{body['id']}/")
    assert "secret" not in one.json()
    assert not IdempotencyKey.objects.exists()
    turned = post(kept, f"/api/v1/webhooks/{body['id']}/rotate-secret/").json()["secret"]
    hook = Webhook.objects.get()
    assert (hook.secret, hook.old_secret) == (turned, body["secret"])


def test_the_history_keeps_no_secret(kept, site):
    post(kept, "/api/v1/webhooks/", {"site": str(site.uuid), "name": "Orders", "url": URL})

    assert "secret" not in {field.name for field in Webhook.history.model._meta.fields}


@pytest.mark.parametrize(
    ("wrong", "field", "said"),
    [
        ({"url": "http://plant.example/"}, "url", "begins with https"),
        ({"url": "https://me:pw@plant.example/"}, "url", "names and passwords"),
        ({"url": ""}, "url", "blank"),
        ({"kinds": ["check.eaten"]}, "kinds", "There is no event check.eaten"),
        ({"kinds": "check.due"}, "kinds", "list"),
        ({"name": ""}, "name", "blank"),
        ({"name": "x" * 81}, "name", "80"),
    ],
)
def test_what_cannot_be_a_webhook_is_refused_at_its_field(kept, site, wrong, field, said):
    body = {"site": str(site.uuid), "name": "Orders", "url": URL} | wrong
    answer = post(kept, "/api/v1/webhooks/", body)

    assert answer.status_code == 422
    [error] = [one for one in answer.json()["errors"] if one["pointer"] == f"/{field}"]
    assert said in error["detail"]
    assert not Webhook.objects.exists()


def test_a_name_is_given_once_per_site(kept, site, hook):
    answer = post(kept, "/api/v1/webhooks/", {"site": str(site.uuid), "name": "Orders", "url": URL})

    assert answer.status_code == 422
    assert "has this name" in answer.content.decode()


def test_a_change_names_the_version_it_saw(kept, hook):
    url = f"/api/v1/webhooks/{hook.uuid}/"
    body = json.dumps({"active": False})
    assert kept.patch(url, body, content_type="application/json").status_code == 428
    assert kept.patch(url, body, content_type="application/json", headers={"If-Match": '"9"'}).status_code == 412
    assert kept.patch(url, body, content_type="application/json", headers={"If-Match": '"1"'}).status_code == 200
    hook.refresh_from_db()
    assert (hook.active, hook.stopped_why) == (False, "Switched off by a person.")


def test_a_switched_off_webhook_gets_no_new_events_and_no_test(kept, hook, site):
    Webhook.objects.filter(pk=hook.pk).update(active=False)
    with recording(by=None, at=NOW):
        told("check.due", CouplingFactory(train__site=site), {})

    assert not Delivery.objects.exists()
    assert post(kept, f"/api/v1/webhooks/{hook.uuid}/test/").status_code == 422


def a_log(hook, count=3):
    for number in range(count):
        row = Delivery.objects.create(webhook=hook, lane="x", no=number, next_at=NOW)
        settle(row, Answer(500, "It broke <b>here</b>", 12), NOW + timedelta(minutes=number))
        Delivery.objects.filter(pk=row.pk).update(state="aside", settled_at=NOW)


def test_the_log_tells_every_answer_and_sends_again_what_was_set_aside(kept, hook):
    a_log(hook)
    rows = kept.get(f"/api/v1/webhooks/{hook.uuid}/deliveries/").json()["results"]
    assert [row["tries"][0]["status"] for row in rows] == [500] * 3

    answer = post(kept, f"/api/v1/webhooks/{hook.uuid}/replay/", {"delivery": rows[0]["id"]})
    assert answer.json() == {"replayed": 1}
    assert post(kept, f"/api/v1/webhooks/{hook.uuid}/replay/", {"delivery": rows[0]["id"]}).status_code == 422
    assert post(kept, f"/api/v1/webhooks/{hook.uuid}/replay/", {"delivery": 987654}).status_code == 404
    assert post(kept, f"/api/v1/webhooks/{hook.uuid}/replay/", {}).status_code == 422


def test_the_page_makes_a_webhook_shows_its_secret_once_and_keeps_what_was_refused(kept, site):
    page = kept.post("/webhooks/", {"site": str(site.uuid), "name": "Orders", "url": "http://plant.example/"})
    assert page.status_code == 422
    assert "begins with https" in page.content.decode()
    assert 'value="http://plant.example/"' in page.content.decode()

    made = kept.post("/webhooks/", {"site": str(site.uuid), "name": "Orders", "url": URL, "kinds": ["check.due"]})
    hook = Webhook.objects.get()
    assert hook.secret in made.content.decode()
    assert hook.secret not in kept.get(f"/webhooks/{hook.uuid}/").content.decode()


def test_each_button_of_the_page_is_one_act(kept, hook):
    url = f"/webhooks/{hook.uuid}/"
    a_log(hook)
    page = kept.get(url).content.decode()
    assert "It broke &lt;b&gt;here&lt;/b&gt;" in page

    kept.post(url, {"act": "replay", "delivery": Delivery.objects.first().pk})
    assert Delivery.objects.filter(state="waiting", replayed=1).count() == 1
    kept.post(url, {"act": "test"})
    assert Delivery.objects.filter(lane="test").exists()
    kept.post(url, {"act": "off"})
    assert kept.post(url, {"act": "test"}).status_code == 422
    kept.post(url, {"act": "on"})
    assert "shown again" in kept.post(url, {"act": "rotate"}).content.decode()
    assert kept.post(url, {"act": "dance"}).status_code == 404
    kept.post(url, {"act": "remove"})
    assert not Webhook.objects.exists()


def test_hosts_inside_are_allowed_by_name_for_a_reason(kept, site):
    typed = {"allow-site": str(site.uuid), "allow-host": "https://orders.plant.example", "allow-reason": "orders"}
    refused = kept.post("/webhooks/hosts/", typed)
    assert refused.status_code == 422
    assert "name alone" in refused.content.decode()

    kept.post("/webhooks/hosts/", typed | {"allow-host": "Orders.plant.example"})
    assert AllowedHost.objects.get().host == "orders.plant.example"
    assert (
        "allowed already"
        in kept.post("/webhooks/hosts/", typed | {"allow-host": "orders.plant.example"}).content.decode()
    )
    kept.post("/webhooks/hosts/forbid/", {"host": AllowedHost.objects.get().pk})
    assert not AllowedHost.objects.exists()


def test_the_list_asks_the_database_as_often_for_one_as_for_many(kept, site, hook, django_assert_max_num_queries):
    for number in range(20):
        Webhook.objects.create(site=site, name=f"H{number}", url=URL, secret="whsec_eA==")
    with django_assert_max_num_queries(16):
        kept.get("/webhooks/")
    a_log(hook, 30)
    with django_assert_max_num_queries(16):
        kept.get(f"/webhooks/{hook.uuid}/")


def test_a_queue_that_is_away_costs_nothing_but_a_warning(settings, monkeypatch, hook, site):
    from kombu.exceptions import OperationalError

    settings.CELERY_BROKER_URL = "redis://127.0.0.1:1/0"

    def away(*given, **more):
        raise OperationalError("away")

    monkeypatch.setattr(tasks.work, "apply_async", away)
    tasks.nudge()
    assert site_settings.CELERY_BROKER_URL


def test_a_nudge_is_sent_after_the_commit_and_only_when_something_waits(
    hook, site, monkeypatch, settings, django_capture_on_commit_callbacks
):
    sent = []
    settings.CELERY_BROKER_URL = "redis://127.0.0.1:1/0"
    monkeypatch.setattr(tasks.work, "apply_async", lambda **more: sent.append(more))
    coupling = CouplingFactory(train__site=site)
    with django_capture_on_commit_callbacks(execute=True):
        with recording(by=None, at=NOW):
            told("check.due", coupling, {})
        assert sent == []
    assert len(sent) == 1

    Webhook.objects.all().delete()
    with django_capture_on_commit_callbacks(execute=True), recording(by=None, at=NOW):
        told("check.due", coupling, {})
    assert len(sent) == 1
    assert deliver(NOW) == 0
