"""Counts in store: what moved, what is left, how old it is, and that nothing is taken that is not there."""

from datetime import date

import pytest

from couplings.models import Element, RemovalReason, StockLot, StockMovement, StorageRule
from couplings.selectors import element_in, removal_reasons, storage_ages
from couplings.services.fits import change_element, fit_element, remove_element
from couplings.services.starters import load_starters
from couplings.services.stock import change_lot, move_stock, receive_stock, write_removal_reason
from plant.recording import recording
from plant.refusals import NotAllowed, Stale
from tests.couplings.services.test_races import at_once
from tests.couplings.services.test_sheets import refusal
from tests.factories import NOW, TODAY, CouplingFactory, DataSheetFactory, FitFactory, SheetVersionFactory, TrainFactory

CURED = date(2024, 3, 1)


@pytest.fixture
def fit(site):
    version = SheetVersionFactory(sheet=DataSheetFactory(site=site), element_polymer="NBR")
    return FitFactory(coupling=CouplingFactory(train=TrainFactory(site=site, tag="BF-21")), sheet_version=version)


def received(by, site, number=4, **fields):
    given = {"part_number": "E-80", "batch": "B-1", "cured_on": CURED} | fields
    with recording(by=by, at=NOW):
        return receive_stock(site=site, number=number, **given)


def moved(by, lot, kind, number, **more):
    with recording(by=by, at=NOW):
        return move_stock(lot=lot, kind=kind, number=number, **more)


def test_receipts_of_one_part_batch_and_cure_date_are_one_lot(keeper, site):
    lot = received(keeper, site, place="Shelf 3")
    again = received(keeper, site, number=2)
    assert (again, again.count, again.place) == (lot, 6, "Shelf 3")
    assert received(keeper, site, cured_on=None) != lot
    assert [row.count_after for row in lot.movements.all()] == [4, 6]


def test_the_count_is_what_the_movements_add_up_to(keeper, site):
    lot = received(keeper, site)
    moved(keeper, lot, "issue", 1)
    moved(keeper, lot, "scrapped", 1, note="perished")
    moved(keeper, lot, "correction", 5, note="three lay behind the others")
    lot.refresh_from_db()
    rows = list(lot.movements.order_by("pk"))
    assert [row.change for row in rows] == [4, -1, -1, 3]
    assert lot.count == sum(row.change for row in rows) == rows[-1].count_after == 5
    assert {row.by for row in rows} == {keeper}


@pytest.mark.parametrize(
    ("given", "errors"),
    [
        (
            {"kind": "issue", "number": 5},
            {"number": "5 of 4 in store cannot be taken: count the lot, and enter a correction first."},
        ),
        ({"kind": "issue", "number": 0}, {"number": "At least one moves."}),
        ({"kind": "issue", "number": -2}, {"number": "At least one moves."}),
        ({"kind": "scrapped", "number": 1}, {"note": "Say why they were scrapped."}),
        (
            {"kind": "correction", "number": 4, "note": "x"},
            {"number": "4 is what the record says already: nothing needs correcting."},
        ),
        ({"kind": "correction", "number": 3}, {"note": "Say what was counted and why it differs."}),
        (
            {"kind": "correction", "number": -1, "note": "x"},
            {"number": "Enter how many were counted, nought or more."},
        ),
        ({"kind": "receipt", "number": 100_000}, {"number": "A lot holds at most 100,000."}),
        (
            {"kind": "issue", "number": 1, "on": date(2026, 10, 13)},
            {"on": "2026-10-13 is still to come: a movement is recorded once it has happened."},
        ),
        ({"kind": "lost", "number": 1}, {"kind": "Value 'lost' is not a valid choice."}),
    ],
)
def test_a_movement_that_cannot_be_is_refused(keeper, site, given, errors):
    lot = received(keeper, site)
    assert refusal(move_stock, by=keeper, lot=lot, **given) == errors
    lot.refresh_from_db()
    assert (lot.count, StockMovement.objects.count()) == (4, 1)


def test_a_receipt_before_its_cure_date_is_refused(keeper, site):
    assert refusal(
        receive_stock, by=keeper, site=site, part_number=" ", number=1, on=TODAY, cured_on=date(2026, 10, 13)
    ) == {
        "part_number": "This field cannot be blank.",
        "cured_on": "The cure date 2026-10-13 lies after the day they were received, 2026-10-12.",
    }


@pytest.mark.django_db(transaction=True)
def test_the_last_one_is_taken_once(keeper, site):
    lot = received(keeper, site, number=1)
    take = [lambda: move_stock(lot=StockLot.objects.get(pk=lot.pk), kind="issue", number=1) for _ in range(2)]
    told = at_once(*take)
    assert sorted(one is None for one in told) == [False, True]
    lot.refresh_from_db()
    assert lot.count == 0


def test_who_saw_an_older_count_is_told(keeper, site):
    lot = received(keeper, site)
    seen = lot.version
    moved(keeper, lot, "issue", 1)
    with pytest.raises(Stale):
        moved(keeper, lot, "issue", 1, expected=seen)


def test_a_manager_counts_nothing(manager, site):
    with pytest.raises(NotAllowed):
        received(manager, site)


