"""Wear codes, a version's wear limits and a site's storage rules in the administration."""

import pytest
from django.urls import reverse
from zeal import zeal_ignore

from couplings.models import StorageRule, WearCode
from couplings.services.starters import load_starters
from plant.models import Person
from plant.recording import recording
from tests.couplings.admin.test_admin import address, said, sent
from tests.factories import NOW, DataSheetFactory, SheetVersionFactory


@pytest.fixture
def signed_in(client, site):
    """Somebody with the key to the administration; the starters are there."""
    with recording(by=None, at=NOW):
        load_starters(site=site)

    def signed_in(person):
        Person.objects.filter(pk=person.pk).update(is_staff=True)
        client.force_login(Person.objects.get(pk=person.pk), backend="plant.backends.PersonBackend")
        return client

    with zeal_ignore([{"model": "*", "field": "get()"}]):
        yield signed_in


def test_an_engineer_takes_a_rule_out_of_use_and_cannot_have_two(signed_in, engineer, site):
    client = signed_in(engineer)
    iso, handbook = StorageRule.objects.filter(polymer="NBR").order_by("policy")
    both = client.post(address(handbook), sent(client.get(address(handbook))) | {"in_use": "on"})
    assert said(both) == {"in_use": ["iso-2230 is in use for NBR: take it out of use first."]}
    form = sent(client.get(address(iso)))
    del form["in_use"]
    assert client.post(address(iso), form).status_code == 302
    assert client.post(address(handbook), sent(client.get(address(handbook))) | {"in_use": "on"}).status_code == 302
    assert StorageRule.objects.get(polymer="NBR", in_use=True).policy == "mil-hdbk-695e"


def test_a_rule_without_a_source_is_refused_beside_the_field(signed_in, engineer, site):
    client, add = signed_in(engineer), reverse("admin:couplings_storagerule_add")
    new = {"site": site.pk, "polymer": "PU", "policy": "house", "initial_years": "4", "source": " "}
    assert list(said(client.post(add, sent(client.get(add)) | new))) == ["source"]
    assert not StorageRule.objects.filter(polymer="PU").exists()
    assert client.post(add, sent(client.get(add)) | new | {"source": "store rule 12"}).status_code == 302
    assert StorageRule.objects.get(polymer="PU").mark == "site"


def test_a_wear_limit_is_added_to_an_unpublished_version(signed_in, keeper, site):
    client = signed_in(keeper)
    version = SheetVersionFactory(sheet=DataSheetFactory(site=site), published_at=None, published_by=None, digest="")
    row = {"wear_limits-TOTAL_FORMS": "1", "wear_limits-0-code": WearCode.objects.get(code="play").pk}
    refused = sent(client.get(address(version))) | row | {"wear_limits-0-limit": "0"}
    assert client.post(address(version), refused).status_code == 200
    assert not version.wear_limits.exists()
    assert client.post(address(version), refused | {"wear_limits-0-limit": "4"}).status_code == 302
    assert version.wear_limits.get().limit == 4.0


def test_codes_are_everybodys_so_a_keeper_only_reads_them(signed_in, keeper):
    client, code = signed_in(keeper), WearCode.objects.get(code="crack")
    assert client.get(address(code)).status_code == 200
    assert client.post(address(code), {"title": "Splits"}).status_code == 403
    assert client.get(reverse("admin:couplings_storagerule_add")).status_code == 403
