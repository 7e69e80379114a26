"""The administration writes through services, shows what they refuse, and leaves published versions alone."""

import pytest
from django.urls import reverse
from zeal import zeal_ignore

from couplings.models import Coupling, DataSheet, Grade, GradeRow, Instrument, SheetVersion
from plant.models import Person
from tests.factories import (
    CouplingFactory,
    DataSheetFactory,
    FamilyFactory,
    FitFactory,
    InstrumentFactory,
    MembershipFactory,
    SheetVersionFactory,
    TrainFactory,
)


@pytest.fixture
def keeping(client, keeper):
    """The keeper, with the key to the administration."""
    Person.objects.filter(pk=keeper.pk).update(is_staff=True)
    client.force_login(Person.objects.get(pk=keeper.pk), backend="plant.backends.PersonBackend")
    return client


@pytest.fixture
def version(site):
    return SheetVersionFactory(
        sheet=DataSheetFactory(site=site, designation="Jaw 80"), published_at=None, published_by=None, digest=""
    )


@pytest.fixture(autouse=True)
def _rows_looked_up_one_by_one():
    """Django's own formsets and raw ids read each chosen row by itself when they are sent back; they are few."""
    with zeal_ignore([{"model": "*", "field": "get()"}]):
        yield


def address(row, what="change"):
    return reverse(f"admin:couplings_{row._meta.model_name}_{what}", args=[row.pk])


def sent(page):
    """What a browser would send back: the form and its rows as they are shown."""
    context = page.context
    fields = {}
    forms = [context["adminform"].form]
    for inline in context["inline_admin_formsets"]:
        forms += [inline.formset.management_form, *inline.formset.forms]
    for form in forms:
        for name in form.fields:
            value = form[name].value()
            if value is True:
                fields[form.add_prefix(name)] = "on"
            elif value is not None and value is not False:
                fields[form.add_prefix(name)] = value
    return fields


def said(page):
    errors = dict(page.context["adminform"].form.errors)
    return {field: list(messages) for field, messages in errors.items()}


def test_every_list_and_form_opens_and_is_searched(keeping, version, site):
    coupling = CouplingFactory(train=TrainFactory(site=site, tag="BF-21"))
    rows = [coupling, version, version.sheet, version.sheet.family, InstrumentFactory(site=site)]
    rows += [FitFactory(coupling=coupling, sheet_version=SheetVersionFactory(sheet=DataSheetFactory(site=site)))]
    rows += [Grade.objects.create(site=site, name="House")]
    for row in rows:
        listed = keeping.get(reverse(f"admin:couplings_{row._meta.model_name}_changelist") + "?q=a")
        assert listed.status_code == 200
        assert keeping.get(address(row)).status_code == 200
        if hasattr(row, "history"):
            assert keeping.get(address(row, "history")).status_code == 200


def test_a_change_goes_through_the_service_with_version_and_author(keeping, keeper, site):
    dial = InstrumentFactory(site=site)
    form = sent(keeping.get(address(dial))) | {"name": "Dial, long stem"}
    assert keeping.post(address(dial), form).status_code == 302
    dial.refresh_from_db()
    assert (dial.name, dial.version) == ("Dial, long stem", 2)
    assert dial.changed_no > 0
    assert dial.history.first().history_user == keeper


def test_a_refusal_stands_beside_its_field_and_keeps_what_was_typed(keeping, site):
    InstrumentFactory(site=site, serial="D-1")
    dial = InstrumentFactory(site=site, serial="D-2", name="Dial")
    form = sent(keeping.get(address(dial))) | {"serial": "D-1", "name": "Renamed", "standard_u_share": "0.02"}
    page = keeping.post(address(dial), form)
    assert page.status_code == 200
    assert said(page) == {
        "serial": ["Another instrument of this kind has this serial number here."],
        "standard_u_share": ["Only a torque tool's uncertainty is a share of what it reads."],
    }
    assert page.context["adminform"].form["name"].value() == "Renamed"
    assert Instrument.objects.get(pk=dial.pk).version == 1


