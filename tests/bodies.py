"""What requests about the rows of a World are sent with; World has the rows."""

from datetime import timedelta

from couplings.models import WearCode
from tests.factories import NOW, TODAY


class Bodies:
    """Bodies by name; each asks the World it is part of for the rows it names."""

    def new_area(self):
        return {"site": str(self.site.uuid), "name": "Somewhere new"}

    def new_train(self):
        return {"site": str(self.site.uuid), "area": str(self.area.uuid), "tag": "NEW-1"}

    def new_stop(self):
        return self.new_stop_form()

    def new_stop_form(self):
        days = {"begins_on": "2027-04-12", "ends_on": "2027-04-23"}
        return {"site": str(self.site.uuid), "name": "Spring stop"} | days

    def new_unit(self):
        return {"site": str(self.site.uuid), "kind": "pump", "serial": "P-1"}

    def place_of_unit(self):
        return {"train": str(self.train.uuid), "position": 2, "at": None}

    def swap(self):
        self.machine_unit  # noqa: B018
        return {"train": str(self.train.uuid), "position": 1, "at": "2026-10-12T06:00:00Z", "reason": "x"}

    def take_out(self):
        return {"at": "2026-10-12T06:00:00Z", "reason": "x"}

    def new_person(self):
        return {"username": "new", "first_name": "New", "last_name": "Hand", "roles": [self.role()]}

    def role(self):
        return {"site": str(self.site.uuid), "role": "planner", "from_on": "2026-10-01"}

    def new_invitation(self):
        return {"site": str(self.site.uuid), "role": "planner", "email": "hand@plant.example"}

    def invite_form(self):
        return self.new_invitation() | {"language": "en"}

    def person_form(self):
        return {"first_name": "Crew"}

    def role_form(self):
        return {"site": str(self.site.uuid), "role": "planner", "from_on": "2026-10-12"}

    def end_form(self):
        return {"site": str(self.site.uuid), "role": "mechanic"}

    def role_ends(self):
        return {"site": str(self.site.uuid), "role": "mechanic", "until_on": "2026-10-31"}

    def run_hours(self):
        return {"at": "2026-10-01T06:00:00Z", "hours": {"value": 8000, "unit": "hour"}}

    def strike(self):
        return {"at": (NOW - timedelta(days=30)).isoformat(), "reason": "x"}

    def new_sheet(self):
        return {"site": str(self.site.uuid), "family": self.version.sheet.family.code, "designation": "New design"}

    def fits_to_adopt(self):
        return {"fits": [str(self.fit.uuid)]}

    def new_grade(self):
        rows = [{"up_to": {"value": 1800, "unit": "rpm"}, "offset": {"value": 0.1, "unit": "mm"}, "source": "invented"}]
        return {"site": str(self.site.uuid), "name": "New grade", "rows": rows}

    def a_wear_code(self):
        """Codes are everybody's: there has to be one, and it is asked for with nothing."""
        words = {"title": "Cracks", "grade_0": "none", "source": "invented"}
        WearCode.objects.get_or_create(code="crack", defaults=words)
        return {}

    def new_storage_rule(self):
        rule = {"polymer": "CR", "policy": "house", "initial_years": 5, "source": "invented"}
        return {"site": str(self.site.uuid)} | rule

    def new_growth_coefficient(self):
        row = {"material": "ductile iron", "per_k": 11, "per_k_u": 0.3, "source": "invented"}
        return {"site": str(self.site.uuid)} | row

    def of_site(self):
        return {"site": str(self.site.uuid)}

    def new_webhook(self):
        return self.of_site() | {"name": "New", "url": "https://plant.example/new"}

    def host_form(self):
        return {"host": self.allowed_host.pk}

    def new_nut_factor(self):
        return self.of_site() | {"set": "ours", "condition": "dry", "nut_factor": 0.2, "source": "invented"}

    def new_tightening_scatter(self):
        scatter = {"value": 20, "unit": "%"}
        return self.of_site() | {"set": "ours", "method": "turned", "scatter": scatter, "source": "invented"}

    def new_second_screw_factor(self):
        band = {"from": {"value": 90, "unit": "deg"}, "to": {"value": 100, "unit": "deg"}}
        return self.of_site() | band | {"factor": 1.5, "source": "invented"}

    def new_fit_class(self):
        inch = {"over": 1, "up_to": 2, "bore_lower": 0, "bore_upper": 0.001, "shaft_lower": 0.001, "shaft_upper": 0.002}
        sizes = {name: {"value": value, "unit": "inch"} for name, value in inch.items()}
        return self.of_site() | sizes | {"name": "loose", "source": "invented"}

    def new_wear_wording(self):
        self.a_wear_code()
        return self.of_site() | {"code": "crack", "title": "Cracks we look for", "source": "invented"}

    def wear_wording_form(self):
        return self.new_wear_wording()

    def new_failure_code(self):
        return self.of_site() | {"kind": "cause", "code": "9.9", "name": "somebody leant on it", "source": "invented"}

    def new_coupling(self):
        place = {"train": str(self.train.uuid), "driver_position": 1, "driven_position": 2}
        return place | {"tag": "NEW-C1", "speed": {"value": 1500, "unit": "rpm"}}

    def target(self):
        return {"note": "by hand"}

    def new_fit(self):
        sheet = {"data_sheet": str(self.version.sheet.uuid), "data_sheet_version": 1}
        return {"coupling": str(self.free_coupling.uuid), "fitted_on": "2026-10-01"} | sheet

    def new_element(self):
        return {"fit": str(self.fit.uuid), "part_number": "E-80", "fitted_on": "2026-10-02"}

    def to_a_free_place(self):
        return {"to": str(self.free_coupling.uuid), "on": "2026-10-12"}

    def new_stock(self):
        return {"site": str(self.site.uuid), "part_number": "E-80", "number": 4}

    def new_removal_reason(self):
        return {"site": str(self.site.uuid), "code": "cut", "title": "cut by a tool"}

    def certificate(self):
        return {"on": "2026-10-01", "laboratory": "Workshop", "certificate": "C-1", "result": "within"}

    def new_instrument(self):
        return {"site": str(self.site.uuid), "kind": "feeler", "name": "Feelers", "serial": "F-1"}

    def new_order(self):
        return {"train": str(self.train.uuid), "number": "WO-9"}

    def new_visit(self):
        what = {"kind": "installation", "on": TODAY.isoformat()}
        return {"coupling": str(self.fit.coupling.uuid), "work_order": str(self.order.uuid)} | what

    def begin_form(self):
        return {"kind": "installation", "on": TODAY.isoformat(), "work_order": str(self.order.uuid)}

    def planned_check(self):
        return {"row": str(self.check.uuid), "act": "week", "week": TODAY.isoformat()}

    def owned_flag(self):
        return {"row": str(self.flag.uuid), "act": "own", "owner": ""}

    def digest_form(self):
        return {"site": str(self.site.uuid), "hour": "6", "days": ["1"]}

    def failed_run(self):
        return {"run": str(self.run.pk)}

    def hours_form(self):
        return {"hours": "1200"}

    def new_site_form(self):
        return {"name": "New works", "zone": "UTC", "units": "metric", "currency": "EUR", "dates_owner": "here"}

    def new_sheet_form(self):
        return {"site": str(self.site.uuid), "designation": "New design", "family": self.version.sheet.family.code}

    def new_coupling_form(self):
        typed = {"train": str(self.train.uuid), "driver_position": "1", "tag": "NEW-C1", "rpm": "1500"}
        return {"site": str(self.site.uuid)} | typed

    def new_fit_form(self):
        typed = {"coupling": str(self.free_coupling.uuid), "sheet_version": str(self.version.pk)}
        return {"site": str(self.site.uuid), "fitted_on": "2026-10-01"} | typed

    def stock_form(self):
        return {"site": str(self.site.uuid), "part_number": "E-80", "number": "4"}

    def removal_reason_form(self):
        typed = {"title": "Torn at the bolts", "code": "torn-at-bolts", "failure": "yes", "in_use": "yes"}
        return {"site": str(self.site.uuid)} | typed

    def instrument_form(self):
        return {"site": str(self.site.uuid), "kind": "feeler", "name": "Feelers", "serial": "F-1"}

    def new_area_form(self):
        return {"site": str(self.site.uuid), "name": "Somewhere new"}

    def chosen_area(self):
        return {"row": str(self.area.uuid), "parent": ""}

    def new_train_form(self):
        typed = {"tag": "NEW-1", "area": str(self.area.uuid), "criticality": "B", "service": "in"}
        return {"site": str(self.site.uuid)} | typed

    def new_unit_form(self):
        return {"site": str(self.site.uuid), "kind": "pump", "serial": "P-1"}

    def chosen_train(self):
        return {"row": str(self.train.uuid), "criticality": "C"}

    def grade_form(self):
        band = {"kind": "short", "up_to_rpm": "1800", "offset_mm": "0.1", "rule": "vector", "mark": "site"}
        typed = {f"rows.0.{name}": text for name, text in (band | {"source": "own copy"}).items()}
        return self.of_site() | {"name": "New grade"} | typed

    def policy_form(self):
        typed = {"check_kind": "torque", "every_months": "6", "mode": "window", "window_share": "10"}
        work = {"needs_stop": "yes", "crew_hours": "2", "crew_size": "2", "defer_days": "90", "after_other_work": "no"}
        work |= {"by_drift": "yes", "shortest_days": "30"}
        return self.of_site() | typed | work

    def growth_coefficient_form(self):
        return self.of_site() | {
            "material": "stainless steel 304",
            "per_k": "16",
            "per_k_u": "0.5",
            "source": "invented",
        }

    def storage_rule_form(self):
        typed = {"polymer": "CR", "policy": "house", "initial_years": "5", "in_use": "no"}
        return self.of_site() | typed | {"source": "invented"}

    def nut_factor_form(self):
        return self.of_site() | {"of_set": "ours", "condition": "dry", "nut_factor": "0.2", "source": "invented"}

    def tightening_scatter_form(self):
        return self.of_site() | {"of_set": "ours", "method": "turned", "scatter": "20", "source": "invented"}

    def second_screw_factor_form(self):
        return self.of_site() | {"from_deg": "90", "to_deg": "100", "factor": "1.5", "source": "invented"}

    def fit_class_form(self):
        sizes = {"over_mm": "10", "up_to_mm": "20", "bore_lower_mm": "0", "bore_upper_mm": "0.02"}
        shaft = {"shaft_lower_mm": "-0.01", "shaft_upper_mm": "0"}
        return self.of_site() | {"name": "FN9", "source": "invented"} | sizes | shaft

    def failure_code_form(self):
        return self.of_site() | {"kind": "mode", "code": "XYZ", "name": "invented", "source": "invented"}

    def new_policy(self):
        return {"site": str(self.site.uuid), "check_kind": "torque", "every_months": 6}

    def new_other_work(self):
        return {"coupling": str(self.coupling.uuid), "kind": "pipe", "on": TODAY.isoformat()}
