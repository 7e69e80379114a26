"""Random histories of a small site: what people and time do there, one act after the other, by its services.

An act is a name and a number; the number chooses everything about it, so that a history can be repeated and shortened.
"""

from datetime import UTC, date, datetime, timedelta
from random import Random

from couplings.models import Fit
from couplings.services.couplings import retire_coupling
from couplings.services.fits import fit_element, install_fit, remove_element, remove_fit
from couplings.services.moving import move_fit
from inspections.models import Check, CheckKind, Flag, OtherWork, Policy, Visit
from inspections.services.checks import recompute_site
from inspections.services.deferral import cancel_check, defer_check, own_check, pin_check, take_date, withdraw_deferral
from inspections.services.flags import CLEAR_THEMSELVES, acknowledge_flag, clear_flag, own_flag
from inspections.services.other_work import report_other_work, take_back_other_work
from inspections.services.policies import load_policies, remove_policy, write_policy
from inspections.services.weeks import put_in_week
from plant.models import MeterReading, ServiceSpell, Train
from plant.recording import recording
from plant.refusals import Refused
from plant.services.meters import record_run_hours, strike_run_hours
from plant.services.register import change_site, change_train
from plant.services.service import correct_spell, remove_spell, set_service
from plant.sitetime import today_at
from tests.factories import (
    CouplingFactory,
    FamilyFactory,
    FitFactory,
    MembershipFactory,
    PersonFactory,
    SheetVersionFactory,
    TrainFactory,
)
from tests.inspections.signed import amend, sign

BEGAN = datetime(2024, 2, 20, 9, 0, tzinfo=UTC)  # so that a leap day and a change of clocks soon follow
KINDS = (Visit.Kind.PERIODIC, Visit.Kind.ALIGNMENT, Visit.Kind.TORQUE, Visit.Kind.INSTALLATION)


