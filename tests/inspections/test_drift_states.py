"""What is believed of couplings: fitted by group, the same for one coupling and for all, and jumps with evidence."""

from datetime import date, timedelta

import numpy as np
import pytest
from django.db.models import Model

from couplings.models import Coupling
from inspections.forecasting.drift import clock_years
from inspections.forecasting.outlook import by_day, longest_interval, next_check
from inspections.forecasting.parameters import at_couplings
from inspections.forecasting.passage import draws, exceedance
from inspections.forecasting.posterior import fleet_beliefs
from inspections.models import DriftState, GroupFit, Leg
from inspections.selectors.beliefs import PATHS, beliefs_from, limits_from
from inspections.selectors.drift import chance_on, drift_of, drift_views, looked_on
from inspections.selectors.groups import fitted as parameters_of
from inspections.services.drift import recompute_coupling, recompute_drift
from plant.recording import recording
from plant.services.register import change_site
from tests.inspections.drifting import fitted, fleet, noon, surveyed

TODAY = date(2026, 1, 15)
LEFT_OUT = ("id", "uuid", "version", "changed_no")


def rows(model: type[Model]):
    """Rows without what tells one row from its twin: a leg made anew has another uuid."""
    found = model.objects.order_by("coupling_id", *(["to_on"] if model is Leg else [])).values()
    plain = [{name: value for name, value in row.items() if name not in LEFT_OUT} for row in found]
    for row in plain:
        row["jumps"] = [{name: value for name, value in one.items() if name != "leg"} for one in row.get("jumps", [])]
    return plain


@pytest.fixture
def fits(site, mechanic):
    made = fleet(site, mechanic, 6)
    fitted(site, TODAY)
    return made


def test_small_fleets_are_fitted_together_and_every_coupling_has_a_forecast(fits):
    fit = GroupFit.objects.get()
    assert (fit.level, fit.couplings, fit.legs, fit.current, fit.by_hours) == ("all", 6, 12, True, False)
    states = list(DriftState.objects.all())
    assert {(one.why_not, one.legs, one.fit_id) for one in states} == {("", 2, fit.pk)}
    for one in states:
        chances = [chance for _day, chance in one.curve]
        assert chances == sorted(chances)
        assert one.used_left[1] <= one.used_left[0] <= one.used_left[2]
        assert 0 <= one.own_share <= 1


def test_a_state_is_what_the_pure_computation_gives_for_its_legs(fits):
    """Read back from the leg rows alone and computed again without the database."""
    state = DriftState.objects.select_related("fit").first()
    legs = list(Leg.objects.filter(coupling=state.coupling_id).order_by("to_on"))
    from inspections.selectors.fleet_legs import legs_of_couplings
    from inspections.selectors.legs import legs_from, records_of

    arrays, limits = legs_of_couplings([state.coupling_id])
    coupling = Coupling.objects.select_related("site", "train", "grade", "driver_machine", "driven_machine").get(
        pk=state.coupling_id
    )
    _legs, standing, _ended = legs_from(records_of([coupling]))
    parameters = at_couplings([parameters_of(state.fit)], [0])
    belief, evidence, _state = fleet_beliefs(arrays, standing, parameters, limits)
    assert clock_years(arrays) == pytest.approx([leg.days / 365.25 for leg in legs])
    assert state.belief["rate"] == pytest.approx(belief.rate[:, 0])
    assert [leg.distance for leg in legs] == pytest.approx(evidence.distance)
    times, chance = exceedance(belief, limits, np.array([5.0]), draws(PATHS))
    assert [at for at, _chance in state.curve] == pytest.approx(times[0] * 365.25, abs=0.001)
    assert [one for _at, one in state.curve] == pytest.approx(chance[0], abs=1e-5)


def test_one_coupling_at_a_time_gives_the_rows_of_all_at_once(fits, site, mechanic):
    """Parameters, draws and today pinned."""
    surveyed(fits[2], TODAY, mechanic, found=(0.05, 0.02, 0.1, 0.1), left=(0.0, 0.01, 0.0, 0.0))
    by_one = rows(Leg), rows(DriftState)
    Leg.objects.all().delete()
    DriftState.objects.all().delete()
    with recording(by=None, at=noon(TODAY)):
        recompute_drift(couplings=Coupling.objects.filter(site=site), today=TODAY)
    assert (rows(Leg), rows(DriftState)) == by_one
    Leg.objects.all().delete()
    DriftState.objects.all().delete()
    with recording(by=None, at=noon(TODAY)):
        for coupling in Coupling.objects.filter(site=site).order_by("pk"):
            recompute_coupling(coupling=coupling, today=TODAY)
    assert (rows(Leg), rows(DriftState)) == by_one


