"""Forms of the register: rows added and taken out, refusals beside their fields, nothing typed lost, who was first."""

import pytest
from django.urls import reverse

from plant.models import Area, ExternalRef, Machine, MeterReading, Site, Train
from tests.factories import AreaFactory, CouplingFactory, MembershipFactory, SiteFactory, TrainFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def train(site):
    return TrainFactory(site=site, tag="BF-21")


def edit(row, act="edit"):
    return reverse(f"register-{row._meta.model_name}s-{act}", args=[row.uuid])


def said(answer):
    return answer.content.decode()


def test_a_train_is_entered_with_machines_and_feet_in_the_sites_units(as_keeper, site):
    area = AreaFactory(site=site)
    site.units = "us"
    site.save()
    typed = {
        "tag": " P-1 ", "area": str(area.uuid), "criticality": "A", "service": "in",
        "machines.0": "", "machines.0.name": "motor", "machines.0.role": "driver", "machines.0.mounting": "feet",
        "machines.0.movable": "yes", "machines.0.shaft_length_mm": "40",
        "machines.0.feet.0": "", "machines.0.feet.0.name": "outboard", "machines.0.feet.0.distance_mm": "10 in",
        "machines.0.feet.5": "", "machines.0.feet.5.name": "inboard", "machines.0.feet.5.distance_mm": "635 mm",
        "machines.3": "", "machines.3.name": "pump", "machines.3.role": "driven", "machines.3.mounting": "flange",
        "machines.3.movable": "no",
        "external_ref.0": "", "external_ref.0.system": "orders", "external_ref.0.key": "4711",
    }  # fmt: skip
    answer = as_keeper.post("/register/trains/new/", typed)
    train = Train.objects.get(tag="P-1")
    assert answer["Location"] == reverse("register-trains-one", args=[train.uuid])
    motor, pump = train.machines.all()
    assert (motor.name, motor.shaft_length_mm, motor.movable, pump.position) == ("motor", 1016.0, True, 2)
    assert [foot.distance_mm for foot in motor.foot_planes.all()] == [254.0, 635.0]
    assert ExternalRef.objects.get(subject=train.uuid).key == "4711"


def test_a_machine_is_added_and_taken_out_before_anything_is_saved(as_keeper, train, form_of):
    page = as_keeper.get(edit(train))
    more = as_keeper.post(edit(train), form_of(page) | {"tag": "typed", "_add": "machines"})
    assert more.status_code == 200
    typed = form_of(more)
    assert (typed["tag"], typed["machines.2.name"], typed["machines.2.role"]) == ("typed", "", "driven")
    feet = form_of(as_keeper.post(edit(train), typed | {"_add": "machines.2.feet"}))
    assert feet["machines.2.feet.0.name"] == ""
    fewer = form_of(as_keeper.post(edit(train), feet | {"_remove": "machines.0"}))
    assert [fewer["machines.0.name"], fewer["machines.1.name"]] == ["pump", ""]
    assert "machines.2" not in fewer
    assert train.machines.count() == 2
    train.refresh_from_db()
    assert (train.tag, train.version) == ("BF-21", 1)


def test_a_machine_under_a_coupling_is_not_taken_out_and_the_list_says_why(as_keeper, train, form_of):
    CouplingFactory(train=train)
    typed = form_of(as_keeper.post(edit(train), form_of(as_keeper.get(edit(train))) | {"_remove": "machines.1"}))
    answer = as_keeper.post(edit(train), typed)
    assert answer.status_code == 422
    assert "A coupling stands on position 2 (pump): retire it first." in said(answer)
    assert '<a href="#f-machines">Machines</a>' in said(answer)
    assert train.machines.count() == 2


