"""The page of a train: shafts, units exchanged, service with its times, readings struck; where a unit stood."""

from datetime import timedelta

import pytest
from django.urls import reverse

from plant.models import Machine, MachineUnit, MeterReading, ServiceSpell, UnitStay
from plant.recording import recording
from plant.services.register import change_train, record_run_hours
from plant.services.service import set_service
from plant.services.units import install_unit, register_unit
from tests.factories import NOW, CouplingFactory, TrainFactory

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)


@pytest.fixture
def train(site):
    return TrainFactory(site=site, tag="BF-21")


@pytest.fixture
def motor(train):
    """Motor 1001 stands at position 1."""
    with recording(by=None, at=NOW):
        unit = register_unit(site=train.site, kind="motor", serial="1001")
        install_unit(unit=unit, machine=train.machines.get(position=1), at=None)
    return unit


def of(row, act="one"):
    noun = {"train": "trains", "machineunit": "machine-units", "area": "areas"}[row._meta.model_name]
    return reverse(f"register-{noun}-{act}", args=[row.uuid])


def press(client, address, form_of, **typed):
    """Open an act, fill it in and press."""
    page = client.get(address)
    assert page.status_code == 200
    return client.post(address.split("?")[0], form_of(page) | typed)


def said(answer):
    return " ".join(answer.content.decode().split())


def place(train, position=1):
    return str(train.machines.get(position=position).uuid)


def test_shafts_are_entered_and_read_one_per_side_of_a_gear_unit_and_lowest_to_highest(as_keeper, train, form_of):
    typed = form_of(as_keeper.get(of(train, "edit")))
    typed |= {"machines.0.rpm": "1490", "machines.0.lowest_rpm": "600", "machines.0.power_kw": "250"}
    typed = form_of(as_keeper.post(of(train, "edit"), typed | {"_before": "machines.1"}))
    assert [typed[f"machines.{n}.name"] for n in range(3)] == ["motor", "", "pump"]
    typed |= {
        "machines.1.name": "gear unit", "machines.1.role": "gear", "machines.1.rpm": "1490",
        "machines.1.lowest_rpm": "600", "machines.1.driven_rpm": "298", "machines.1.driven_lowest_rpm": "120",
        "machines.1.driven_power_kw": "240",
    }  # fmt: skip
    pump = Machine.objects.get(train=train, name="pump")
    assert as_keeper.post(of(train, "edit"), typed).status_code == 302
    pump.refresh_from_db()
    assert pump.position == 3
    page = said(as_keeper.get(of(train))).replace("\xa0", " ")
    assert "600 rpm to 1490 rpm, 250.0 kW" in page
    assert "driver side: 600 rpm to 1490 rpm" in page
    assert "driven side: 120 rpm to 298 rpm, 240.0 kW" in page
    assert "outboard 300.0 mm, 355.0 mm high" in page


def test_two_speeds_of_one_coupling_that_disagree_are_refused_beside_the_field(as_keeper, train, form_of):
    typed = form_of(as_keeper.get(of(train, "edit"))) | {"machines.0.rpm": "1490", "machines.1.rpm": "2980"}
    answer = as_keeper.post(of(train, "edit"), typed)
    assert answer.status_code == 422
    assert 'id="f-machines-1-rpm_error"' in said(answer)
    assert "two shafts of one coupling turn together." in said(answer)


def test_nothing_is_put_before_a_machine_that_a_coupling_joins_and_the_list_says_why(as_keeper, train, form_of):
    CouplingFactory(train=train, tag="C-1")
    typed = form_of(as_keeper.post(of(train, "edit"), form_of(as_keeper.get(of(train, "edit"))) | {
        "_before": "machines.1"
    }))  # fmt: skip
    answer = as_keeper.post(of(train, "edit"), typed | {"machines.1.name": "gear unit", "machines.1.role": "gear"})
    assert answer.status_code == 422
    assert "Coupling C-1 joins two machines that would not stay neighbours" in said(answer)
    assert 'value="gear unit"' in said(answer)


def test_a_motor_is_exchanged_for_one_that_is_new_to_the_register(as_mechanic, train, motor, form_of):
    answer = press(
        as_mechanic, of(train, "exchange-unit"), form_of, machine=place(train), kind="motor", serial="1002",
        at="2026-10-12 08:20", reason="winding burnt", went_to="rewinding shop", left_with_hub="yes",
        came_with_hub="no",
    )  # fmt: skip
    assert answer["Location"] == of(train)
    old, new = UnitStay.objects.order_by("pk")
    assert (old.unit, old.reason, old.went_to, old.left_with_hub) == (motor, "winding burnt", "rewinding shop", True)
    assert (new.unit.serial, new.came_with_hub, new.from_at) == ("1002", False, old.until_at)
    page = said(as_mechanic.get(of(train)))
    assert f'<a href="{of(new.unit)}">motor 1002</a>' in page
    assert "rewinding shop" in said(as_mechanic.get(of(motor)))


def test_an_exchange_that_is_refused_registers_no_unit_and_keeps_what_was_typed(as_mechanic, train, motor, form_of):
    answer = press(
        as_mechanic, of(train, "exchange-unit"), form_of, machine=place(train), kind="motor", serial="1002",
        at="2099-01-01 08:20", reason="winding burnt",
    )  # fmt: skip
    assert answer.status_code == 422
    assert "This lies in the future" in said(answer)
    assert 'value="1002"' in said(answer)
    assert MachineUnit.objects.count() == 1
    nobody = press(
        as_mechanic, of(train, "exchange-unit"), form_of, machine=place(train), at="2026-10-12 08:20", reason="x"
    )
    assert "Choose the unit that came, or type kind and serial number" in said(nobody)


