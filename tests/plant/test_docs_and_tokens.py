"""Two pages for those who write programs: the API's documentation and one's own tokens."""

import re

import pytest
from django.urls import reverse

from plant.models import Token
from plant.pages.docs import groups_of
from tests.factories import NOW

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _noon(time_machine):
    time_machine.move_to(NOW, tick=False)


@pytest.fixture
def schema(client, keeper):
    client.force_login(keeper)
    return client.get(reverse("api-schema")).json()


def test_the_schema_is_openapi_3_1_and_names_no_other_host(schema):
    assert schema["openapi"].startswith("3.1")
    assert "http://" not in str(schema)
    assert "https://" not in str(schema)


def test_every_reference_of_the_schema_leads_somewhere(schema):
    names = set(re.findall(r"'\$ref': '#/components/schemas/([^']+)'", str(schema)))
    assert names
    assert names <= set(schema["components"]["schemas"])


def test_every_operation_documents_how_it_refuses_and_what_it_asks_for(schema):
    for path, operations in schema["paths"].items():
        for method, operation in operations.items():
            headers = {each["name"] for each in operation.get("parameters", []) if each["in"] == "header"}
            assert {"401", "403", "429"} <= set(operation["responses"]), (method, path)
            if method in ("post", "patch", "put"):
                assert {"409", "422"} <= set(operation["responses"]), (method, path)
            if "If-Match" in headers:
                assert {"412", "428"} <= set(operation["responses"]), (method, path)
    sent = schema["components"]["schemas"]["MachineRequest"]["properties"]["shaft_length"]
    assert sent["required"] == ["value", "unit"]
    assert {"mm", "inch"} <= set(sent["properties"]["unit"]["enum"])


def test_the_page_shows_every_operation_without_foreign_or_inline_assets(client, keeper, schema):
    page = client.get(reverse("api-docs"))
    assert page.status_code == 200
    html = page.content.decode()
    for _, operations in groups_of(schema):
        for operation in operations:
            assert f'id="{operation.anchor}"' in html
    assert "machines[].shaft_length" in html
    assert not re.search(r'(?:src|href)="(?:https?:)?//', html)
    assert not re.search(r"<style|\sstyle=|\son\w+=|<script(?![^>]*\ssrc=)", html)


def test_a_token_is_made_on_the_page_and_its_secret_shown_once(client, mechanic, site):
    client.force_login(mechanic)
    form = client.get(reverse("tokens"))
    assert "register.write" not in form.content.decode()
    body = {"name": "tablet", "expires_on": "2026-12-31", "scopes": ["read"], "sites": [str(site.uuid)]}
    made = client.post(reverse("tokens"), body)
    secret = re.search(r"asl_[\w-]{20,}", made.content.decode()).group()
    token = Token.objects.get()
    assert token.digest == Token.digest_of(secret)
    # The last day is a day at the site, which is an hour ahead of UTC in winter.
    assert token.expires_at.isoformat() == "2026-12-31T23:00:00+00:00"
    assert secret not in client.get(reverse("tokens")).content.decode()
    assert client.get("/api/v1/sites/", headers={"Authorization": f"Bearer {secret}"}).status_code == 200


def test_what_is_refused_stands_beside_its_field_with_what_was_typed(client, mechanic):
    client.force_login(mechanic)
    refused = client.post(reverse("tokens"), {"name": "tablet", "expires_on": "2030-01-01", "scopes": ["read"]})
    assert refused.status_code == 422
    html = refused.content.decode()
    assert "A token ends after a year at the latest." in html
    assert 'value="tablet"' in html
    assert not Token.objects.exists()


def test_a_token_is_revoked_on_the_page(client, mechanic, keeper):
    token = mechanic.tokens.create(name="t", prefix="asl_abcd", digest="0" * 64, made_at=NOW, expires_at=NOW)
    client.force_login(keeper)
    assert client.post(reverse("token-revoke", args=[token.uuid])).status_code == 404
    client.force_login(mechanic)
    assert client.post(reverse("token-revoke", args=[token.uuid])).status_code == 302
    token.refresh_from_db()
    assert token.revoked_at == NOW
