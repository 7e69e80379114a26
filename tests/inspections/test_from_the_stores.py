"""An element out of the stores in a visit, and a wear number judged with its instrument's uncertainty."""

import pytest

from couplings.models import Element, RemovalReason, StockLot
from couplings.services.starters import load_removal_reasons
from inspections.models import ElementFact, Wear
from inspections.selectors.verification import verify
from inspections.selectors.visits import read_entry
from inspections.services.signing import sign_visit
from inspections.steps import STEPS
from plant.recording import recording
from tests.factories import NOW, InstrumentFactory
from tests.inspections.visits import save
from tests.inspections.worn import limited, starters


@pytest.fixture
def lot(site):
    return StockLot.objects.create(site=site, part_number="E-80", batch="B-9", cured_on="2026-02-01", count=2)


def read(visit, by, step, fields):
    save(visit, step, fields, by)
    return read_entry(type(visit).objects.get(pk=visit.pk), step)


def test_lots_that_have_some_left_are_offered_the_oldest_first(visit, site, lot):
    StockLot.objects.create(site=site, part_number="E-80", batch="B-8", cured_on="2025-02-01", count=1, place="Bin 2")
    StockLot.objects.create(site=site, part_number="E-80", batch="B-7", cured_on="2024-02-01", count=0)
    rows = {row.name: row for row in STEPS["element"].fields(visit, {})}
    assert [words for _, words in rows["lot"].choices] == [
        "E-80 B-8, cured 2025-02-01, 1 in store, Bin 2",
        "E-80 B-9, cured 2026-02-01, 2 in store",
    ]


def test_signing_takes_one_out_of_the_lot_and_says_why_the_old_one_came_off(filled, fit, lot, site, mechanic):
    with recording(by=None, at=NOW):
        load_removal_reasons(site=site)
    old = Element.objects.create(site=site, fit=fit, part_number="E-80", fitted_on=fit.fitted_on)
    typed = {
        "act": "fitted", "lot": str(lot.uuid), "removal_code": "worn", "removal_finding": "two legs torn",
        "went": "evidence", "went_to": "cabinet 2",
    }  # fmt: skip
    filled.entries.filter(step="element").delete()
    assert read(filled, mechanic, "element", typed).complete
    with recording(by=mechanic, at=NOW):
        record = sign_visit(visit=filled)
    lot.refresh_from_db()
    old.refresh_from_db()
    new = Element.objects.get(removed_on__isnull=True)
    assert (lot.count, new.lot, new.batch) == (1, lot, "B-9")
    assert (old.removal_code, old.went) == (RemovalReason.objects.get(code="worn"), "evidence")
    assert old.removal_finding == "two legs torn"
    fact = ElementFact.objects.get(record=record)
    assert (fact.lot, fact.removal_code, fact.part_number) == (str(lot.uuid), "worn", "E-80")
    assert verify().findings == []


@pytest.mark.parametrize(
    ("typed", "field", "said"),
    [
        ({"lot": "B-9"}, "lot", "No such lot"),
        ({"batch": "B-1"}, "batch", "The lot says B-9"),
        ({"cured_on": "2026-03-01"}, "cured_on", "The lot says 2026-02-01"),
        ({"went": "moon"}, "went", "is not a choice here"),
        ({"went": "stores"}, "went", "none can have come off"),
    ],
)
def test_what_does_not_fit_the_lot_is_refused_beside_its_field(visit, mechanic, lot, typed, field, said):
    assert said in read(visit, mechanic, "element", {"act": "fitted", "lot": str(lot.uuid)} | typed).errors[field]


@pytest.mark.parametrize(
    ("value", "verdict", "grade"),
    # A normal value decided at 95 %, one-sided 1.645 (ISO 14253-1): 0.1 mm reaches 0.16 mm to either side of 4 mm.
    [("3.8", "in tolerance", None), ("3.9", "too close to call", None), ("4.2", "out of tolerance", 3)],
)
def test_a_wear_number_is_judged_with_its_instruments_uncertainty(filled, site, mechanic, value, verdict, grade):
    starters()
    InstrumentFactory(site=site, kind="caliper", name="Caliper", serial="C-5", standard_u_mm=0.1)
    limited(filled.sheet_version, "crack", 4.0)
    told = read(filled, mechanic, "wear", {"crack.number": value, "crack.gauge": "C-5"})
    (one,) = told.found
    assert one.verdict == verdict
    assert "Caliper C-5, standard uncertainty 0.100\u00a0mm" in one.sentence
    assert any("too close to call" in warning for warning in told.warnings) == (verdict == "too close to call")
    with recording(by=mechanic, at=NOW):
        record = sign_visit(visit=filled)
    row = Wear.objects.get(record=record)
    assert (row.instrument.serial, row.u, row.verdict, row.grade) == ("C-5", 0.1, verdict, grade)
    assert verify().findings == []


def test_an_instrument_without_its_number_is_asked_for_it(visit, site, mechanic):
    starters()
    InstrumentFactory(site=site, kind="caliper", name="Caliper", serial="C-5", standard_u_mm=0.1)
    missing = read(visit, mechanic, "wear", {"crack.grade": "1", "crack.gauge": "C-5"}).missing
    assert "what it read is missing" in missing["crack.number"]
