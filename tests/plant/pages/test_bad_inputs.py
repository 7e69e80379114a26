"""Bad input on the pages of the register: which page, what was typed, at which field, and the sentence that says why.

Each is answered beside its field; nothing is saved, and everything typed is still there to be mended.
"""

from datetime import timedelta

import pytest
from django.test import Client
from django.utils.html import escape

from plant.models import Person
from plant.pages.register import noun_of
from tests.couplings.sheets_written import write_full
from tests.factories import NOW, MembershipFactory, PersonFactory, TrainFactory
from tests.world import World

pytestmark = pytest.mark.django_db
# World's whole form for a new row of a noun, and its row for the pages of one.
FORMS = {
    "areas": "new_area_form", "trains": "new_train_form", "stops": "new_stop_form", "machine-units": "new_unit_form",
    "couplings": "new_coupling_form", "fits": "new_fit_form", "data-sheets": "new_sheet_form", "stock": "stock_form",
    "instruments": "instrument_form", "removal-reasons": "removal_reason_form", "grades": "grade_form",
    "policies": "policy_form", "growth": "growth_coefficient_form", "storage-rules": "storage_rule_form",
    "nut-factors": "nut_factor_form", "scatter": "tightening_scatter_form", "fit-classes": "fit_class_form",
    "second-screws": "second_screw_factor_form", "failure-codes": "failure_code_form",
    "wear-wordings": "wear_wording_form",
}  # fmt: skip
ROWS = {
    "sites": "site", "areas": "area", "trains": "read_train", "machine-units": "machine_unit", "fits": "fit",
    "couplings": "coupling", "elements": "element", "stock": "stock_lot", "instruments": "instrument",
    "data-sheets": "sheet_with_version", "stops": "stop",
}  # fmt: skip
ANOTHER = {"machine": "@", "serial": "M-9", "kind": "motor", "reason": "noisy"}  # @: the motor's position
TOMORROW = (NOW + timedelta(days=1)).date().isoformat()
MACHINE = "machines.0."
# noun, page, what is typed, field, sentence
BAD = [
    ("sites", "edit", {"name": ""}, "name", "Missing: Name."),
    ("sites", "edit", {"zone": "Mars/Olympus"}, "zone", "zone"),
    ("sites", "edit", {"currency": "money"}, "currency", "Ensure this value has at most 3 characters"),
    ("sites", "edit", {"labour_rate": "nan"}, "labour_rate", "“nan” is not a number."),
    ("sites", "edit", {"labour_rate": "-5"}, "labour_rate", "It must lie between"),
    ("sites", "judging", {"confidence": "inf"}, "confidence", "“inf” is not a number."),
    ("sites", "judging", {"confidence": "2"}, "confidence", "It must lie between"),
    ("sites", "judging", {"reading_u_mm": "5 kg"}, "reading_u_mm", "kg"),
    ("sites", "judging", {"reference_degc": "-300"}, "reference_degc", "A temperature cannot be below absolute"),
    ("sites", "judging", {"shims_most": "many"}, "shims_most", "“many” is no whole number."),
    ("areas", "new", {"name": " "}, "name", "Missing: Name."),
    ("areas", "new", {"name": "A" * 200}, "name", "Ensure this value has at most"),
    ("areas", "new", {"parent": "elsewhere"}, "parent", "Choose one of the list"),
    ("trains", "edit", {"tag": " "}, "tag", "Missing: Tag."),
    ("trains", "edit", {"tag": "T" * 41}, "tag", "Ensure this value has at most 40 characters"),
    ("trains", "edit", {"tag": "A\x00B"}, "tag", "This holds a character that cannot be kept"),
    ("trains", "edit", {"tag": "TAKEN"}, "tag", "There is a train “TAKEN” at this site already."),
    ("trains", "edit", {"area": ""}, "area", "Missing: Area."),
    ("trains", "edit", {"area": "nowhere"}, "area", "Choose one of the list"),
    ("trains", "edit", {"criticality": "Z"}, "criticality", "Choose one of the list"),
    ("trains", "edit", {MACHINE + "name": ""}, MACHINE + "name", "Missing: Name."),
    ("trains", "edit", {MACHINE + "name": "V-belt drive"}, MACHINE + "name", "out of scope"),
    ("trains", "edit", {MACHINE + "movable": ""}, MACHINE + "movable", "Missing: May be moved to align."),
    ("trains", "edit", {MACHINE + "movable": "perhaps"}, MACHINE + "movable", "Choose one of the list"),
    ("trains", "edit", {MACHINE + "shaft_length_mm": "long"}, MACHINE + "shaft_length_mm", "“long” is not a number."),
    ("trains", "edit", {MACHINE + "shaft_length_mm": "1,000"}, MACHINE + "shaft_length_mm", "could be 1.000 or 1000"),
    ("trains", "edit", {MACHINE + "shaft_length_mm": "2 kW"}, MACHINE + "shaft_length_mm", "kW is a unit of power"),
    ("trains", "edit", {MACHINE + "shaft_length_mm": "0"}, MACHINE + "shaft_length_mm", "between 1 and 50000."),
    ("trains", "edit", {MACHINE + "rpm": "-1490"}, MACHINE + "rpm", "It must lie between"),
    ("trains", "edit", {MACHINE + "feet.0.distance_mm": ""}, MACHINE + "feet.0.distance_mm", "Missing: Distance along"),
    ("trains", "edit", {MACHINE + "feet.1.name": "outboard"}, MACHINE + "feet.1.name", "“outboard” is given twice."),
    ("trains", "edit", {MACHINE + "feet.1.distance_mm": "300"}, MACHINE + "feet.1.distance_mm", "at one distance"),
    ("trains", "edit", {"external_ref.0": "", "external_ref.0.system": "orders"}, "external_ref.0.key",
     "Missing: Its name there."),
    ("trains", "run-hours", {"hours": "-1", "at": ""}, "hours", "It must lie between"),
    ("trains", "run-hours", {"hours": "8000", "at": f"{TOMORROW} 08:00"}, "at", "future"),
    ("trains", "run-hours", {"hours": "10", "at": ""}, "hours", "The meter would run backwards: 7000 h"),
    ("trains", "out-of-service", {"at": f"{TOMORROW} 08:00", "reason": "x"}, "at", "future"),
    ("trains", "exchange-unit", ANOTHER | {"at": f"{TOMORROW} 08:00"}, "at",
     "This lies in the future"),
    ("trains", "exchange-unit", ANOTHER | {"serial": "", "at": "2026-10-12 08:00"}, "unit",
     "Choose the unit that came, or type kind and serial number"),
    ("trains", "exchange-unit", ANOTHER | {"at": "yesterday"}, "at", "Write the time as"),
    ("stops", "new", {"name": ""}, "name", "Missing: Name."),
    ("stops", "new", {"begins_on": "2027-04-31"}, "begins_on", "Write the day as"),
    ("stops", "new", {"ends_on": "2027-04-01"}, "ends_on", "before"),
    ("machine-units", "new", {"serial": ""}, "serial", "Missing: Serial number"),
    ("machine-units", "new", {"kind": "motor", "serial": "M-1"}, "serial", "serial number “M-1” at this site already."),
    ("machine-units", "take-out", {"at": "2026-10-12 08:00", "reason": ""}, "reason", "Missing"),
    ("couplings", "new", {"tag": ""}, "tag", "Missing: Tag."),
    ("couplings", "new", {"driver_position": "2"}, "driver_position",
     "This train has no machine at this position."),
    ("couplings", "new", {"rpm": "0"}, "rpm", "It must lie between 1 and 200000."),
    ("couplings", "new", {"rpm": "fast"}, "rpm", "“fast” is not a number."),
    ("couplings", "new", {"rpm": "1500", "lowest_rpm": "1600"}, "lowest_rpm", "lowest"),
    ("couplings", "new", {"power_kw": "5 mm"}, "power_kw", "mm is a unit of"),
    ("couplings", "retire", {"on": TOMORROW}, "on", "to come"),
    ("couplings", "succeed", {"on": "2026-10-12", "tag": ""}, "tag", "Missing"),
    ("fits", "new", {"fitted_on": TOMORROW}, "fitted_on", "to come"),
    ("fits", "new", {"dbse_mm": "-4"}, "dbse_mm", "It must lie between 0 and 20000."),
    ("fits", "new", {"hubs.0": "", "hubs.0.side": "driver", "hubs.0.bore_mm": "0.2"}, "hubs.0.bore_mm",
     "It must lie between 1 and 2000."),
    ("fits", "new", {"hubs.0": "", "hubs.0.side": "driver", "hubs.0.key_width_mm": "18"}, "hubs.0.key_height_mm",
     "A key has a width and a height: give both, or neither."),
    ("fits", "remove", {"removed_on": "2026-09-30"}, "removed_on", "it cannot have been removed before."),
    ("fits", "swap-hub", {"side": "driver", "on": TOMORROW}, "on", "is still to come"),
    ("fits", "element", {"fitted_on": "2026-10-12", "part_number": "E-80", "cured_on": TOMORROW}, "cured_on", "cure"),
    ("elements", "take-out", {"removed_on": TOMORROW, "removal_reason": "x"}, "removed_on", "to come"),
    ("data-sheets", "new", {"designation": ""}, "designation", "Missing: Designation."),
    ("data-sheets", "new", {"family": "belt"}, "family", "Choose one of the list"),
    ("data-sheets", "draft", {"limits.0.stated_value": "0.2"}, "limits.0.stated_value",
     "Write it with its unit, as the sheet prints it."),
    ("data-sheets", "draft", {"limits.0.stated_value": "0.2 N"}, "limits.0.stated_value", "Expected a"),
    ("data-sheets", "draft", {"limits.0.stated_value": "much"}, "limits.0.stated_value", "is not a number."),
    ("data-sheets", "draft", {"joints.0.pass_shares": "half, all"}, "joints.0.pass_shares",
     "Write the shares in percent, pass by pass: 30, 70, 100."),
    ("data-sheets", "draft", {"hubs.0.overhang_mm": "900 mm"}, "hubs.0.overhang_mm",
     "With this overhang no shaft is left in the bore."),
    ("data-sheets", "draft", {"screws.0.source": ""}, "screws.0.source", "Missing: Source."),
    ("data-sheets", "draft", {"element_parts.1.standard": "yes"}, "element_parts.1.standard",
     "is the standard one already: only one can be."),
    ("data-sheets", "draft", {"wear_limits.0.limit": "5"}, "wear_limits.0.limit",
     "Write it with its unit, as the sheet prints it."),
    ("data-sheets", "draft", {"dbse_mm": "-4 mm"}, "dbse_mm", "It must lie between 0 and 20000."),
    ("stock", "new", {"number": "0"}, "number", "At least one moves."),
    ("stock", "new", {"number": "2.5"}, "number", "“2.5” is no whole number."),
    ("stock", "new", {"on": TOMORROW}, "on", "to come"),
    ("stock", "issue", {"number": "5"}, "number", "5 of 4 in store cannot be taken"),
    ("stock", "count", {"number": "3", "note": ""}, "note", "Missing: Why it differs."),
    ("instruments", "new", {"kind": "guess"}, "kind", "Choose one of the list"),
    ("instruments", "new", {"serial": ""}, "serial", "Missing: Serial number."),
    ("instruments", "new", {"standard_u_mm": "inf"}, "standard_u_mm", "“inf” is not a number."),
    ("instruments", "calibrate", {"on": TOMORROW, "laboratory": "x", "certificate": "C", "result": "within"}, "on",
     "to come"),
    ("removal-reasons", "new", {"code": "two words"}, "code", "slug"),
    ("wear-wordings", "new", {"source": " "}, "source", "Missing: Source."),
    ("nut-factors", "new", {"nut_factor": "20"}, "nut_factor", "It must lie between 0.03 and 1."),
    ("nut-factors", "new", {"low": "0.1"}, "high", "A range has both ends: give this one too, or leave both out."),
    ("nut-factors", "new", {"source": " "}, "source", "Missing: Source."),
    ("nut-factors", "new", {"of_set": "two words"}, "of_set", "slug"),
    ("scatter", "new", {"scatter": "120 %"}, "scatter", "It must lie between 0 and 0.99."),
    ("second-screws", "new", {"to_deg": "80"}, "to_deg", "The range ends before it begins: exchange the two."),
    ("second-screws", "new", {"factor": "twice"}, "factor", "“twice” is not a number."),
    ("fit-classes", "new", {"up_to_mm": "5 mm"}, "up_to_mm", "The band ends below its beginning."),
    ("fit-classes", "new", {"bore_upper_mm": "-0.02 mm"}, "bore_upper_mm", "The upper deviation lies below the lower"),
    ("failure-codes", "new", {"kind": "colour"}, "kind", "Choose one of the list"),
    ("failure-codes", "new", {"code": "MUCHTOOLONGACODE"}, "code", "12"),
    ("growth", "new", {"per_k_u": "17"}, "per_k_u", "is the unit right?"),
    ("growth", "new", {"per_k": "12 mm"}, "per_k", "Write the number alone, without “mm”."),
    ("storage-rules", "new", {"initial_years": "", "extension_years": "3"}, "extension_years",
     "A period without limit is not extended"),
    ("policies", "new", {"every_months": "", "first_days": ""}, "", "A policy needs an interval"),
    ("policies", "new", {"every_months": "300"}, "every_months", "Give months, from 1 to 240"),
    ("policies", "new", {"crew_size": "2.5"}, "crew_size", "“2.5” is no whole number."),
    ("grades", "new", {"criticalities": "ABZ"}, "criticalities", "Name criticalities by their letters, such as AB."),
    ("grades", "new", {"rows.0.up_to_rpm": "0.1 mm"}, "rows.0.up_to_rpm", "speed"),
    ("grades", "new", {"rows.0.offset_mm": "-0.1"}, "rows.0.offset_mm", "It must lie between 0.0001 and 100."),
]  # fmt: skip