def test_the_number_of_queries_does_not_grow_with_the_couplings(fits, site, connection_queries):
    ids = [fit.coupling_id for fit in fits]

    def counted(some):
        with connection_queries() as counted_queries, recording(by=None, at=noon(TODAY)):
            recompute_drift(couplings=some, today=TODAY)
        with connection_queries() as seen:
            drift_views(Coupling.objects.filter(pk__in=some), TODAY)
        return len(counted_queries), len(seen)

    assert counted(ids[:1]) == counted(ids)


def test_a_jump_is_flagged_with_its_evidence_and_widens_what_is_believed(fits, mechanic):
    calm = DriftState.objects.get(coupling=fits[0].coupling_id)
    surveyed(fits[0], TODAY, mechanic, found=(0.35, -0.25, 0.6, -0.5), left=(0.0, 0.0, 0.0, 0.0))
    leg = Leg.objects.filter(coupling=fits[0].coupling_id).order_by("to_on").last()
    assert leg.jump
    assert leg.probability < 0.001
    assert leg.moved_share >= 0.25
    state = DriftState.objects.get(coupling=fits[0].coupling_id)
    (told,) = state.jumps
    assert (told["leg"], told["on"]) == (str(leg.uuid), TODAY.isoformat())
    assert told["component"] in ("offset.vertical", "offset.horizontal", "slope.vertical", "slope.horizontal")
    # It neither moves the pace by what it moved itself, nor is it gone.
    assert abs(state.belief["rate"][0] - calm.belief["rate"][0]) < 0.05
    assert state.legs == 3


def test_what_a_look_on_another_day_means_is_read_off_the_same_curve(fits):
    state = DriftState.objects.select_related("fit").first()
    later = state.left_on + timedelta(days=700)
    looked = looked_on(state, later)
    assert looked.chance == pytest.approx(
        by_day([day for day, _ in state.curve], [chance for _, chance in state.curve], 700.0)
    )
    assert looked.low <= looked.middle <= looked.high
    assert chance_on(state, state.left_on) == state.curve[0][1]
    # One way only, and never less than a day before.
    assert chance_on(state, later + timedelta(days=30)) >= looked.chance


def test_a_page_gets_legs_with_visits_fan_and_feet(fits):
    view = drift_of(fits[0].coupling, TODAY)
    assert [leg.to_visit.on for leg in view.legs] == [leg.to_on for leg in view.legs]
    assert len(view.fan) == 21
    assert view.fan[0].on == view.state.left_on
    assert view.fan[0].middle == pytest.approx(view.state.used_left[0], abs=1e-4)
    assert view.others == 5
    assert view.now.on == TODAY
    assert not view.fan[0].extrapolated
    assert view.fan[-1].extrapolated


def test_beliefs_are_read_back_as_they_were_kept(fits):
    states = list(DriftState.objects.order_by("pk"))
    belief = beliefs_from(states)
    assert belief.position.shape == (4, 6)
    assert limits_from([one.limits for one in states]).known.all()
    assert belief.legs.tolist() == [2] * 6


@pytest.mark.parametrize(
    ("every", "longest", "legs", "leg", "wanted"),
    [
        (365, 730, 0, 0, (365, False)),
        (365, 730, 1, 100, (365, False)),
        (365, 730, 2, 300, (600, True)),
        (365, 730, 5, 900, (730, True)),
        (365, None, 5, 900, (365, False)),
    ],
)
def test_an_interval_grows_only_with_what_was_seen_and_within_its_bound(every, longest, legs, leg, wanted):
    assert longest_interval(every, longest, legs, leg) == wanted


def test_the_next_check_is_the_last_day_within_the_risk():
    days, chance = [0, 100, 200, 300], [0.0, 0.01, 0.03, 0.5]
    assert next_check(days, chance, 0.02, 30, 365) == (150.0, "risk")
    assert next_check(days, chance, 0.002, 30, 365) == (30.0, "shortest")
    assert next_check(days, chance, 0.4, 30, 200) == (200.0, "longest")
    assert next_check([], [], 0.02, 30, 365)[1] == "unknown"


def test_groups_of_one_kind_need_enough_trains_and_a_site_whose_supports_change_leaves_its_kind(
    site, mechanic, engineer, monkeypatch
):
    monkeypatch.setattr("inspections.selectors.fleet_legs.ENOUGH", 4)
    fleet(site, mechanic, 4)
    fitted(site, TODAY)
    assert sorted(GroupFit.objects.values_list("level", flat=True)) == ["all", "kind", "site"]
    assert set(DriftState.objects.values_list("fit__level", flat=True)) == {"kind"}
    with recording(by=engineer, at=noon(TODAY)):
        change_site(site=site, support_material="carbon steel")
    assert set(DriftState.objects.values_list("fit__level", flat=True)) == {"site"}
