"""Couplings, fits, elements, stores and instruments in the register: lists, forms, and what is done to one of them."""

import pytest
from django.test import Client
from django.urls import reverse

from couplings.models import Coupling, Element, Fit, Instrument, StockLot
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
