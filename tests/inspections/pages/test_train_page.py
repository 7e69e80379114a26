"""The page of a train and the list of trains: what they say of drift, and what may be done there."""

import gzip
from datetime import date, timedelta

import pytest
import time_machine
from django.db import transaction

from couplings.models import Coupling, Element, TargetPart
from inspections.models import Flag, Leg, Visit
from inspections.selectors.drift_due import chance_on
from inspections.selectors.histories import pasts_of
from inspections.services.flags import open_flag
from plant.models import FootPlane, Person
from plant.recording import recording
from plant.words import chance
from tests.factories import NOW, TODAY, FitFactory, MembershipFactory, PersonFactory, SiteFactory, TrainFactory
from tests.inspections.drifting import fitted, fleet, surveyed
from tests.plant.drawn import numbers, parts

pytestmark = pytest.mark.django_db


@pytest.fixture(scope="module")
def built(django_db_setup, django_db_blocker):
    """Eight couplings that drift a little, and one more whose driver goes right by 0.04 mm a year and jumped once.

    Fitting their group takes seconds, so they are built once; each test undoes what it does.
    """
    with django_db_blocker.unblock(), time_machine.travel(NOW, tick=False), transaction.atomic():
        site, ana = SiteFactory(), PersonFactory(username="ana")
        MembershipFactory(person=ana, site=site, role="engineer")
        fleet(site, ana, 8)
        train = TrainFactory(site=site, tag="JP-1")
        fit = FitFactory(coupling__train=train, coupling__tag="JP-1", fitted_on=date(2023, 1, 2))
        surveyed(fit, date(2023, 1, 2), ana, left=(0.0, 0.0, 0.0, 0.0), kind=Visit.Kind.INSTALLATION)
        for year, found in (
            (2024, (0.0, 0.04, 0.0, 0.0)),
            (2025, (0.0, 0.04, 0.0, 0.0)),
            (2026, (0.6, 0.05, 1.4, 0.0)),
        ):
            surveyed(fit, date(year, 1, 2), ana, found=found, left=(0.0, 0.0, 0.0, 0.0))
        fitted(site, TODAY)
        yield site, ana, fit.coupling_id
        transaction.set_rollback(True)


@pytest.fixture(autouse=True)
def _on_the_day():
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def site(built, db):
    return built[0]


@pytest.fixture
def engineer(built, db):
    return Person.objects.get(username="ana")


@pytest.fixture
def plant(built, db):
    return Coupling.objects.get(pk=built[2])


def page_of(client, person, coupling, **query):
    client.force_login(person)
    return client.get(f"/trains/{coupling.train.uuid}/", query)


def told(answer):
    return " ".join(answer.content.decode().replace("\u00a0", " ").split())


def test_the_page_says_what_jumped_first_and_shows_the_evidence(client, engineer, plant):
    answer = page_of(client, engineer, plant)
    page = told(answer)
    assert answer.status_code == 200
    assert "jumped before 2 January 2026, and nobody has said why" in page
    leg = Leg.objects.get(coupling=plant, jump=True)
    assert f"/visits/{leg.to_visit.uuid}/record/" in page
    assert "No cause is written down yet." in page


def test_every_visit_is_a_stroke_and_a_row(client, engineer, plant):
    part = page_of(client, engineer, plant).context["parts"][0]
    # Installed without an as-found; the three after it were all re-aligned. A survey there uses a tenth of its limit.
    assert [(row.found and row.found.used, row.left and row.left.used) for row in part.rows] == [(0.1, 0.1)] * 3 + [
        (None, 0.1)
    ]
    assert len(parts(part.wide, "dot")) == 4
    assert len(parts(part.wide, "leg-jump")) == 1
    assert len(parts(part.wide, "leg")) == 2
    assert len(parts(part.wide, "fan")) == 1


def test_the_four_components_stand_in_a_table_and_as_plots(client, engineer, plant):
    part = page_of(client, engineer, plant).context["parts"][0]
    assert [row["name"] for row in part.components] == [
        "Offset, vertical", "Offset, sideways", "Angularity, vertical", "Angularity, sideways",
    ]  # fmt: skip
    sideways = part.components[1]
    # 0.04 mm in each of two years, and less than that from its group.
    assert 0.0 < float(sideways["rate"].split("\u00a0")[0].strip("+")) <= 0.05
    assert len(parts(sideways["plot"], "leg")) == 2
    assert len(parts(sideways["plot"], "leg-jump")) == 1


