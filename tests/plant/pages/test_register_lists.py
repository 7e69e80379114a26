"""Lists of the register: what is asked for in the sentence is what is shown, with a flat number of queries."""

import re

import pytest
from django.urls import reverse

from plant.models import Area, Train
from tests.factories import AreaFactory, CouplingFactory, TrainFactory

pytestmark = pytest.mark.django_db
TRAINS = "/register/trains/"


def tags(answer):
    return re.findall(r'<th scope="row"><a href="[^"]+"><span class="tag">([^<]+)</span>', answer.content.decode())


@pytest.fixture
def three(site):
    """Three trains in two areas, criticality C, A, B."""
    hall, yard = AreaFactory(site=site, name="Hall"), AreaFactory(site=site, name="Yard")
    for tag, area, criticality in (("P-1", hall, "C"), ("P-2", yard, "A"), ("P-3", yard, "B")):
        TrainFactory(site=site, area=area, tag=tag, name=f"Pump {tag}", criticality=criticality)
    return hall, yard


def test_a_list_shows_every_row_and_leads_to_each(as_mechanic, three):
    answer = as_mechanic.get(TRAINS)
    assert tags(answer) == ["P-1", "P-2", "P-3"]
    assert reverse("register-trains-one", args=[Train.objects.get(tag="P-2").uuid]) in answer.content.decode()


@pytest.mark.parametrize(
    ("asked", "shown"),
    [
        ({"q": "p-2"}, ["P-2"]),
        ({"q": "Pump P-3"}, ["P-3"]),
        ({"criticality": "A"}, ["P-2"]),
        ({"criticality": "Z"}, ["P-1", "P-2", "P-3"]),
        ({"machines": "no"}, []),
        ({"machines": "yes", "q": "P-1"}, ["P-1"]),
        ({"sort": "criticality"}, ["P-2", "P-3", "P-1"]),
        ({"sort": "-criticality"}, ["P-1", "P-3", "P-2"]),
        ({"sort": "-area"}, ["P-2", "P-3", "P-1"]),
        ({"sort": "password"}, ["P-1", "P-2", "P-3"]),
        ({"page": "99"}, ["P-1", "P-2", "P-3"]),
        ({"q": "\x00"}, ["P-1", "P-2", "P-3"]),
    ],
)
def test_the_sentence_above_the_list_says_what_is_shown(as_mechanic, three, asked, shown):
    assert tags(as_mechanic.get(TRAINS, asked)) == shown


def test_an_area_can_be_chosen_and_stays_chosen_in_the_links_of_the_heads(as_mechanic, three):
    _hall, yard = three
    answer = as_mechanic.get(TRAINS, {"area": str(yard.uuid)})
    assert tags(answer) == ["P-2", "P-3"]
    assert f'href="?area={yard.uuid}&amp;sort=criticality"' in answer.content.decode()


def test_a_list_that_is_sorted_says_so_to_a_screen_reader_and_offers_the_other_way_round(as_mechanic, three):
    page = as_mechanic.get(TRAINS, {"sort": "tag"}).content.decode()
    assert 'aria-sort="ascending"><a class="only-wide" href="?sort=-tag">' in page


def test_another_sites_rows_are_not_there(as_mechanic, three, other_site):
    TrainFactory(site=other_site, tag="X-1")
    assert "X-1" not in tags(as_mechanic.get(TRAINS))


def test_nothing_found_offers_the_whole_list_and_an_empty_register_says_what_comes_first(as_mechanic, site):
    assert "No train yet. Add an area first" in as_mechanic.get(TRAINS).content.decode()
    TrainFactory(site=site)
    page = as_mechanic.get(TRAINS, {"q": "nowhere"}).content.decode()
    assert "No trains like that." in page
    assert "Show all" in page


def test_areas_are_listed_as_a_tree_with_what_they_hold(as_mechanic, site):
    house = AreaFactory(site=site, name="B house")
    AreaFactory(site=site, name="A cellar", parent=house)
    AreaFactory(site=site, name="C yard")
    TrainFactory(site=site, area=house)
    page = as_mechanic.get("/register/areas/").content.decode()
    assert page.index("B house</a>") < page.index("A cellar</a>") < page.index("C yard</a>")
    assert re.search(r'class="depth-1"><a href="[^"]+">A cellar', page)
    assert f'<a href="/register/trains/?area={house.uuid}">1</a>' in page


@pytest.mark.parametrize(("noun", "most"), [("trains", 13), ("areas", 10), ("sites", 7), ("families", 6)])
def test_a_longer_list_asks_the_database_no_more_often(
    as_mechanic, site, three, django_assert_max_num_queries, noun, most
):
    # Session, person, roles, own site, filters, count, rows, machines and their feet.
    for number in range(8):
        TrainFactory(site=site, area=three[0], tag=f"Q-{number}")
        AreaFactory(site=site, name=f"Bay {number}", parent=three[0])
    with django_assert_max_num_queries(most):
        assert as_mechanic.get(f"/register/{noun}/").status_code == 200


def test_fifty_rows_stand_on_a_page_and_the_next_keeps_the_choice(as_mechanic, site):
    area = AreaFactory(site=site)
    Train.objects.bulk_create(Train(site=site, area=area, tag=f"M-{number:03d}") for number in range(60))
    first = as_mechanic.get(TRAINS, {"sort": "-tag"})
    assert len(tags(first)) == 50
    assert tags(as_mechanic.get(TRAINS, {"sort": "-tag", "page": "2"}))[-1] == "M-000"
    assert "?sort=-tag&amp;page=2" in first.content.decode()


def test_the_contents_say_what_there_is_and_what_is_missing(as_mechanic, site, three):
    Area.objects.create(site=site, name="Bare")
    page = as_mechanic.get("/register/").content.decode()
    assert "3 trains have no coupling yet" in page
    assert "One area holds nothing yet" in page
    assert "3 trains have machines whose serial numbers are not known" in page
    assert "3 things are missing in the register" in page


def test_each_sentence_of_what_is_missing_leads_to_the_rows_it_counted(as_mechanic, site, three):
    Area.objects.create(site=site, name="Bare")
    CouplingFactory(train=Train.objects.get(tag="P-2"))
    page = as_mechanic.get("/register/").content.decode()
    assert "2 trains have no coupling yet" in page
    for address, found in (
        ("/register/trains/?couplings=no", 2),
        ("/register/areas/?holds=no", 1),
        ("/register/trains/?units=no", 3),
    ):
        assert f'href="{address}"' in page
        assert as_mechanic.get(address).context["list"].page.paginator.count == found


def test_everybody_finds_the_register_above_and_only_staff_the_administration_below(as_mechanic, mechanic):
    page = as_mechanic.get("/register/").content.decode()
    assert '<a href="/register/" aria-current="page">Register</a>' in page
    assert "/admin/" not in page
    mechanic.is_staff = True
    mechanic.save()
    assert '<a href="/admin/">Administration</a>' in as_mechanic.get("/register/").content.decode()