def test_saving_without_a_change_changes_nothing_and_numbers_keep_their_last_digit(as_keeper, site, train, form_of):
    site.units = "us"
    site.save()
    motor = train.machines.get(position=1)
    motor.shaft_length_mm = 1000.123456789
    motor.save()
    as_keeper.post(edit(train), form_of(as_keeper.get(edit(train))))
    train.refresh_from_db()
    assert train.version == 1
    as_keeper.post(edit(train), form_of(as_keeper.get(edit(train))) | {"machines.1.name": "boiler pump"})
    assert train.machines.get(position=1).shaft_length_mm == 1000.123456789
    assert Machine.history.filter(id=motor.pk, history_type="~").count() == 1, "only the test's own change"


def test_a_name_that_another_system_gave_to_something_else_is_refused_beside_it(as_keeper, site, train, form_of):
    other = TrainFactory(site=site)
    ExternalRef.objects.create(site=site, system="orders", noun="train", key="4711", subject=other.uuid)
    refs = {"external_ref.0": "", "external_ref.0.system": "orders", "external_ref.0.key": "4711"}
    answer = as_keeper.post(edit(train), form_of(as_keeper.get(edit(train))) | refs)
    assert "is the name of something else" in said(answer).split('id="f-external_ref-0-key_error">')[1]


def test_a_name_in_another_system_is_taken_away_again(as_keeper, site, train, form_of):
    ExternalRef.objects.create(site=site, system="orders", noun="train", key="4711", subject=train.uuid)
    typed = form_of(as_keeper.post(edit(train), form_of(as_keeper.get(edit(train))) | {"_remove": "external_ref.0"}))
    as_keeper.post(edit(train), typed)
    assert not ExternalRef.objects.exists()


def test_who_saves_second_sees_both_and_chooses_where_both_changed_the_same(
    as_keeper, as_engineer, engineer, site, train, form_of
):
    MembershipFactory(person=engineer, site=site, role="keeper")
    mine, theirs = form_of(as_keeper.get(edit(train))), form_of(as_engineer.get(edit(train)))
    as_engineer.post(edit(train), theirs | {"name": "Their name", "criticality": "C"})
    answer = as_keeper.post(edit(train), mine | {"name": "My name", "cautions": "Hot.\r\nWait."})
    page = said(answer)
    assert answer.status_code == 412
    assert "Ana saved this before you" in page
    assert "Their name" in page
    assert page.count('type="radio"') == 2, "only the name clashes"
    assert "checked" not in page, "nothing is chosen beforehand"
    assert "C: can wait" in page, "what only they changed is told"
    unchosen = as_keeper.post(edit(train), form_of(answer))
    assert unchosen.status_code == 422
    assert "Choose one of the two for every field" in said(unchosen)
    done = as_keeper.post(edit(train), form_of(unchosen) | {"_take.name": "mine"})
    assert done.status_code == 302
    train.refresh_from_db()
    assert (train.name, train.criticality, train.cautions) == ("My name", "C", "Hot.\nWait.")


def test_theirs_can_be_kept_and_a_third_who_was_faster_still_is_not_overwritten(as_keeper, train, form_of):
    mine = form_of(as_keeper.get(edit(train)))
    as_keeper.post(edit(train), mine | {"name": "First"})
    clash = form_of(as_keeper.post(edit(train), mine | {"name": "Second"}))
    as_keeper.post(edit(train), form_of(as_keeper.get(edit(train))) | {"name": "Third"})
    again = as_keeper.post(edit(train), clash | {"_take.name": "mine"})
    assert again.status_code == 412
    assert "Third" in said(again)
    as_keeper.post(edit(train), form_of(again) | {"_take.name": "theirs"})
    train.refresh_from_db()
    assert train.name == "Third"


def test_machines_that_both_changed_are_compared_as_one_list(as_keeper, train, form_of):
    mine = form_of(as_keeper.get(edit(train)))
    as_keeper.post(edit(train), mine | {"machines.0.name": "their motor"})
    answer = as_keeper.post(edit(train), mine | {"machines.0.name": "my motor"})
    assert "their motor, driver" in said(answer)
    assert "my motor, driver" in said(answer)
    as_keeper.post(edit(train), form_of(answer) | {"_take.machines": "mine"})
    assert train.machines.get(position=1).name == "my motor"