def test_an_instrument_and_a_coupling_are_added(keeping, site):
    new = {"site": site.pk, "kind": "dial", "name": "Dial", "serial": "D-9", "standard_u_mm": "0.01"}
    assert keeping.post(reverse("admin:couplings_instrument_add"), new).status_code == 302
    assert Instrument.objects.get(serial="D-9").changed_no > 0
    train = TrainFactory(site=site)
    motor, pump = train.machines.order_by("position")
    page = keeping.get(reverse("admin:couplings_coupling_add"))
    place = {"train": train.pk, "driver_machine": pump.pk, "driven_machine": motor.pk, "tag": "C1", "rpm": "1480"}
    refused = keeping.post(reverse("admin:couplings_coupling_add"), sent(page) | place)
    assert set(said(refused)) == {"driven_machine"}
    right = place | {"driver_machine": motor.pk, "driven_machine": pump.pk}
    assert keeping.post(reverse("admin:couplings_coupling_add"), sent(page) | right).status_code == 302
    assert Coupling.objects.get().site == site


def test_a_data_sheet_is_added_with_its_first_version(keeping, site):
    page = keeping.get(reverse("admin:couplings_datasheet_add"))
    new = {"site": site.pk, "family": FamilyFactory().pk, "designation": "Jaw 90", "note": "from the drawer"}
    assert keeping.post(reverse("admin:couplings_datasheet_add"), sent(page) | new).status_code == 302
    sheet = DataSheet.objects.get()
    assert (sheet.note, sheet.versions.get().number) == ("from the drawer", 1)


def test_an_unpublished_version_is_changed_with_its_limits(keeping, version):
    page = keeping.get(address(version))
    form = sent(page) | {"note": "checked", "limits-0-stated_value": "1.5"}
    assert keeping.post(address(version), form).status_code == 302
    version.refresh_from_db()
    assert version.note == "checked"
    # Rows are shown in order of their quantity: angularity first, stated as a slope and judged by the same figure.
    assert {limit.quantity: limit.value for limit in version.limits.all()} == {"angularity": 1.5, "offset": 0.2}
    assert version.joints.count() == 1
    assert version.sheet.versions.count() == 1


def test_a_joint_is_changed_and_its_preload_told_beside_it(keeping, version):
    joint = {"thread": "M10x1.5", "strength_standard": "ISO 898-1", "strength_class": "8.8", "nut_factor": "0.2"}
    form = sent(keeping.get(address(version))) | {f"joints-0-{name}": text for name, text in joint.items()}
    page = keeping.post(address(version), form)
    assert "A nut factor and its source go together" in page.content.decode()
    form |= {"joints-0-nut_factor_source": "own tests", "joints-0-pass_shares": "[0.5, 0.9]"}
    assert said(keeping.post(address(version), form)) == {
        "__all__": ["joints, row 1, pass shares: The last pass must be at full torque."]
    }
    form |= {"joints-0-pass_shares": "[0.5, 1]"}
    assert keeping.post(address(version), form).status_code == 302
    assert version.joints.get().pass_shares == [0.5, 1]
    assert "of the proof load (ISO 898-1 8.8)" in keeping.get(address(version)).content.decode()


def test_a_limit_that_cannot_be_judged_by_is_named_by_its_row(keeping, version):
    form = sent(keeping.get(address(version))) | {"note": "x", "limits-1-stated_as": "degrees"}
    page = keeping.post(address(version), form)
    assert said(page) == {"__all__": ["limits, row 2, stated as: A limit on offset is stated as a length."]}
    version.refresh_from_db()
    assert (version.note, version.limits.get(quantity="offset").stated_as) == ("", "length")


def test_a_published_version_is_only_shown(keeping, version):
    form = sent(keeping.get(address(version)))
    SheetVersion.objects.filter(pk=version.pk).update(published_at="2026-10-01T00:00:00Z", digest="d" * 64)
    page = keeping.get(address(version))
    assert page.status_code == 200
    assert not page.context["adminform"].form.fields
    assert keeping.post(address(version), form | {"note": "slipped in"}).status_code == 403
    version.refresh_from_db()
    assert version.note == ""


