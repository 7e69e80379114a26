"""The administration: who gets in, and that it writes like everything else."""

import pytest
from django.contrib import admin
from django.urls import reverse

from plant.models import (
    Area,
    FootPlane,
    Machine,
    MachineUnit,
    Person,
    ServiceSpell,
    Site,
    SiteNumber,
    Tombstone,
    Train,
    UnitStay,
)  # fmt: skip
from plant.recording import recording
from plant.services.service import set_service
from plant.services.units import install_unit
from tests.factories import NOW, AreaFactory, PersonFactory, TrainFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def train(site):
    return TrainFactory(site=site, area__site=site, tag="BF-21")


@pytest.fixture
def administrator():
    return PersonFactory(username="root", is_superuser=True, is_staff=True)


@pytest.fixture
def staff_keeper(keeper):
    keeper.is_staff = True
    keeper.save()
    return keeper


def address(model, page, *args):
    return reverse(f"admin:{model._meta.app_label}_{model._meta.model_name}_{page}", args=args)


def posted(client, where):
    """What a browser would send back from this page, fields unchanged."""
    context = client.get(where).context
    form = context["adminform"].form
    fields = {name: field.value() for name, field in ((bound.name, bound) for bound in form)}
    below = [one.formset.prefix for one in context["inline_admin_formsets"]]
    counts = {f"{prefix}-{name}_FORMS": 0 for prefix in below for name in ("TOTAL", "INITIAL")}
    return {name: "" if value is None else value for name, value in fields.items()} | counts


@pytest.mark.parametrize("model", sorted(admin.site._registry, key=lambda model: model._meta.label), ids=str)
def test_every_list_opens_and_is_searched(client, administrator, train, model):
    client.force_login(administrator)
    assert client.get(address(model, "changelist")).status_code == 200
    assert client.get(address(model, "changelist"), {"q": "x"}).status_code == 200


@pytest.mark.parametrize("model", [Site, Area, Train, Machine, Person])
def test_every_form_opens(client, administrator, train, model):
    client.force_login(administrator)
    assert client.get(address(model, "change", model._default_manager.first().pk)).status_code == 200
    assert client.get(address(model, "add")).status_code == 200


def test_a_change_is_one_unit_with_version_number_and_author(client, staff_keeper, train):
    client.force_login(staff_keeper)
    where = address(Train, "change", train.pk)
    saved = client.post(where, posted(client, where) | {"name": "Renamed"})
    assert saved.status_code == 302, saved.context["adminform"].form.errors
    train.refresh_from_db()
    assert (train.name, train.version, train.changed_no) == ("Renamed", 2, 1)
    assert Train.history.latest().history_user == staff_keeper


def test_a_new_row_gets_its_number(client, staff_keeper, site):
    client.force_login(staff_keeper)
    assert client.post(address(Area, "add"), {"site": site.pk, "name": "Pump house"}).status_code == 302
    assert Area.objects.get().changed_no == 1


def test_a_new_site_gets_its_running_number(client, administrator, site):
    client.force_login(administrator)
    body = posted(client, address(Site, "add")) | {"name": "Nordholt Yard"}
    assert client.post(address(Site, "add"), body).status_code == 302
    assert SiteNumber.objects.get(site__name="Nordholt Yard").last == 1


def test_a_removed_row_leaves_a_tombstone(client, staff_keeper, site):
    area = AreaFactory(site=site)
    client.force_login(staff_keeper)
    assert client.post(address(Area, "delete", area.pk), {"post": "yes"}).status_code == 302
    assert Tombstone.objects.get().uuid == area.uuid


