"""The specified fit of an unpublished version in the administration."""

import pytest
from zeal import zeal_ignore

from plant.models import Person
from tests.couplings.admin.test_admin import address, said, sent
from tests.factories import DataSheetFactory, SheetVersionFactory


@pytest.fixture
def keeping(client, keeper):
    """The keeper with the key to the administration."""
    Person.objects.filter(pk=keeper.pk).update(is_staff=True)
    client.force_login(Person.objects.get(pk=keeper.pk), backend="plant.backends.PersonBackend")
    with zeal_ignore([{"model": "*", "field": "get()"}]):
        yield client


def test_a_fit_is_specified_and_half_of_one_refused_beside_its_field(keeping, site):
    version = SheetVersionFactory(sheet=DataSheetFactory(site=site), published_at=None, published_by=None, digest="")
    form = sent(keeping.get(address(version))) | {"fit_hole": "H7", "mounting_kind": "clamp"}
    refused = said(keeping.post(address(version), form))
    assert any("class" in sentence for sentences in refused.values() for sentence in sentences), refused
    assert keeping.post(address(version), form | {"fit_shaft": "m6"}).status_code == 302
    version.refresh_from_db()
    assert (version.fit_hole, version.fit_shaft, version.mounting_kind) == ("H7", "m6", "clamp")