def test_a_form_without_its_version_is_not_saved(as_keeper, train, form_of):
    answer = as_keeper.post(edit(train), form_of(as_keeper.get(edit(train))) | {"name": "x", "version": ""})
    assert answer.status_code == 422
    assert "open it again" in said(answer)


def test_the_engineers_part_of_a_site_is_not_the_keepers(as_keeper, as_engineer, site, form_of):
    judging = edit(site, "judging")
    assert as_keeper.get(judging).status_code == 403
    assert as_engineer.get(edit(site)).status_code == 403
    answer = as_engineer.post(judging, form_of(as_engineer.get(judging)) | {"soft_foot_limit_mm": "1 thou"})
    assert answer.status_code == 302
    site.refresh_from_db()
    assert (site.soft_foot_limit_mm, site.pipe_strain_limit_mm) == (0.0254, 0.0508)
    refused = as_engineer.post(judging, form_of(as_engineer.get(judging)) | {"confidence": "1.5", "shims_most": "two"})
    assert "“two” is no whole number." in said(refused)
    refused = as_engineer.post(judging, form_of(as_engineer.get(judging)) | {"confidence": "1.5"})
    assert "It must lie between 0.5 and 0.999." in said(refused)


def test_a_sites_time_zone_must_be_one(as_keeper, site, form_of):
    answer = as_keeper.post(edit(site), form_of(as_keeper.get(edit(site))) | {"zone": "../etc/passwd", "units": "us"})
    assert "is no time zone; write one such as Europe/Oslo" in said(answer)
    site.refresh_from_db()
    assert (site.zone, site.units) == ("Europe/Oslo", "metric")


def test_a_site_is_made_by_the_administrator_of_the_whole(as_keeper, keeper, site, form_of):
    assert as_keeper.get("/register/sites/new/").status_code == 403
    keeper.is_superuser = True
    keeper.save()
    answer = as_keeper.post("/register/sites/new/", form_of(as_keeper.get("/register/sites/new/")) | {"name": "Works"})
    assert answer.status_code == 302
    assert Site.objects.get(name="Works").currency == "EUR"


def test_an_area_is_moved_and_never_into_itself(as_keeper, site, form_of):
    house, cellar = AreaFactory(site=site, name="House"), AreaFactory(site=site, name="Cellar")
    move = edit(cellar, "move")
    assert as_keeper.post(move, form_of(as_keeper.get(move)) | {"parent": str(house.uuid)}).status_code == 302
    cellar.refresh_from_db()
    assert cellar.parent == house
    move = edit(house, "move")
    answer = as_keeper.post(move, form_of(as_keeper.get(move)) | {"parent": str(cellar.uuid)})
    assert "An area cannot be a part of itself." in said(answer)


def test_an_area_is_removed_once_it_is_empty(as_keeper, site, form_of):
    area, full = AreaFactory(site=site, name="Bare"), AreaFactory(site=site, name="Full")
    TrainFactory(site=site, area=full)
    assert "Remove it" in said(as_keeper.get(edit(area, "one")))
    assert "Remove it" not in said(as_keeper.get(edit(full, "one")))
    answer = as_keeper.post(edit(full, "remove"), form_of(as_keeper.get(edit(full, "remove"))))
    assert "This area holds trains or other areas. Move them first." in said(answer)
    answer = as_keeper.post(edit(area, "remove"), form_of(as_keeper.get(edit(area, "remove"))))
    assert answer["Location"] == "/register/areas/"
    assert not Area.objects.filter(name="Bare").exists()


def test_an_act_on_a_row_that_changed_meanwhile_asks_to_look_again(as_keeper, site, form_of):
    area = AreaFactory(site=site, name="Bare")
    remove = form_of(as_keeper.get(edit(area, "remove")))
    as_keeper.post(edit(area), form_of(as_keeper.get(edit(area))) | {"name": "Renamed"})
    answer = as_keeper.post(edit(area, "remove"), remove)
    assert answer.status_code == 412
    assert "Kim changed this in the meantime" in said(answer)
    assert as_keeper.post(edit(area, "remove"), form_of(answer)).status_code == 302