def test_feet_raise_the_version_of_their_train(client, staff_keeper, train):
    client.force_login(staff_keeper)
    machine = train.machines.first()
    where = address(Machine, "change", machine.pk)
    body = posted(client, where) | {
        "foot_planes-TOTAL_FORMS": 1,
        "foot_planes-INITIAL_FORMS": 0,
        "foot_planes-0-machine": machine.pk,
        "foot_planes-0-name": "middle",
        "foot_planes-0-distance_mm": 500,
    }
    assert client.post(where, body).status_code == 302
    assert FootPlane.objects.filter(machine=machine).count() == 3
    train.refresh_from_db()
    assert (train.version, train.changed_no) == (2, 1)


def test_nothing_of_another_site_can_be_named(client, administrator, train, other_site):
    client.force_login(administrator)
    foreign = AreaFactory(site=other_site, name="Foreign")
    where = address(Train, "change", train.pk)
    refused = client.post(where, posted(client, where) | {"area": foreign.pk})
    assert refused.context["adminform"].form.errors == {"area": ["This is at another site."]}
    train.refresh_from_db()
    assert train.version == 1


def test_a_staff_member_sees_his_sites_and_changes_what_his_role_lets_him(client, mechanic, train, other_site):
    mechanic.is_staff = True
    mechanic.save()
    foreign = TrainFactory(site=other_site, area__site=other_site, tag="X-1")
    client.force_login(mechanic)
    assert list(client.get(address(Train, "changelist")).context["cl"].queryset) == [train]
    assert client.get(address(Train, "change", foreign.pk)).status_code == 302
    where = address(Train, "change", train.pk)
    assert client.get(where).status_code == 200
    assert client.post(where, {"name": "x"}).status_code == 403
    assert client.get(address(Train, "add")).status_code == 403
    assert client.get(address(Person, "changelist")).status_code == 403


def test_who_is_no_staff_is_sent_to_sign_in(client, keeper, train):
    client.force_login(keeper)
    assert client.get(address(Train, "changelist")).status_code == 302


def test_service_is_looked_at_and_a_new_train_gets_its_first_spell(client, staff_keeper, train):
    client.force_login(staff_keeper)
    where = address(Train, "change", train.pk)
    assert "service" not in posted(client, where)
    assert client.post(where, posted(client, where) | {"service": "out"}).status_code == 302
    train.refresh_from_db()
    assert train.service == "in"

    form = posted(client, address(Train, "add"))
    made = client.post(
        address(Train, "add"), form | {"site": train.site_id, "area": train.area_id, "tag": "N-1", "service": "out"}
    )
    assert made.status_code == 302, made.context["adminform"].form.errors
    assert ServiceSpell.objects.get(train__tag="N-1").state == "out"


def test_spells_have_a_history_page(client, administrator, train):
    with recording(by=None, at=NOW):
        spell = set_service(train=train, state="out")
    client.force_login(administrator)
    assert client.get(address(ServiceSpell, "history", spell.pk)).status_code == 200


def test_a_unit_is_kept_here_with_its_history_and_its_stays_are_looked_at(client, staff_keeper, administrator, train):
    client.force_login(staff_keeper)
    body = posted(client, address(MachineUnit, "add"))
    made = client.post(address(MachineUnit, "add"), body | {"site": train.site_id, "kind": "motor", "serial": "M-1"})
    assert made.status_code == 302, made.context["adminform"].form.errors
    unit = MachineUnit.objects.get()
    assert (unit.version, unit.changed_no, unit.history.get().history_user) == (1, 1, staff_keeper)
    twice = client.post(address(MachineUnit, "add"), body | {"site": train.site_id, "kind": "motor", "serial": "M-1"})
    assert "already exists" in str(twice.context["adminform"].form.errors)
    with recording(by=None, at=NOW):
        stay = install_unit(unit=unit, machine=train.machines.first(), at=None)
    page = client.get(address(MachineUnit, "change", unit.pk)).content.decode()
    assert "BF-21 1 motor" in page
    assert client.get(address(MachineUnit, "changelist"), {"q": "M-1"}).context["cl"].result_count == 1
    client.force_login(administrator)
    assert client.get(address(UnitStay, "history", stay.pk)).status_code == 200
