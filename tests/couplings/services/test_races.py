"""Two crews at one place at the same moment: one is recorded, the other is told which field was taken."""

from threading import Barrier, Thread

import pytest
from django.db import connection

from couplings.models import Element, Fit
from couplings.services.fits import fit_element, install_fit, remove_fit
from plant.recording import recording
from plant.refusals import Refused
from tests.factories import (
    NOW,
    TODAY,
    CouplingFactory,
    DataSheetFactory,
    FitFactory,
    SheetVersionFactory,
    TrainFactory,
)

pytestmark = pytest.mark.django_db(transaction=True)


def at_once(*calls):
    """Let every call begin at the same moment in a unit of its own; what each was refused, or None."""
    barrier, told = Barrier(len(calls)), [None] * len(calls)

    def run(no, call):
        barrier.wait()
        try:
            with recording(by=None, at=NOW):
                call()
        except Refused as refused:
            told[no] = refused.as_dict()
        finally:
            connection.close()

    threads = [Thread(target=run, args=(no, call)) for no, call in enumerate(calls)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return told


@pytest.fixture
def fit(site):
    version = SheetVersionFactory(sheet=DataSheetFactory(site=site))
    return FitFactory(coupling=CouplingFactory(train=TrainFactory(site=site)), sheet_version=version)


def test_one_of_two_fits_at_one_place_is_recorded(fit):
    given = {"coupling": fit.coupling, "sheet_version": fit.sheet_version, "fitted_on": TODAY}
    fit.delete()
    told = at_once(lambda: install_fit(**given), lambda: install_fit(**given))
    assert sorted(refusal is None for refusal in told) == [False, True]
    assert set(next(refusal for refusal in told if refusal is not None)) == {"coupling"}
    assert Fit.objects.count() == 1


def test_one_of_two_first_elements_is_recorded(fit):
    def put_in():
        fit_element(fit=Fit.objects.get(), part_number="E-80", fitted_on=TODAY)

    told = at_once(put_in, put_in)
    assert sorted(refusal is None for refusal in told) == [False, True]
    assert Element.objects.filter(removed_on=None).count() == 1


def test_no_element_is_left_in_place_in_a_fit_that_is_removed_meanwhile(fit):
    at_once(
        lambda: fit_element(fit=Fit.objects.get(), part_number="E-80", fitted_on=TODAY),
        lambda: remove_fit(fit=Fit.objects.get(), removed_on=TODAY),
    )
    assert Fit.objects.get().removed_on == TODAY
    assert not Element.objects.filter(removed_on=None).exists()