class Life:
    """Two trains of a site, one coupling greased and one with an element that ages, and the days they see.

    `did` counts the acts that were done; what a service refuses changes nothing and is a part of life too.
    """

    def __init__(self, site):
        self.site, self.now, self.did = site, BEGAN, {}
        self.mechanic, self.planner, self.engineer, self.keeper = (
            self._person(role) for role in ("mechanic", "planner", "engineer", "keeper")
        )
        grease = FamilyFactory(code="gear", name="Gear", kind="short", lubricated=True, element_name="")
        self.sheets = [
            SheetVersionFactory(sheet__site=site),
            SheetVersionFactory(sheet__site=site, sheet__family=grease, lubricant_months=12),
        ]
        self.couplings = []
        for number, version in enumerate(self.sheets):
            coupling = CouplingFactory(train=TrainFactory(site=site, tag=f"T-{number}", criticality="AB"[number]))
            FitFactory(coupling=coupling, sheet_version=version, fitted_on=date(2023, 9, 1))
            self.couplings.append(coupling)
        with recording(by=None, at=self.now):
            load_policies(site=site)
            write_policy(site=site, check_kind="element", every_months=6)

    def _person(self, role):
        person = PersonFactory(username=f"{role} of a life")
        MembershipFactory(person=person, site=self.site, role=role)
        return person

    @property
    def today(self):
        return today_at(self.site, self.now)

    def night(self):
        with recording(by=None, at=self.now):
            recompute_site(site=self.site, today=self.today)

    def does(self, name, number):
        """One act; a service that refuses it has changed nothing."""
        chance = Random(number)
        try:
            done = getattr(self, name)(chance)
        except Refused:
            done = False
        if done is not False:
            self.did[name] = self.did.get(name, 0) + 1

    # Time

    def days_pass(self, chance):
        self.now += timedelta(days=chance.choice([1, 2, 7, 30, 61, 190]), hours=chance.randrange(24))
        self.night()

    def the_clock_is_set_back(self, chance):
        self.now -= timedelta(days=chance.choice([1, 3]))
        self.night()

    # Work

    def a_visit(self, chance):
        fit = self._fit(chance)
        if fit is None:
            return False
        late = timedelta(days=chance.choice([0, 0, 0, 1, 40]))
        sign(fit, on=self.today - late, by=self.mechanic, at=self.now, kind=chance.choice(KINDS), **self._found(chance))

    def an_amendment(self, chance):
        visit = self._one(Visit.objects.filter(site=self.site).select_related("coupling__site", "record"), chance)
        if visit is None:
            return False
        amend(visit, by=self.engineer, at=self.now, **self._found(chance))

    def an_element(self, chance):
        fit = self._fit(chance)
        if fit is None:
            return False
        present = fit.elements.filter(removed_on__isnull=True).first()
        with recording(by=self.mechanic, at=self.now):
            if present is not None and chance.random() < 0.3:
                remove_element(element=present, removed_on=self.today, removal_reason="age")
            else:
                removal = {"removal_reason": "age"} if present is not None else {}
                fit_element(fit=fit, fitted_on=self.today, part_number="E-80", **removal)

    def an_exchange(self, chance):
        """A fit goes, or comes into an empty place, or goes to the other place."""
        here = chance.choice(self.couplings)
        fit = Fit.objects.filter(coupling=here, removed_on__isnull=True).first()
        with recording(by=self.mechanic, at=self.now):
            if fit is None:
                install_fit(coupling=here, sheet_version=chance.choice(self.sheets), fitted_on=self.today)
            elif chance.random() < 0.5:
                remove_fit(fit=fit, removed_on=self.today)
            else:
                other = next(one for one in self.couplings if one != here)
                move_fit(fit=fit, to=other, on=self.today)

    def other_work(self, chance):
        with recording(by=self.planner, at=self.now):
            standing = self._one(OtherWork.objects.filter(site=self.site).select_related("coupling__site"), chance)
            if standing is not None and chance.random() < 0.3:
                take_back_other_work(work=standing)
            else:
                on = self.today - timedelta(days=chance.choice([0, 5]))
                kind = chance.choice(OtherWork.Kind.values)
                report_other_work(coupling=self._coupling(chance), kind=kind, on=on)

    # The register

    def a_meter(self, chance):
        train = self._coupling(chance).train
        last = MeterReading.objects.counted().filter(meter__train=train).order_by("-at").first()
        with recording(by=self.planner, at=self.now):
            if last is not None and chance.random() < 0.15:
                strike_run_hours(train=train, at=last.at, reason="a digit too many")
            elif last is not None and chance.random() < 0.2:
                record_run_hours(train=train, at=self.now, hours=float(chance.randrange(50)), replaced=True)
            else:
                days = (self.now - last.at).total_seconds() / 86400 if last is not None else 0.0
                hours = (last.hours if last is not None else 1000.0) + days * chance.choice([0.0, 3.0, 11.0, 24.0])
                record_run_hours(train=train, at=self.now, hours=hours)

    def a_policy(self, chance):
        with recording(by=self.engineer, at=self.now):
            policy = self._one(Policy.objects.filter(site=self.site).select_related("site"), chance)
            if policy is not None and chance.random() < 0.2:
                remove_policy(policy=policy)
                return
            write_policy(
                site=self.site, check_kind=chance.choice(CheckKind.values), criticality=chance.choice(["", "A", "B"]),
                every_months=chance.choice([None, 1, 6, 12]), every_hours=chance.choice([None, 2000.0]),
                mode=chance.choice(Policy.Mode.values), window_share=chance.choice([0.0, 0.1, 0.5]),
                first_days=chance.choice([None, 14, 30]), first_hours=chance.choice([None, 500.0]),
                after_other_work=chance.random() < 0.5, defer_days=chance.choice([0, 90, 400]),
            )  # fmt: skip

    def the_service(self, chance):
        train = self._coupling(chance).train
        with recording(by=self.planner, at=self.now):
            spells = ServiceSpell.objects.filter(train=train).select_related("train__site")
            spell = self._one(spells, chance)
            if spell is not None and chance.random() < 0.2:
                correct_spell(spell=spell, state=chance.choice(Train.Service.values))
            elif spell is not None and chance.random() < 0.1:
                remove_spell(spell=spell)
            else:
                set_service(train=train, state=chance.choice(Train.Service.values))

    def a_criticality(self, chance):
        with recording(by=self.keeper, at=self.now):
            change_train(train=self._coupling(chance).train, criticality=chance.choice("ABC"))

    def the_site(self, chance):
        owner = "here" if self.site.dates_owner == "orders" else "orders"
        zone = {"zone": chance.choice(["UTC", "Pacific/Kiritimati"])}
        with recording(by=self.keeper, at=self.now):
            change_site(site=self.site, **(zone if chance.random() < 0.3 else {"dates_owner": owner}))

    def the_end(self, chance):
        """Of one coupling; the other one lives on."""
        here = self.couplings[1]
        with recording(by=self.keeper, at=self.now):
            fit = Fit.objects.filter(coupling=here, removed_on__isnull=True).first()
            if fit is not None:
                remove_fit(fit=fit, removed_on=self.today)
            retire_coupling(coupling=here, on=self.today)
        here.refresh_from_db()

    # Planning

    def a_deferral(self, chance):
        return self._with_a_check(
            chance,
            lambda check: (
                withdraw_deferral(check=check)
                if check.deferred_until and chance.random() < 0.5
                else defer_check(
                    check=check, until=check.due_on + timedelta(days=chance.choice([1, 20, 80])), reason="no stop"
                )
            ),
        )

    def a_cancellation(self, chance):
        return self._with_a_check(chance, lambda check: cancel_check(check=check, reason="stands still anyway"))

    def a_plan(self, chance):
        """Pinned, put in a week, owned, or dated by the other system."""
        monday = self.today - timedelta(days=self.today.weekday())
        if self.site.dates_owner == "orders" and chance.random() < 0.7:
            other = self.today + timedelta(days=chance.choice([20, 50]))
            return self._with_a_check(chance, lambda check: take_date(check=check, on=other))
        acts = [
            lambda check: pin_check(check=check, on=chance.choice([None, self.today, check.due_on])),
            lambda check: put_in_week(checks=[check], week_on=chance.choice([None, monday])),
            lambda check: own_check(check=check, owner=chance.choice([None, self.mechanic])),
            lambda check: take_date(check=check, on=None),
        ]
        return self._with_a_check(chance, chance.choice(acts))

    def a_flag(self, chance):
        acts = [
            lambda flag: clear_flag(flag=flag, cause="looked into"),
            lambda flag: clear_flag(flag=flag, cause="nothing to it"),
            lambda flag: own_flag(flag=flag, owner=chance.choice([None, self.engineer])),
            lambda flag: acknowledge_flag(flag=flag),
        ]
        flags = Flag.objects.filter(site=self.site, cleared_at__isnull=True).select_related("coupling__site")
        flags = flags.exclude(kind__in=CLEAR_THEMSELVES)
        flag = self._one(flags, chance)
        if flag is None:
            return False
        with recording(by=self.engineer, at=self.now):
            chance.choice(acts)(flag)

    def _with_a_check(self, chance, act):
        checks = Check.objects.filter(site=self.site, settled_on__isnull=True)
        check = self._one(checks.select_related("site", "coupling__train", "coupling__site"), chance)
        if check is None:
            return False
        with recording(by=self.planner, at=self.now):
            act(check)

    def _found(self, chance):
        """What somebody did and found there."""
        return {
            "aligned": chance.random() < 0.5,
            "torqued": chance.random() < 0.5,
            "looked": chance.random() < 0.3,
            "worn": chance.random() < 0.5,
            "grade": chance.choice([0, 1, 3, 4]),
            "greased": chance.choice([None, None, 0, 6]),
            "found": chance.random() < 0.4,
            "verdict": chance.choice(["in tolerance", "out of tolerance", "too close to call"]),
            "loose": chance.choice([(), (), ("hub bolts",)]),
        }

    def _coupling(self, chance):
        return chance.choice([one for one in self.couplings if one.retired_on is None])

    def _fit(self, chance):
        here = Fit.objects.filter(coupling=self._coupling(chance), removed_on__isnull=True)
        return here.select_related("site", "coupling__site", "sheet_version__sheet__family").first()

    def _one(self, rows, chance):
        found = list(rows.order_by("pk"))
        return chance.choice(found) if found else None


ACTS = [
    name
    for name, act in vars(Life).items()
    if callable(act) and name[0] != "_" and name not in ("does", "night", "the_end")
]