def test_the_meter_is_read_and_replaced_from_the_trains_page(as_mechanic, train, form_of):
    read, replaced = edit(train, "run-hours"), edit(train, "new-meter")
    assert "A new meter" not in said(as_mechanic.get(edit(train, "one")))
    as_mechanic.post(read, form_of(as_mechanic.get(read)) | {"hours": "8000", "at": "2026-10-01 08:00"})
    as_mechanic.post(replaced, form_of(as_mechanic.get(replaced)) | {"hours": "0", "at": "2026-10-02 08:00"})
    assert [(one.hours, one.offset_hours) for one in MeterReading.objects.all()] == [(8000.0, 0.0), (0.0, 8000.0)]
    page = said(as_mechanic.get(edit(train, "one")))
    assert "2 October 2026, 08:00" in page
    back = as_mechanic.post(read, form_of(as_mechanic.get(read)) | {"hours": "-5", "at": "first thing"})
    assert "Write the time as 2026-10-12 08:20." in said(back)
    assert form_of(back)["at"] == "first thing"


def test_who_keeps_two_sites_is_asked_at_which(as_keeper, keeper, site, other_site):
    MembershipFactory(person=keeper, site=other_site, role="keeper")
    page = said(as_keeper.get("/register/areas/new/"))
    assert "At which site?" in page
    assert f'href="?site={other_site.uuid}"' in page
    as_keeper.post("/register/areas/new/", {"site": str(other_site.uuid), "name": "Yard"})
    assert Area.objects.get(name="Yard").site == other_site
    third = SiteFactory(name="Third")
    assert as_keeper.post("/register/areas/new/", {"site": str(third.uuid), "name": "Yard"}).status_code == 404


def test_history_says_who_changed_what_from_what_to_what(as_keeper, site, train, form_of):
    other = AreaFactory(site=site, name="Cooling water")
    typed = {"criticality": "C", "area": str(other.uuid), "machines.0.shaft_length_mm": "1100"}
    as_keeper.post(edit(train), form_of(as_keeper.get(edit(train))) | typed)
    page = said(as_keeper.get(edit(train, "one")))
    change = page.split("Who changed what")[1].split("<li>")[1]
    assert change.startswith("<b>Kim</b>")
    assert "Area: Boiler feed, now Cooling water" in change
    assert "Criticality: A: stops the plant, now C: can wait" in change
    assert "motor: Shaft length: 1000.0\u00a0mm, now 1100.0\u00a0mm" in change
    assert "ersion" not in change


def test_a_trains_page_asks_no_more_for_more_machines_and_changes(
    as_keeper, train, form_of, django_assert_max_num_queries
):
    for name in ("One", "Two", "Three", "Four"):
        as_keeper.post(edit(train), form_of(as_keeper.get(edit(train))) | {"name": name, "machines.0.name": name})
    # Session, person, roles, train, machines, feet, own site, history of the train, of its machines and of its service,
    # units that stand there, spells, meter, readings, couplings, names elsewhere; for its history whether the whole
    # site is read, and its couplings.
    with django_assert_max_num_queries(18):
        as_keeper.get(edit(train, "one"))


def test_reading_a_page_offers_nothing_to_who_may_not_change_it(as_mechanic, train):
    page = said(as_mechanic.get(edit(train, "one")))
    assert "Change this train" not in page
    assert "Write down run hours" in page
    assert "Add: train" not in said(as_mechanic.get("/register/trains/"))


def test_a_day_is_asked_for_with_an_example_of_how_it_is_written(as_person_on_pages, planner, site):
    page = said(as_person_on_pages(planner).get(f"/register/stops/new/?site={site.uuid}"))
    assert '<p class="hint" id="f-begins_on_helptext">Such as 2026-10-12.</p>' in page
    assert '<p class="hint" id="f-ends_on_helptext">It counts.</p>' in page, "its own hint is left as it is"
