"""One of everything at a site, made when asked for, and the bodies that requests about it are sent with."""

from datetime import date, timedelta
from functools import cached_property
from io import BytesIO

from PIL import Image

from couplings.models import (
    FailureCode,
    FitClass,
    Grade,
    GradeRow,
    GrowthCoefficient,
    LimitChange,
    NutFactor,
    RemovalReason,
    SecondScrewFactor,
    StockLot,
    StorageRule,
    TighteningScatter,
    WearCode,
    WearWording,
)
from inspections.forecasting.duedates import FIRST_DAYS
from inspections.models import Check, DriftState, Flag, GroupFit, LifeFit, OtherWork, Policy
from inspections.services.photos import add_photo
from inspections.services.signing import sign_visit
from plant.models import AllowedHost, Invitation, JobRun, MachineUnit, Meter, Stop, UnitStay, Webhook
from plant.recording import recording
from tests.bodies import Bodies
from tests.factories import (
    NOW,
    TODAY,
    AreaFactory,
    CouplingFactory,
    DataSheetFactory,
    FitFactory,
    InstrumentFactory,
    MembershipFactory,
    PersonFactory,
    SheetVersionFactory,
    TrainFactory,
    WorkOrderFactory,
)
from tests.inspections.drifting import surveyed
from tests.inspections.visits import begin, fill_installation


