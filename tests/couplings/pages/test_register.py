"""Couplings, fits, elements, stores and instruments in the register: lists, forms, and what is done to one of them."""

import re

import pytest
from django.test import Client
from django.urls import reverse

from couplings.models import Coupling, Element, Fit, Instrument, RemovalReason, StockLot, StorageRule
from tests.factories import CouplingFactory, FitFactory, InstrumentFactory, TrainFactory

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _clock_stands(time_machine):
    time_machine.move_to("2026-10-12T09:00:00Z", tick=False)


@pytest.fixture
def fit(site):
    return FitFactory(coupling=CouplingFactory(train=TrainFactory(site=site, tag="BF-21")), serial="C-7")


@pytest.fixture
def keeping(keeper):
    client = Client()
    client.force_login(keeper)
    return client


def page(noun, row=None, act="one"):
    return reverse(f"register-{noun}-{act}", args=[row.uuid]) if row is not None else reverse(f"register-{noun}")


def sent(client, noun, row, act, **typed):
    return client.post(page(noun, row, act), typed | {"version": str(row.version)})


def test_every_list_and_row_opens(keeping, fit, site):
    element = Element.objects.create(site=site, fit=fit, part_number="E-80", fitted_on=fit.fitted_on)
    lot = StockLot.objects.create(site=site, part_number="E-80", count=3)
    rows = {"couplings": fit.coupling, "fits": fit, "elements": element, "stock": lot}
    for noun, row in (rows | {"instruments": InstrumentFactory(site=site)}).items():
        assert keeping.get(page(noun)).status_code == 200
        assert keeping.get(page(noun, row)).status_code == 200
    found = keeping.get(page("fits"), {"q": "C-7", "open": "yes"}).content.decode()
    assert "C-7" in found


def test_a_value_that_two_forms_ask_for_is_told_once(keeping, fit):
    page = keeping.get(f"/register/couplings/{fit.coupling.uuid}/").content.decode()
    labels = re.findall(r"<dt>(.*?)</dt>", page)
    assert "Tag" in labels
    assert len(labels) == len(set(labels))


def test_a_coupling_is_registered_and_a_fit_put_in_with_its_halves(keeping, fit, site):
    train = TrainFactory(site=site, tag="BF-30")
    typed = {"site": str(site.uuid), "train": str(train.uuid), "driver_position": "1", "tag": "BF-30", "rpm": "1480"}
    refused = keeping.post(reverse("register-couplings-new"), typed | {"driver_position": "2"})
    assert "This train has no machine at this position." in refused.content.decode()
    assert keeping.post(reverse("register-couplings-new"), typed).status_code == 302
    place = Coupling.objects.get(tag="BF-30")
    put = {
        "site": str(site.uuid), "coupling": str(place.uuid), "sheet_version": str(fit.sheet_version.pk),
        "fitted_on": "2026-10-10", "serial": "C-8", "hubs.0": "", "hubs.0.side": "driver", "hubs.0.serial": "H-1",
        "hubs.0.bore_mm": "60.01",
    }  # fmt: skip
    answer = keeping.post(reverse("register-fits-new"), put)
    assert answer.status_code == 302, answer.content.decode()[:3000]
    assert Fit.objects.get(serial="C-8").hubs.get().bore_mm == 60.01


def test_a_fit_is_moved_from_its_page(keeping, fit, site):
    other = CouplingFactory(train=TrainFactory(site=site, tag="BF-22"))
    typed = {"to": str(other.uuid), "on": "2026-10-12", "with_element": "yes"}
    assert sent(keeping, "fits", fit, "move", **typed).status_code == 302
    assert other.fits.get().moved_from == fit


def test_a_coupling_is_retired_with_its_successor(keeping, fit):
    typed = {"on": "2026-10-12", "tag": "BF-21A", "with_fit": "yes"}
    assert sent(keeping, "couplings", fit.coupling, "succeed", **typed).status_code == 302
    assert Coupling.objects.get(tag="BF-21").successor == Coupling.objects.get(tag="BF-21A")