def test_an_element_from_a_lot_has_its_batch_and_cure_date_and_leaves_one_less(mechanic, keeper, site, fit):
    lot = received(keeper, site)
    with recording(by=mechanic, at=NOW):
        element = fit_element(fit=fit, lot=lot, fitted_on=TODAY)
    lot.refresh_from_db()
    assert (element.part_number, element.batch, element.cured_on, element.lot) == ("E-80", "B-1", CURED, lot)
    row = lot.movements.get(kind="issue")
    assert (lot.count, row.change, row.element, row.note) == (3, -1, element, "fitted at BF-21")


def test_a_lot_that_does_not_fit_what_is_said_or_is_empty_is_refused(mechanic, keeper, site, other_site, fit):
    lot = received(keeper, site)
    assert refusal(fit_element, by=mechanic, fit=fit, lot=lot, fitted_on=TODAY, batch="B-2") == {
        "batch": "The lot says B-1: leave this empty, or choose another lot."
    }
    moved(keeper, lot, "correction", 0, note="none found")
    assert refusal(fit_element, by=mechanic, fit=fit, lot=lot, fitted_on=TODAY) == {
        "lot": "Nothing of this lot is left in store: count it and enter the correction first."
    }
    far = StockLot.objects.create(site=other_site, part_number="E-80", count=1)
    assert refusal(fit_element, by=mechanic, fit=fit, lot=far, fitted_on=TODAY)["lot"] == (
        "This lot lies at another site."
    )
    assert refusal(fit_element, by=mechanic, fit=fit, fitted_on=TODAY)["part_number"] == (
        "Name the part, or the lot of the stores it came from."
    )
    assert not Element.objects.exists()


def test_lots_are_judged_by_the_rule_of_their_site_and_what_the_sheets_say_they_are(
    keeper, site, fit, django_assert_num_queries
):
    # Invented years: 2 and 1 more, so that 1 March 2024 is past the first period and within the second.
    StorageRule.objects.create(
        site=site, polymer="NBR", policy="house", initial_years=2, extension_years=1, in_use=True, source="invented"
    )
    lots = [
        received(keeper, site),
        received(keeper, site, cured_on=date(2026, 3, 1)),
        received(keeper, site, cured_on=date(2020, 3, 1)),
        received(keeper, site, cured_on=None),
        received(keeper, site, part_number="unknown part"),
    ]
    # Rules, polymers by part.
    with django_assert_num_queries(2):
        ages = storage_ages(lots, TODAY)
    assert [age and age.verdict for age in ages] == [
        "too close to call", "in tolerance", "out of tolerance", None, None,
    ]  # fmt: skip
    with recording(by=keeper, at=NOW):
        change_lot(lot=lots[4], polymer="nbr")
    assert storage_ages([lots[4]], TODAY)[0].polymer == "NBR"


def test_an_element_is_taken_out_with_reason_finding_and_where_it_went(mechanic, engineer, site, fit):
    with recording(by=engineer, at=NOW):
        worn = write_removal_reason(site=site, code="worn", title="worn out", failure=True)
    with recording(by=mechanic, at=NOW):
        element = fit_element(fit=fit, part_number="E-80", fitted_on=date(2026, 10, 2))
        remove_element(
            element=element, removed_on=TODAY, removal_code=worn, removal_finding="two legs torn", went="evidence",
            went_to="cabinet 2",
        )  # fmt: skip
    assert element_in(fit) is None
    element.refresh_from_db()
    assert (element.removal_code, element.went, element.removal_finding) == (worn, "evidence", "two legs torn")
    with recording(by=mechanic, at=NOW):
        change_element(element=element, removal_finding="three legs torn")
    assert refusal(change_element, by=mechanic, element=element, removal_code=None) == {
        "removal_reason": "Say why it was taken out: its life is learned from it."
    }
    assert "removed_on" in refusal(remove_element, by=mechanic, element=element, removed_on=TODAY)


def test_taking_out_what_cannot_be_is_refused(mechanic, site, other_site, fit):
    with recording(by=mechanic, at=NOW):
        element = fit_element(fit=fit, part_number="E-80", fitted_on=date(2026, 10, 2))
    foreign = RemovalReason.objects.create(site=other_site, code="worn", title="worn out")
    assert refusal(remove_element, by=mechanic, element=element, removed_on=date(2026, 10, 1), went="moon") == {
        "removed_on": "It was fitted on 2026-10-02: it cannot have been taken out before.",
        "removal_reason": "Say why it was taken out: its life is learned from it.",
        "went": "Value 'moon' is not a valid choice.",
    }
    assert refusal(remove_element, by=mechanic, element=element, removed_on=TODAY, removal_code=foreign) == {
        "removal_code": "This reason belongs to another site."
    }
    assert refusal(change_element, by=mechanic, element=element, went="scrapped") == {
        "went": "This element is still in place: take it out first."
    }


def test_starters_bring_reasons_and_leave_the_sites_own_words(engineer, site):
    with recording(by=engineer, at=NOW):
        write_removal_reason(site=site, code="worn", title="worn through", failure=True)
        load_starters(site=site)
        load_starters(site=site)
    found = {row.code: row.title for row in removal_reasons(site)}
    assert found["worn"] == "worn through"
    assert {"aged", "planned", "broken", "disturbed"} < set(found)
    assert refusal(write_removal_reason, by=engineer, site=site, code="worn", title="x") == {
        "code": "This site has a reason of this code already: change that one."
    }