def test_a_look_on_another_day_says_its_chance(client, engineer, plant):
    on = date(2027, 6, 1)
    page = told(page_of(client, engineer, plant, of=plant.uuid, look=on.isoformat()))
    assert f"By 1 June 2027 {chance(chance_on(plant.drift_state, on))} that it is out of tolerance" in page


@pytest.mark.parametrize(
    ("day", "said"),
    [
        ("June", "Write the day as 2026-10-12."),
        ("2026-10-11", "This day is past"),
        ("2051-01-01", "The forecast reaches to"),
        ("", "Write the day as 2026-10-12."),
    ],
)
def test_a_day_that_cannot_be_meant_is_said_beside_the_field(client, engineer, plant, day, said):
    answer = page_of(client, engineer, plant, of=plant.uuid, look=day)
    assert answer.status_code == 422
    assert said in told(answer)


@pytest.fixture
def on_feet(plant):
    """Feet 200 and 700 mm into the motor from its driver end, on a shaft of 1000 mm: 370 and 870 mm from the centre."""
    machine = plant.driver_machine
    machine.foot_planes.all().delete()
    machine.shaft_length_mm = 1000
    machine.save()
    for name, distance in (("outboard", 200), ("inboard", 700)):
        FootPlane.objects.create(machine=machine, name=name, distance_mm=distance)
    return plant


def test_a_move_is_tried_on_paper(client, engineer, on_feet):
    still = page_of(client, engineer, on_feet, of=on_feet.uuid, plane="driver-0", by="0", way="up")
    away = page_of(client, engineer, on_feet, of=on_feet.uuid, plane="driver-0", by="0.5 mm", way="right")
    before, after = (one.context["parts"][0].trial["found"] for one in (still, away))
    # Half a millimetre on the feet nearer to the coupling turns the motor by 1 mrad and more: out of tolerance.
    assert before.used[0] < 1 < after.used[0]
    assert after.due_on < before.due_on
    assert "moved right by <b>0.50 mm</b>, from where it is expected today, it would be left at" in told(away)


@pytest.mark.parametrize(
    ("plane", "by", "way", "said"),
    [
        ("driver-9", "0.1", "up", "Choose the feet and the way they go."),
        ("driver-0", "0.1", "round", "Choose the feet and the way they go."),
        ("driver-0", "nan", "up", "not a number"),
        ("driver-0", "-1", "up", "a size of nought or more"),
        ("driver-0", "5 m", "up", "is the unit right?"),
        ("driver-0", "3 bar", "up", "bar"),
    ],
)
def test_a_move_that_cannot_be_meant_is_said_beside_the_field(client, engineer, on_feet, plane, by, way, said):
    answer = page_of(client, engineer, on_feet, of=on_feet.uuid, plane=plane, by=by, way=way)
    assert answer.status_code == 422
    assert said in answer.context["parts"][0].trial["error"]
    assert "nothing is kept" in told(answer)


def test_a_stretch_is_left_out_with_a_reason_shown_struck_and_counted_again(client, engineer, plant):
    client.force_login(engineer)
    leg = Leg.objects.get(coupling=plant, jump=True)
    before = plant.drift_state.legs
    answer = client.post(
        f"/legs/{leg.uuid}/leave-out/", {"reason": "bracket slipped", "seen": leg.version}, follow=True
    )
    assert answer.redirect_chain[0][0].endswith(f"#legs-{plant.uuid}")
    page = told(answer)
    assert "Left out</b> by Ana, 12 October 2026: bracket slipped." in page
    assert 'class="struck"' in page
    assert len(parts(answer.context["parts"][0].wide, "leg-out")) == 1
    plant.drift_state.refresh_from_db()
    assert plant.drift_state.legs == before - 1
    leg.refresh_from_db()
    client.post(f"/legs/{leg.uuid}/count-again/", {"seen": leg.version})
    plant.drift_state.refresh_from_db()
    assert plant.drift_state.legs == before


def test_without_a_reason_nothing_is_left_out(client, engineer, plant):
    client.force_login(engineer)
    leg = Leg.objects.get(coupling=plant, jump=True)
    answer = client.post(f"/legs/{leg.uuid}/leave-out/", {"reason": "  "})
    assert answer.status_code == 422
    assert "Say why this leg does not count" in told(answer)
    leg.refresh_from_db()
    assert leg.left_out_at is None


