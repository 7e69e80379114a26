"""A site's own tables in the administration."""

import pytest
from django.urls import reverse

from couplings.models import NutFactor
from couplings.services.tables import TABLES
from tests.couplings.admin.test_admin import address, said, sent
from tests.couplings.admin.test_wear import signed_in
from tests.world import World

__all__ = ["signed_in"]
NAMES = ["nut_factor", "tightening_scatter", "second_screw_factor", "fit_class", "failure_code"]


@pytest.mark.parametrize("name", NAMES)
def test_every_table_is_listed_searched_and_shown_with_its_history(signed_in, engineer, site, name):
    client = signed_in(engineer)
    row = getattr(World(site, engineer), name) if name != "second_screw_factor" else None
    row = row or next(model for model in TABLES if model._meta.model_name == "secondscrewfactor").objects.first()
    listed = reverse(f"admin:couplings_{row._meta.model_name}_changelist")
    for place in (listed, f"{listed}?q=a", address(row), address(row, "history")):
        assert client.get(place).status_code == 200


def test_an_engineer_changes_a_row_and_it_is_the_sites_own(signed_in, engineer):
    client, bare = signed_in(engineer), NutFactor.objects.get(of_set="shigley", condition="bare")
    form = sent(client.get(address(bare)))
    refused = said(client.post(address(bare), form | {"nut_factor": "20"}))
    assert refused == {"__all__": ["nut_factor must lie between 0.03 and 1."]}
    assert client.post(address(bare), form | {"nut_factor": "0.28", "source": "test bolts"}).status_code == 302
    bare.refresh_from_db()
    assert (bare.nut_factor, bare.mark, bare.version) == (0.28, "site", 2)
    assert bare.history.first().history_user == engineer


def test_an_engineer_adds_and_removes_a_row(signed_in, engineer, site):
    client, add = signed_in(engineer), reverse("admin:couplings_nutfactor_add")
    new = {"site": site.pk, "of_set": "ours", "condition": "waxed", "nut_factor": "0.12", "source": "test bolts"}
    assert client.post(add, sent(client.get(add)) | new).status_code == 302
    row = NutFactor.objects.get(of_set="ours")
    assert (row.nut_factor, row.mark, row.history.count()) == (0.12, "site", 1)
    assert client.post(address(row, "delete"), {"post": "yes"}).status_code == 302
    assert not NutFactor.objects.filter(of_set="ours").exists()
    assert NutFactor.history.filter(of_set="ours").first().history_type == "-"


def test_a_mechanic_only_reads_them(signed_in, mechanic):
    client, bare = signed_in(mechanic), NutFactor.objects.get(of_set="shigley", condition="bare")
    assert client.get(address(bare)).status_code == 200
    assert client.post(address(bare), {"nut_factor": "0.5"}).status_code == 403
    assert client.post(address(bare, "delete"), {"post": "yes"}).status_code == 403