class World(Bodies):
    """The rows of one site; `site` and its people are there already."""

    def __init__(self, site, by):
        self.site, self.by = site, by

    @cached_property
    def area(self):
        return AreaFactory(site=self.site)

    @cached_property
    def train(self):
        return TrainFactory(site=self.site, area=self.area)

    @cached_property
    def read_train(self):
        """The train, whose meter was read."""
        meter = Meter.objects.create(site=self.site, train=self.train)
        meter.readings.create(at=NOW - timedelta(days=30), hours=7000)
        return self.train

    @cached_property
    def machine_unit(self):
        """A motor that stands at position 1 of the train."""
        unit = MachineUnit.objects.create(site=self.site, kind="motor", serial="M-1")
        UnitStay.objects.create(
            site=self.site, unit=unit, machine=self.train.machines.get(position=1), came_told_at=NOW
        )
        return unit

    @cached_property
    def spare_unit(self):
        return MachineUnit.objects.create(site=self.site, kind="motor", serial="M-2")

    @cached_property
    def stop(self):
        return Stop.objects.create(site=self.site, name="Spring stop", begins_on=TODAY, ends_on=TODAY)

    @cached_property
    def coupling(self):
        return CouplingFactory(train=self.train)

    @cached_property
    def free_coupling(self):
        return CouplingFactory(train__site=self.site, train__area=self.area)

    @cached_property
    def sheet(self):
        return DataSheetFactory(site=self.site)

    @cached_property
    def version(self):
        return SheetVersionFactory(sheet=self.sheet)

    @cached_property
    def sheet_with_version(self):
        return self.version.sheet

    @cached_property
    def limit_change(self):
        """Of a sheet of its own, proposed by somebody who decides on nothing here."""
        sheet = DataSheetFactory(site=self.site)
        first, second = (SheetVersionFactory(sheet=sheet, number=number) for number in (1, 2))
        return LimitChange.objects.create(
            site=self.site, sheet_version=second, before=first, reason="invented", change_number="LC-1",
            from_on=TODAY, proposed_by=self.person, proposed_at=NOW,
        )  # fmt: skip

    @cached_property
    def fit(self):
        return FitFactory(coupling=self.coupling, sheet_version=self.version)

    @cached_property
    def fitted_coupling(self):
        return self.fit.coupling

    @cached_property
    def element(self):
        return self.fit.elements.create(site=self.site, part_number="E-80", fitted_on=TODAY)

    @cached_property
    def stock_lot(self):
        return StockLot.objects.create(site=self.site, part_number="E-80", batch="B-1", count=4)

    @cached_property
    def removal_reason(self):
        return RemovalReason.objects.create(site=self.site, code="worn", title="worn out", failure=True)

    @cached_property
    def instrument(self):
        return InstrumentFactory(site=self.site)

    @cached_property
    def grade(self):
        grade = Grade.objects.create(site=self.site, name="Starter")
        GradeRow.objects.create(grade=grade, kind="short", up_to_rpm=3600, offset_mm=0.1, source="invented for a test")
        return grade

    @cached_property
    def webhook(self):
        return Webhook.objects.create(
            site=self.site, name="Orders", url="https://plant.example/told", secret="whsec_eA=="
        )

    @cached_property
    def allowed_host(self):
        return AllowedHost.objects.create(site=self.site, host="orders.plant.example", reason="the work-order system")

    @cached_property
    def storage_rule(self):
        return StorageRule.objects.create(
            site=self.site, polymer="NBR", policy="house", initial_years=7, source="invented for a test"
        )

    @cached_property
    def growth_coefficient(self):
        return GrowthCoefficient.objects.create(
            site=self.site, material="gray iron", per_k=11, per_k_u=0.3, source="invented for a test"
        )

    @cached_property
    def nut_factor(self):
        return NutFactor.objects.create(
            site=self.site, of_set="ours", condition="waxed", nut_factor=0.15, source="invented for a test"
        )

    @cached_property
    def tightening_scatter(self):
        return TighteningScatter.objects.create(
            site=self.site, of_set="ours", method="by hand", scatter=0.35, source="invented for a test"
        )

    @cached_property
    def second_screw_factor(self):
        return SecondScrewFactor.objects.create(
            site=self.site, from_deg=0, to_deg=0, factor=2, source="invented for a test"
        )

    @cached_property
    def fit_class(self):
        return FitClass.objects.create(
            site=self.site, name="press", over_mm=25, up_to_mm=50, bore_lower_mm=0, bore_upper_mm=0.02,
            shaft_lower_mm=0.02, shaft_upper_mm=0.04, source="invented for a test",
        )  # fmt: skip

    @cached_property
    def wear_wording(self):
        WearCode.objects.get_or_create(code="dust", defaults={"title": "Dust", "grade_0": "none", "source": "invented"})
        return WearWording.objects.create(
            site=self.site, code="dust", title="Crumbs", grade_0="none", source="invented for a test"
        )

    @cached_property
    def failure_code(self):
        return FailureCode.objects.create(
            site=self.site, kind="mode", code="XXX", name="standing still", source="invented for a test"
        )

    @cached_property
    def order(self):
        return WorkOrderFactory(train=self.train, isolated=True)

    @cached_property
    def bare_order(self):
        return WorkOrderFactory(train=self.train)

    @cached_property
    def visit(self):
        return begin(self.fit, self.order, self.by)

    @cached_property
    def photo(self):
        file = BytesIO()
        Image.new("RGB", (8, 8), "grey").save(file, "JPEG")
        file.seek(0)
        with recording(by=self.by, at=NOW):
            return add_photo(visit=self.visit, file=file, caption="the hub")

    @cached_property
    def signed(self):
        place = CouplingFactory(train__site=self.site, train__area=self.area)
        order = WorkOrderFactory(train=place.train, isolated=True)
        visit = begin(FitFactory(coupling=place, sheet_version=self.version), order, self.by)
        wrench = InstrumentFactory(site=self.site, kind="torque-set", name="Click wrench")
        fill_installation(visit, self.by, wrench)
        with recording(by=self.by, at=NOW):
            sign_visit(visit=visit)
        visit.refresh_from_db()
        return visit

    @cached_property
    def leg(self):
        # At a coupling of its own: signed surveys settle checks and clear flags.
        fit = FitFactory(coupling__train=TrainFactory(site=self.site, tag="LEG-1"), coupling__tag="LEG-1")
        left = (0.0, 0.0, 0.0, 0.0)
        surveyed(fit, date(2025, 10, 6), self.by, left=left, kind="installation")
        later = surveyed(fit, date(2026, 4, 6), self.by, found=left, same=True)
        return later.legs_to.get()

    @cached_property
    def check(self):
        return Check.objects.create(
            site=self.site, coupling=self.coupling, kind="alignment", opens_on=TODAY, due_on=TODAY, closes_on=TODAY,
            winner=FIRST_DAYS, numbers={"first_days": 30, "installed_on": TODAY.isoformat()},
        )  # fmt: skip

    @cached_property
    def other_work(self):
        return OtherWork.objects.create(
            site=self.site, coupling=self.coupling, kind="foundation", on=TODAY, by=self.by, at=NOW
        )

    @cached_property
    def run(self):
        return JobRun.objects.create(
            kind="nightly", scope=f"site:{self.site.pk}", for_date=TODAY, not_before=NOW, state="failed", attempts=5
        )

    @cached_property
    def flag(self):
        return Flag.objects.create(site=self.site, coupling=self.coupling, kind="overdue", opened_at=NOW)

    @cached_property
    def drift_state(self):
        self.signed  # noqa: B018  its survey brings the state with it
        state = DriftState.objects.filter(coupling=self.coupling).first()
        return state or DriftState.objects.create(site=self.site, coupling=self.coupling, why_not="no-survey")

    @cached_property
    def group_fit(self):
        four = [0.0] * 4
        return GroupFit.objects.create(
            site=self.site, level="all", rate=four, rate_error=four, rate_variance=four, diffusion=[1e-4] * 4,
            jump_variance=four, left_variance=[1e-4] * 4, jumps_per_year=0.02, couplings=1, legs=1, flagged=0,
            log_likelihood=0.0, fitted_on=TODAY, fitted_at=NOW,
        )  # fmt: skip

    @cached_property
    def life_fit(self):
        return LifeFit.objects.create(
            site=self.site, family="elastomer-compression", part_number="E-1", level="site", basis="counts",
            elements=1, failures=0, family_failures=0, observed=1.0, fitted_on=TODAY,
        )  # fmt: skip

    @cached_property
    def policy(self):
        return Policy.objects.create(site=self.site, check_kind="alignment", every_months=12)

    @cached_property
    def person(self):
        person = PersonFactory(username=f"crew of {self.site.pk}")
        MembershipFactory(person=person, site=self.site, role="mechanic")
        return person

    @cached_property
    def token(self):
        return self.person.tokens.create(
            name="t", prefix="asl_", digest=f"{self.site.pk:064d}", made_at=NOW, expires_at=NOW
        )

    @cached_property
    def invitation(self):
        return Invitation.objects.create(
            site=self.site, role="planner", digest=f"{self.site.pk:064d}", made_at=NOW, expires_at=NOW
        )