def test_stock_is_received_and_never_falls_below_nothing(keeping, site):
    typed = {"site": str(site.uuid), "part_number": "E-80", "cured_on": "2026-03-01", "number": "4"}
    assert keeping.post(reverse("register-stock-new"), typed).status_code == 302
    lot = StockLot.objects.get()
    refused = sent(keeping, "stock", lot, "issue", number="5")
    assert "5 of 4 in store cannot be taken" in refused.content.decode()
    assert sent(keeping, "stock", lot, "issue", number="1").status_code == 302
    lot.refresh_from_db()
    assert lot.count == 3
    assert "issued" in keeping.get(page("stock", lot)).content.decode()


def test_an_element_is_fitted_and_taken_out(keeping, fit, site):
    lot = StockLot.objects.create(site=site, part_number="E-80", count=3)
    done = sent(keeping, "fits", fit, "element", fitted_on="2026-10-10", lot=str(lot.uuid))
    assert done.status_code == 302, done.content.decode()[:3000]
    element = Element.objects.get()
    refused = sent(keeping, "elements", element, "take-out", removed_on="2026-10-12")
    assert "Say why it was taken out" in refused.content.decode()
    typed = {"removed_on": "2026-10-12", "removal_reason": "torn", "went": "evidence"}
    assert sent(keeping, "elements", element, "take-out", **typed).status_code == 302


def test_a_certificate_is_entered(keeping, site):
    dial = InstrumentFactory(site=site)
    typed = {
        "on": "2026-10-01", "laboratory": "Workshop", "certificate": "C-1", "result": "within", "due_on": "2027-10-01",
    }  # fmt: skip
    assert sent(keeping, "instruments", dial, "calibrate", **typed).status_code == 302
    assert Instrument.objects.get().calibration_days == 365
    assert "Workshop" in keeping.get(page("instruments", dial)).content.decode()


def test_what_is_over_age_in_store_is_listed_with_the_verdict_of_the_storage_rule(keeping, site):
    # Invented periods: NBR five years and two more by this site's own rule.
    StorageRule.objects.create(
        site=site, polymer="NBR", policy="ours", mark="site", initial_years=5, extension_years=2, in_use=True,
        source="invented",
    )  # fmt: skip
    for batch, cured in (("old", "2019-01-01"), ("middle", "2020-10-01"), ("young", "2026-01-01")):
        StockLot.objects.create(site=site, part_number="E-80", batch=batch, cured_on=cured, polymer="NBR", count=2)
    StockLot.objects.create(site=site, part_number="E-90", batch="bare", count=1)
    told = {
        "over": ("old", "over age: not to be fitted"),
        "first": ("middle", "past the first period"),
        "within": ("young", "within its age"),
        "unknown": ("bare", "age not known"),
    }
    for asked, (batch, words) in told.items():
        text = keeping.get(page("stock"), {"age": asked}).content.decode()
        body = text[text.index("<tbody>") :]
        assert words in body
        assert [other for other, _ in told.values() if f">{other}<" in body] == [batch]


def test_coupling_fit_and_element_lead_to_one_another(keeping, fit, site):
    element = Element.objects.create(site=site, fit=fit, part_number="E-80", fitted_on=fit.fitted_on)
    record = reverse("coupling", args=[fit.coupling.uuid])
    there = {
        page("couplings", fit.coupling): [record, page("fits", fit)],
        page("fits", fit): [page("couplings", fit.coupling), page("elements", element)],
        page("elements", element): [page("fits", fit)],
        record: [page("couplings", fit.coupling), page("fits", fit), page("elements", element)],
    }
    for address, led_to in there.items():
        text = keeping.get(address).content.decode()
        assert [one for one in led_to if f'href="{one}"' not in text] == []


def test_a_reason_is_worded_anew_and_keeps_its_code(client, engineer, site):
    client.force_login(engineer)
    typed = {"site": str(site.uuid), "title": "Torn", "code": "torn", "failure": "yes", "in_use": "yes"}
    assert client.post(reverse("register-removal-reasons-new"), typed).status_code == 302
    reason = RemovalReason.objects.get()
    changed = typed | {"title": "Torn at its bolts", "version": str(reason.version)}
    refused = client.post(page("removal-reasons", reason, "edit"), changed | {"code": "other"})
    assert "Its code stays torn" in refused.content.decode()
    assert client.post(page("removal-reasons", reason, "edit"), changed).status_code == 302
    assert "Torn at its bolts" in client.get(page("removal-reasons", reason)).content.decode()