def test_a_unit_is_put_into_an_empty_place_and_taken_out_again(as_keeper, train, motor, form_of):
    page = as_keeper.get(of(train, "put-unit"))
    assert place(train) not in said(page)
    assert place(train, 2) in said(page)
    press(as_keeper, of(train, "put-unit"), form_of, machine=place(train, 2), kind="pump", serial="P-7")
    assert UnitStay.objects.get(unit__serial="P-7").from_at is None
    press(
        as_keeper, of(train, "take-unit-out"), form_of, machine=place(train, 2), at="2026-10-12 08:20", reason="worn",
        went_to="store",
    )  # fmt: skip
    stay = UnitStay.objects.get(unit__serial="P-7")
    assert (stay.reason, stay.went_to, stay.until_at is not None) == ("worn", "store", True)


def test_a_train_is_taken_out_of_service_with_time_and_reason_and_the_spell_is_corrected(as_person_on_pages, train,
                                                                                         planner, form_of):  # fmt: skip
    client = as_person_on_pages(planner)
    with recording(by=None, at=NOW - 30 * DAY):
        set_service(train=train, state="uncoupled")
    train.refresh_from_db()
    assert "It was uncoupled" not in said(client.get(of(train)))
    press(client, of(train, "out-of-service"), form_of, at="2026-10-11 06:00", reason="overhaul")
    train.refresh_from_db()
    assert train.service == "out"
    page = said(client.get(of(train)))
    assert "overhaul" in page
    assert "before the record began" in page
    links = [link.split('"')[0].replace("&amp;", "&") for link in page.split('href="')]
    address = next(link for link in links if link.startswith(of(train, "correct-service")))
    press(client, address, form_of, from_at="2026-10-10 06:00")
    spell = ServiceSpell.objects.get(train=train, until_at=None)
    assert (spell.from_at.day, spell.reason) == (10, "overhaul")
    press(client, of(train, "take-back-service"), form_of, spell=str(spell.uuid))
    train.refresh_from_db()
    assert train.service == "uncoupled"


def test_a_mistyped_reading_is_struck_and_shown_struck(as_mechanic, train, form_of):
    with recording(by=None, at=NOW):
        record_run_hours(train=train, at=NOW - 10 * DAY, hours=7000)
        record_run_hours(train=train, at=NOW - 9 * DAY, hours=7024)
    wrong = MeterReading.objects.get(hours=7024)
    page = said(as_mechanic.get(of(train)))
    assert f"?reading={wrong.pk}" in page
    answer = press(as_mechanic, f"{of(train, 'strike-reading')}?reading={wrong.pk}", form_of, reason="a digit too many")
    assert answer["Location"] == of(train)
    page = said(as_mechanic.get(of(train)))
    assert "struck, counts for nothing: a digit too many (Mia)" in page
    assert f"?reading={wrong.pk}" not in page


def test_where_a_unit_stood_is_corrected_and_taken_back(as_keeper, train, motor, form_of):
    stay = motor.stays.get()
    page = said(as_keeper.get(of(motor)))
    assert of(train) in page
    assert "it stands there" in page
    press(as_keeper, f"{of(motor, 'correct-stay')}?stay={stay.uuid}", form_of, from_at="2026-01-05 10:00",
          came_with_hub="yes")  # fmt: skip
    stay.refresh_from_db()
    assert (stay.from_at.day, stay.came_with_hub, stay.until_at) == (5, True, None)
    refused = press(as_keeper, f"{of(motor, 'correct-stay')}?stay={stay.uuid}", form_of, until_at="2026-02-05 10:00")
    assert "It still stands there: take it out first." in said(refused)
    press(as_keeper, f"{of(motor, 'take-back-stay')}?stay={stay.uuid}", form_of)
    assert not motor.stays.exists()


def test_a_units_own_page_puts_it_in_for_another(as_mechanic, train, motor, form_of):
    with recording(by=None, at=NOW):
        spare = register_unit(site=train.site, kind="motor", serial="1003")
    press(as_mechanic, of(spare, "swap-in"), form_of, machine=place(train), at="2026-10-12 08:20", reason="vibration")
    assert spare.stays.get().machine.position == 1
    assert f'<a href="{of(train)}">BF-21 1 motor</a>' in said(as_mechanic.get(of(spare)))
    listed = said(as_mechanic.get("/register/machine-units/?stands=no"))
    assert "1001" in listed
    assert "1003" not in listed


def test_somebody_without_the_right_is_offered_none_of_it(as_person_on_pages, train, motor, manager):
    client = as_person_on_pages(manager)
    page = said(client.get(of(train)))
    for words in ("exchanged for another", "out of service", "Strike", "Correct it"):
        assert words not in page
    assert client.get(of(train, "exchange-unit")).status_code == 403
    assert client.post(of(train, "out-of-service"), {"version": "1"}).status_code == 403


def test_lists_of_units_ask_no_more_for_more_of_them(as_keeper, site, django_assert_max_num_queries):
    with recording(by=None, at=NOW):
        for n in range(12):
            unit = register_unit(site=site, kind="motor", serial=f"S-{n}")
            install_unit(unit=unit, machine=TrainFactory(site=site).machines.get(position=1), at=None)
    # Session, person, roles, own site, sites, kinds, count, units, stays with machines and trains.
    with django_assert_max_num_queries(13):
        as_keeper.get("/register/machine-units/")


def test_the_history_of_a_train_tells_spells_and_machines_that_moved(as_keeper, train):
    with recording(by=None, at=NOW):
        change_train(train=train, machines=[{"name": "turbine", "role": "driver"}, *(
            {"uuid": one.uuid, "name": one.name, "role": one.role} for one in train.machines.all()
        )])  # fmt: skip
    page = said(as_keeper.get(of(train)))
    assert "Turbine was added." in page
