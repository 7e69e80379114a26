"""A site's coefficients of thermal expansion in the administration."""

from django.urls import reverse

from couplings.models import GrowthCoefficient
from tests.couplings.admin.test_admin import address, said, sent
from tests.couplings.admin.test_wear import signed_in

__all__ = ["signed_in"]


def test_an_engineer_changes_a_coefficient_and_it_is_the_sites_own(signed_in, engineer):
    client, iron = signed_in(engineer), GrowthCoefficient.objects.get(material="gray iron")
    form = sent(client.get(address(iron)))
    refused = client.post(address(iron), form | {"per_k_u": "40"})
    assert list(said(refused)) == ["per_k_u"]
    assert client.post(address(iron), form | {"per_k": "10.6", "source": "test bars"}).status_code == 302
    iron.refresh_from_db()
    assert (iron.per_k, iron.mark, iron.material) == (10.6, "site", "gray iron")


def test_a_second_row_for_a_material_is_refused_with_its_reason(signed_in, engineer, site):
    client, add = signed_in(engineer), reverse("admin:couplings_growthcoefficient_add")
    new = {"site": site.pk, "material": "gray iron", "per_k": "11", "per_k_u": "0.3", "source": "test bars"}
    twice = said(client.post(add, sent(client.get(add)) | new))
    assert twice == {"__all__": ["Growth coefficient with this Site and Material already exists."]}
    GrowthCoefficient.objects.filter(material="gray iron").delete()
    assert client.post(add, sent(client.get(add)) | new).status_code == 302
    assert GrowthCoefficient.objects.get(material="gray iron").per_k == 11


def test_a_mechanic_only_reads_them(signed_in, mechanic):
    client, iron = signed_in(mechanic), GrowthCoefficient.objects.get(material="gray iron")
    assert client.get(address(iron)).status_code == 200
    assert client.post(address(iron), {"per_k": "5"}).status_code == 403