def test_publishing_from_the_list_asks_who_may(keeping, version, keeper, site):
    listed = reverse("admin:couplings_sheetversion_changelist")
    act = {"action": "publish", "_selected_action": [version.pk]}
    told = keeping.post(listed, act, follow=True)
    assert "does not let you approve limits" in told.content.decode()
    MembershipFactory(person=keeper, site=site, role="engineer")
    told = keeping.post(listed, act, follow=True)
    assert "it is in force now" in told.content.decode()
    version.refresh_from_db()
    assert version.published_by == keeper
    again = {"action": "begin_version", "_selected_action": [version.sheet.pk]}
    keeping.post(reverse("admin:couplings_datasheet_changelist"), again)
    assert version.sheet.versions.count() == 2


def test_rows_of_a_grade_are_replaced_as_one_list(keeping, keeper, site):
    MembershipFactory(person=keeper, site=site, role="engineer")
    page = keeping.get(reverse("admin:couplings_grade_add"))
    row = {"kind": "short", "over_rpm": "0", "up_to_rpm": "1800", "rule": "vector", "source": "S", "mark": "site"}
    rows = {f"rows-0-{name}": value for name, value in (row | {"offset_mm": "0.1"}).items()}
    rows |= {f"rows-1-{name}": value for name, value in (row | {"over_rpm": "900", "offset_mm": "0.05"}).items()}
    form = sent(page) | {"site": site.pk, "name": "House", "rows-TOTAL_FORMS": "2", **rows}
    refused = keeping.post(reverse("admin:couplings_grade_add"), form)
    assert said(refused) == {"__all__": ["rows, row 2, over rpm: This band overlaps that of row 1."]}
    assert not Grade.objects.exists()
    form |= {"rows-1-over_rpm": "1800", "rows-1-up_to_rpm": "3600"}
    assert keeping.post(reverse("admin:couplings_grade_add"), form).status_code == 302
    grade = Grade.objects.get()
    assert [row.up_to_rpm for row in grade.rows.all()] == [1800, 3600]
    gone = sent(keeping.get(address(grade))) | {"rows-0-DELETE": "on"}
    assert keeping.post(address(grade), gone).status_code == 302
    assert [row.up_to_rpm for row in GradeRow.objects.all()] == [3600]


def test_families_are_the_administrators(keeping, admin_client):
    family = FamilyFactory()
    assert keeping.post(address(family), {"name": "x"}).status_code == 403
    form = sent(admin_client.get(address(family))) | {"name": "Jaw"}
    assert admin_client.post(address(family), form).status_code == 302
    family.refresh_from_db()
    assert family.name == "Jaw"


def test_foreign_rows_and_those_without_the_key_see_nothing(keeping, client, mechanic, other_site, site):
    foreign = InstrumentFactory(site=other_site)
    assert keeping.get(address(foreign)).status_code == 302
    new = {"site": other_site.pk, "kind": "dial", "name": "Dial", "serial": "D-9"}
    refused = keeping.post(reverse("admin:couplings_instrument_add"), new)
    assert (refused.status_code, Instrument.objects.count()) == (200, 1)
    client.force_login(mechanic, backend="plant.backends.PersonBackend")
    assert client.get(address(InstrumentFactory(site=site))).status_code == 302
    Person.objects.filter(pk=mechanic.pk).update(is_staff=True)
    own = InstrumentFactory(site=site)
    assert client.get(address(own)).status_code == 200
    assert client.post(address(own), {"name": "x"}).status_code == 403


def test_history_is_read_and_never_reverted(keeping, site):
    dial = InstrumentFactory(site=site)
    past = dial.history.first()
    where = reverse("admin:couplings_instrument_simple_history", args=[dial.pk, past.pk])
    assert keeping.get(where).status_code == 200
    assert keeping.post(where, {"name": "old"}).status_code == 403
