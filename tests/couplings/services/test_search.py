"""Three letters of a tag find a coupling; what is foreign is never found."""

from uuid import uuid4

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from couplings.models import Coupling
from couplings.selectors import coupling_for, couplings_matching
from plant.refusals import Missing
from tests.factories import (
    TODAY,
    CouplingFactory,
    DataSheetFactory,
    FitFactory,
    SheetVersionFactory,
    TrainFactory,
)


@pytest.fixture
def couplings(site, other_site):
    for tag, at in [("BF-21", site), ("BF-22", site), ("CW-07", site), ("BF-99", other_site)]:
        CouplingFactory(train=TrainFactory(site=at, tag=tag, name="Pump " + tag), name="coupling " + tag)


def tags(found):
    return [coupling.tag for coupling in found]


def test_letters_of_tag_name_train_or_serial_number_find_it(couplings, mechanic, site):
    assert tags(couplings_matching(mechanic, "bf-2")) == ["BF-21", "BF-22"]
    assert tags(couplings_matching(mechanic, " pump cw ")) == ["CW-07"]
    version = SheetVersionFactory(sheet=DataSheetFactory(site=site))
    fit = FitFactory(coupling=Coupling.objects.get(tag="CW-07"), sheet_version=version, serial="SN 4471")
    assert tags(couplings_matching(mechanic, "4471")) == ["CW-07"]
    fit.removed_on = TODAY
    fit.save()
    assert tags(couplings_matching(mechanic, "4471")) == []


def test_nothing_typed_finds_nothing(couplings, mechanic):
    assert tags(couplings_matching(mechanic, "  ")) == []


def test_what_is_retired_comes_last(couplings, mechanic):
    Coupling.objects.filter(tag="BF-21").update(retired_on=TODAY)
    assert tags(couplings_matching(mechanic, "BF")) == ["BF-22", "BF-21"]


def test_couplings_of_other_sites_are_not_found(couplings, mechanic, stranger):
    assert tags(couplings_matching(stranger, "BF")) == ["BF-99"]
    foreign = Coupling.objects.get(tag="BF-99")
    assert coupling_for(stranger, foreign.uuid) == foreign
    for uuid in (foreign.uuid, uuid4()):
        with pytest.raises(Missing):
            coupling_for(mechanic, uuid)


def test_a_found_row_prints_without_asking_again(couplings, mechanic):
    mechanic.site_ids()  # read once per request, before any list
    with CaptureQueriesContext(
        connection,
    ) as queries:
        for coupling in couplings_matching(mechanic, "BF"):
            f"{coupling.tag} {coupling.train.area} {coupling.site} {coupling.driver_machine.name}"
    # One: couplings joined with train, area, site and both machines; the serial numbers are a subquery.
    assert len(queries) == 1
