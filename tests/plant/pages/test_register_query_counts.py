"""Every list of the register asks the database as often for many rows as for a few, whatever stands in a row."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from couplings.models import (
    FailureCode,
    FitClass,
    Grade,
    GradeRow,
    GrowthCoefficient,
    NutFactor,
    RemovalReason,
    SecondScrewFactor,
    StockLot,
    StorageRule,
    TighteningScatter,
    WearCode,
    WearWording,
)
from inspections.models import CheckKind, Policy
from plant.models import MachineUnit, Site, Stop, Train, UnitStay
from plant.pages.register import all_nouns
from tests.factories import (
    NOW,
    TODAY,
    AreaFactory,
    CouplingFactory,
    FamilyFactory,
    FitFactory,
    InstrumentFactory,
    MembershipFactory,
    SheetVersionFactory,
    SiteFactory,
    TrainFactory,
)

pytestmark = pytest.mark.django_db
FEW, MANY = 2, 9
OURS = {"source": "invented for a test"}


def _site(_site, n, person):
    MembershipFactory(person=person, site=SiteFactory(name=f"Works {n}"), role="mechanic")


def _area(site, n, _person):
    area = AreaFactory(site=site, name=f"Area {n}", parent=AreaFactory(site=site))
    TrainFactory(site=site, area=area)


def _train(site, n, _person):
    TrainFactory(site=site, area=AreaFactory(site=site, name=f"Area {n}"))


def _unit(site, n, _person):
    unit = MachineUnit.objects.create(site=site, kind="motor", serial=f"M-{n}")
    machine = TrainFactory(site=site).machines.get(position=1)
    UnitStay.objects.create(site=site, unit=unit, machine=machine, came_told_at=NOW)


def _stop(site, n, _person):
    Stop.objects.create(
        site=site, name=f"Stop {n}", begins_on=TODAY, ends_on=TODAY,
        **({"train": TrainFactory(site=site)} if n % 2 else {"area": AreaFactory(site=site, name=f"Area {n}")}),
    )  # fmt: skip


def _coupling(site, n, _person):
    CouplingFactory(train__site=site, successor=CouplingFactory(train__site=site))


def _family(_site, n, _person):
    FamilyFactory(code=f"family-{n}", name=f"Family {n}")


def _sheet(site, n, _person):
    first = SheetVersionFactory(sheet__site=site, sheet__family=FamilyFactory(code=f"family-{n}"))
    SheetVersionFactory(sheet=first.sheet, number=2, published_at=None, digest="")


def _fit(site, n, _person):
    fit = FitFactory(coupling__train__site=site)
    unit = MachineUnit.objects.create(site=site, kind="motor", serial=f"M-{n}")
    for side in ("driver", "driven"):
        fit.hubs.create(side=side, serial=f"H-{side}-{n}", fitted_on=fit.fitted_on, unit=unit)
    return fit


def _element(site, n, person):
    reason = RemovalReason.objects.create(site=site, code=f"reason-{n}", title=f"reason {n}")
    lot = StockLot.objects.create(site=site, part_number="E-80", batch=f"B-{n}", count=1)
    _fit(site, n, person).elements.create(
        site=site, part_number="E-80", fitted_on=TODAY, removed_on=TODAY, removal_code=reason, lot=lot
    )


def _grade(site, n, _person):
    grade = Grade.objects.create(site=site, name=f"Grade {n}")
    for kind in ("short", "spacer"):
        GradeRow.objects.create(grade=grade, kind=kind, up_to_rpm=3600, offset_mm=0.1, **OURS)


def _policy(site, n, _person):
    kinds = [(kind, letter) for letter in Train.Criticality.values for kind in CheckKind.values]
    kind, letter = kinds[n]
    Policy.objects.create(site=site, check_kind=kind, criticality=letter, every_months=12)


def _code(n):
    code = WearCode.objects.create(code=f"code-{n}", title=f"Code {n}", grade_0="none", **OURS)
    code.families.add(FamilyFactory(code=f"family-{n}"))


def _wording(site, n, _person):
    _code(n)
    WearWording.objects.create(site=site, code=f"code-{n}", title=f"Ours {n}", grade_0="none", **OURS)


def _rows(model, **given):
    """A row of a table; what is a function is asked for the number of the row."""

    def make(site, n, _person):
        model.objects.create(
            site=site, **{name: value(n) if callable(value) else value for name, value in given.items()}
        )

    return make


MAKE = {
    "sites": _site, "areas": _area, "trains": _train, "machine-units": _unit, "stops": _stop, "couplings": _coupling,
    "families": _family, "data-sheets": _sheet, "fits": _fit, "elements": _element, "grades": _grade,
    "policies": _policy, "wear-codes": lambda _site, n, _person: _code(n), "wear-wordings": _wording,
    "instruments": lambda site, n, _person: InstrumentFactory(site=site, serial=f"I-{n}"),
    "stock": _rows(StockLot, part_number=lambda n: f"E-{n}", count=1, cured_on=TODAY, polymer="NBR"),
    "removal-reasons": _rows(RemovalReason, code=lambda n: f"reason-{n}", title=lambda n: f"reason {n}"),
    "growth": _rows(GrowthCoefficient, material=lambda n: Site.SupportMaterial.values[n], per_k=11, per_k_u=1, **OURS),
    "storage-rules": _rows(StorageRule, polymer=lambda n: f"P{n}", policy="house", initial_years=7, **OURS),
    "nut-factors": _rows(NutFactor, of_set="ours", condition=lambda n: f"state {n}", nut_factor=0.15, **OURS),
    "scatter": _rows(TighteningScatter, of_set="ours", method=lambda n: f"way {n}", scatter=0.3, **OURS),
    "second-screws": _rows(SecondScrewFactor, from_deg=lambda n: n, to_deg=lambda n: n, factor=2, **OURS),
    "fit-classes": _rows(
        FitClass, name=lambda n: f"class {n}", over_mm=25, up_to_mm=50, bore_lower_mm=0, bore_upper_mm=0.02,
        shaft_lower_mm=0.02, shaft_upper_mm=0.04, **OURS,
    ),
    "failure-codes": _rows(FailureCode, kind="mode", code=lambda n: f"X{n}", name="invented", **OURS),
}  # fmt: skip


def test_every_noun_of_the_register_is_counted():
    assert set(MAKE) == {noun.key for noun in all_nouns()}


@pytest.mark.parametrize("key", MAKE)
def test_a_list_asks_the_database_as_often_for_many_rows_as_for_a_few(as_person_on_pages, site, mechanic, key):
    client, address = as_person_on_pages(mechanic), f"/register/{key}/"
    asked = []
    for begun, number in ((0, FEW), (FEW, MANY)):
        for n in range(begun, number):
            MAKE[key](site, n, mechanic)
        with CaptureQueriesContext(connection) as queries:
            answer = client.get(address)
        assert answer.status_code == 200
        asked.append(len(queries))
    assert answer.content.decode().count('<th scope="row"') >= MANY
    assert asked[1] <= asked[0], [query["sql"] for query in queries]