def test_a_mechanic_reads_but_leaves_nothing_out(client, mechanic, plant):
    page = told(page_of(client, mechanic, plant))
    assert "Between visits" in page
    assert "Leave this out" not in page
    leg = Leg.objects.filter(coupling=plant).first()
    assert client.post(f"/legs/{leg.uuid}/leave-out/", {"reason": "x"}).status_code == 403


def test_two_who_change_one_stretch_at_once_do_not_overwrite(client, engineer, plant):
    client.force_login(engineer)
    leg = Leg.objects.get(coupling=plant, jump=True)
    answer = client.post(f"/legs/{leg.uuid}/leave-out/", {"reason": "x", "seen": leg.version - 1})
    assert answer.status_code in (409, 412)
    leg.refresh_from_db()
    assert leg.left_out_at is None


def test_a_train_that_was_never_measured_says_so(client, engineer, site):
    fit = FitFactory(coupling__train__site=site)
    page = told(page_of(client, engineer, fit.coupling))
    assert "was never measured" in page
    assert "The first signed survey begins its history." in page


def test_an_old_card_and_a_visit_without_a_survey_are_shown_and_not_made_up(client, engineer, plant, site):
    fit = plant.fits.get()
    surveyed(fit, date(2023, 6, 1), engineer, kind=Visit.Kind.LEGACY, stated=(0.1, 0.3))
    surveyed(fit, date(2026, 3, 1), engineer, kind=Visit.Kind.TORQUE)
    answer = page_of(client, engineer, plant)
    part, page = answer.context["parts"][0], told(answer)
    assert "old card, no readings" in page
    assert "not measured" in page
    assert (len(parts(part.wide, "card")), len(parts(part.wide, "hair"))) == (1, 1)


def test_targets_say_who_set_them_and_when(client, engineer, plant):
    TargetPart.objects.create(
        coupling=plant, kind="thermal", offset_v_mm=0.1, on=date(2026, 5, 4), by=engineer, note="hot"
    )
    page = told(page_of(client, engineer, plant))
    assert "thermal growth" in page
    assert "set 4 May 2026 by Ana: hot" in page


def test_elements_are_ticks_and_a_list(client, engineer, plant):
    fit = plant.fits.get()
    Element.objects.create(site=fit.site, fit=fit, part_number="EL-9", fitted_on=date(2025, 1, 2))
    answer = page_of(client, engineer, plant)
    assert len(parts(answer.context["parts"][0].wide, "tick")) == 1
    assert "EL-9" in told(answer)


def test_somebody_of_another_site_finds_no_train(client, stranger, plant):
    assert page_of(client, stranger, plant).status_code == 404


def test_the_list_has_one_line_per_coupling_over_one_span(client, engineer, plant):
    client.force_login(engineer)
    answer = client.get("/trains/", {"sort": "pace"})
    rows = answer.context["rows"]
    assert len(rows) == 9
    paces = [one.drift_state.pace_share for one, _line in rows]
    assert paces == sorted(paces, reverse=True)
    # 731 days back and 366 ahead share 168 units.
    todays = {numbers(parts(line, "today")[0], "x1") for _one, line in rows}
    assert [x for (x,) in todays] == [pytest.approx(4 + 168 * 731 / 1097, abs=0.06)]
    assert len(gzip.compress(answer.content)) < 60_000


def test_lines_ask_as_often_for_two_as_for_nine(plant, site, connection_queries):
    couplings = list(type(plant).objects.filter(site=site))
    pasts_of(couplings, TODAY)
    with connection_queries() as two:
        pasts_of(couplings[:2], TODAY)
    with connection_queries() as nine:
        pasts_of(couplings, TODAY)
    assert len(nine) == len(two)


def test_the_span_of_a_list_reaches_a_year_ahead(plant):
    past = pasts_of([plant], TODAY)[plant.pk]
    assert past.ahead[0].on == date(2026, 1, 2)
    assert past.ahead[-1].on == TODAY + timedelta(days=366)


def test_a_flag_of_drift_opens_its_evidence(client, engineer, plant):
    evidence = {"jumps": [], "on": "2026-01-02"}
    with recording(by=None, at=NOW):
        open_flag(coupling=plant, kind=Flag.Kind.JUMP, evidence=evidence)
    client.force_login(engineer)
    address = f"/trains/{plant.train.uuid}/#jumps-{plant.uuid}"
    for page in ("/flags/", f"/couplings/{plant.uuid}/"):
        assert f'href="{address}"' in client.get(page).content.decode()
    assert f'id="jumps-{plant.uuid}"' in client.get(address).content.decode()