@pytest.fixture
def everybody(site, time_machine):
    """One person with every role: what is refused here is refused for what was typed."""
    time_machine.move_to(NOW, tick=False)
    person = PersonFactory(username="everybody")
    for role in ("mechanic", "planner", "engineer", "manager", "keeper"):
        MembershipFactory(person=person, site=site, role=role)
    client = Client()
    client.force_login(person)
    return client


@pytest.fixture
def world(site, everybody):
    made = World(site, Person.objects.get(username="everybody"))
    TrainFactory(site=site, area=made.area, tag="TAKEN")
    _ = made.machine_unit
    return made


def _address(world, noun, page):
    if page == "new":
        return f"/register/{noun.key}/new/"
    row = write_full(world.by, world.site).sheet if page == "draft" else getattr(world, ROWS[noun.key])
    return noun.address(row, page)


def test_there_are_sixty_of_them_and_more_over_every_noun_that_is_written():
    assert len(BAD) >= 60
    assert len({(noun, page, *typed.items()) for noun, page, typed, *_ in BAD}) == len(BAD), "none is there twice"
    assert set(FORMS) <= {noun for noun, *_ in BAD}


@pytest.mark.parametrize(
    ("key", "page", "typed", "field", "sentence"),
    BAD,
    ids=[f"{noun} {page} {' '.join(typed)} {number}" for number, (noun, page, typed, *_) in enumerate(BAD)],
)
def test_what_cannot_be_is_refused_beside_its_field_and_nothing_typed_is_lost(
    everybody, world, form_of, key, page, typed, field, sentence
):
    noun = noun_of(key)
    address = _address(world, noun, page)
    whole = getattr(world, FORMS[key])() if page == "new" else {}
    stood = list(noun.model.objects.order_by("pk").values())
    typed = {name: text.replace("@", str(world.train.machines.get(position=1).uuid)) for name, text in typed.items()}
    blank = form_of(everybody.get(address + (f"?site={world.site.uuid}" if page == "new" else "")))
    sent = blank | whole | typed
    answer = everybody.post(address, sent)
    said = answer.content.decode()
    assert answer.status_code == 422, said
    place = "f-" + field.replace(".", "-")
    if field:
        assert f'<a href="#{place}">' in said, "named at the head of the form"
    beside = said.split(f'id="{place}_error">' if field else 'role="alert"')[1].split("</p>" if field else "</div>")[0]
    assert escape(sentence) in beside, beside
    assert list(noun.model.objects.order_by("pk").values()) == stood
    after = form_of(answer)
    # A choice that is not in its list cannot stand in it.
    apart = {"csrfmiddlewaretoken"} | (set(typed) if sentence == "Choose one of the list" else set())
    kept = {name: text for name, text in sent.items() if name in after and name not in apart}
    assert {name: after[name] for name in kept} == kept
