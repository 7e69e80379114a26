"""Rows for tests, without chance in them: an invented plant with one motor-pump train."""

from datetime import UTC, date, datetime

import factory

from couplings.models import Coupling, DataSheet, Family, Fit, Instrument, SheetJoint, SheetLimit, SheetVersion
from inspections.models import WorkOrder
from plant.models import Area, FootPlane, Machine, Membership, Person, Site, SiteNumber, Train

NOW = datetime(2026, 10, 12, 9, 0, tzinfo=UTC)
TODAY = date(2026, 10, 12)


class SiteFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = Site
        skip_postgeneration_save = True
        django_get_or_create = ["name"]

    name = "Greyfen Works"
    zone = "Europe/Oslo"
    units = "metric"

    @factory.post_generation
    def number(self, create, extracted, **kwargs):
        SiteNumber.objects.get_or_create(site=self)


class PersonFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = Person
        django_get_or_create = ["username"]

    username = factory.Sequence(lambda n: f"person{n}")
    first_name = factory.LazyAttribute(lambda person: person.username.title())
    is_active = True


class MembershipFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = Membership

    person = factory.SubFactory(PersonFactory)
    site = factory.SubFactory(SiteFactory)
    role = "mechanic"
    from_on = date(2020, 1, 1)


class AreaFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = Area
        django_get_or_create = ["site", "name"]

    site = factory.SubFactory(SiteFactory)
    name = "Boiler feed"


class TrainFactory(factory.django.DjangoModelFactory):
    """A motor on two foot planes at position 1 driving a pump at position 2."""

    class Meta:
        model = Train
        skip_postgeneration_save = True

    site = factory.SubFactory(SiteFactory)
    area = factory.SubFactory(AreaFactory, site=factory.SelfAttribute("..site"))
    tag = factory.Sequence(lambda n: f"BF-{21 + n}")
    name = "Boiler feed pump"
    criticality = "A"

    @factory.post_generation
    def machines(self, create, extracted, **kwargs):
        motor = Machine.objects.create(
            train=self, position=1, name="motor", role="driver", movable=True, shaft_length_mm=1000
        )
        pump = Machine.objects.create(train=self, position=2, name="pump", role="driven", shaft_length_mm=900)
        FootPlane.objects.create(machine=motor, name="outboard", distance_mm=300, support_height_mm=355)
        FootPlane.objects.create(machine=motor, name="inboard", distance_mm=800, support_height_mm=355)
        FootPlane.objects.create(machine=pump, name="inboard", distance_mm=200, support_height_mm=355)
        FootPlane.objects.create(machine=pump, name="outboard", distance_mm=700, support_height_mm=355)


class FamilyFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = Family
        django_get_or_create = ["code"]

    code = "elastomer-compression"
    name = "Elastomer in compression"
    kind = "short"
    element_name = "insert"
    ages = True


class DataSheetFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = DataSheet

    site = factory.SubFactory(SiteFactory)
    family = factory.SubFactory(FamilyFactory)
    designation = factory.Sequence(lambda n: f"Jaw design {n}")


class SheetVersionFactory(factory.django.DjangoModelFactory):
    """A published version: 0.20 mm offset and 1 mm/m angularity on the vector; eight bolts at 45 N·m."""

    class Meta:
        model = SheetVersion
        skip_postgeneration_save = True

    sheet = factory.SubFactory(DataSheetFactory)
    number = 1
    published_at = NOW
    digest = factory.LazyAttribute(lambda version: f"{version.number:064d}")
    dbse_mm = 140.0
    dbse_tolerance_mm = 1.0
    flex_distance_mm = 140.0
    hub_length_mm = 80.0
    set_screw_count = 2
    set_screw_size = "M8"
    set_screw_torque_nm = 12.0
    element_part = "E-80"
    element_shelf_years = 5.0

    @factory.post_generation
    def rows(self, create, extracted, **kwargs):
        SheetLimit.objects.create(version=self, quantity="offset", stated_as="length", stated_value=0.2, value=0.2)
        SheetLimit.objects.create(version=self, quantity="angularity", stated_as="slope", stated_value=1.0, value=1.0)
        SheetJoint.objects.create(version=self, name="hub bolts", thread="M10", positions=8, torque_nm=45.0)


class CouplingFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = Coupling

    site = factory.SelfAttribute("train.site")
    train = factory.SubFactory(TrainFactory)
    driver_machine = factory.LazyAttribute(lambda coupling: coupling.train.machines.get(position=1))
    driven_machine = factory.LazyAttribute(lambda coupling: coupling.train.machines.get(position=2))
    tag = factory.LazyAttribute(lambda coupling: coupling.train.tag)
    rpm = 2980.0
    power_kw = 315.0


class FitFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = Fit

    site = factory.SelfAttribute("coupling.site")
    coupling = factory.SubFactory(CouplingFactory)
    sheet_version = factory.SubFactory(SheetVersionFactory, sheet__site=factory.SelfAttribute("...coupling.site"))
    dbse_mm = 140.0
    fitted_on = date(2026, 10, 1)


class InstrumentFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = Instrument

    site = factory.SubFactory(SiteFactory)
    kind = "dial"
    name = "Dial"
    serial = factory.Sequence(lambda n: f"D-{n:03d}")
    standard_u_mm = 0.01
    calibrated_on = date(2026, 6, 1)
    calibration_days = 365


class WorkOrderFactory(factory.django.DjangoModelFactory):
    """An order whose isolation stands, unless `isolated=False`."""

    class Meta:
        model = WorkOrder

    class Params:
        isolated = factory.Trait(
            permit="P-100",
            isolated_at=datetime(2026, 10, 12, 6, 0, tzinfo=UTC),
            verified_at=datetime(2026, 10, 12, 6, 15, tzinfo=UTC),
        )

    site = factory.SelfAttribute("train.site")
    train = factory.SubFactory(TrainFactory)
    number = factory.Sequence(lambda n: f"WO-{4000 + n}")
