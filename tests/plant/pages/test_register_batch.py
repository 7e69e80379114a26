"""Many rows of the register changed together, each with its own fate."""

import pytest

from plant.models import Train
from tests.factories import AreaFactory, TrainFactory

pytestmark = pytest.mark.django_db
BATCH = "/register/trains/batch/"


@pytest.fixture
def pair(site):
    return [TrainFactory(site=site, tag="P-1"), TrainFactory(site=site, tag="P-2")]


def chosen(rows):
    return {"row": [str(row.uuid) for row in rows]}


def said(answer):
    return answer.content.decode()


def test_what_is_left_empty_stays_and_the_rest_is_the_same_in_every_row(as_keeper, site, pair):
    area = AreaFactory(site=site, name="Yard")
    page = said(as_keeper.get(BATCH, chosen(pair)))
    assert "Change 2 trains together" in page
    assert page.count("leave as it is") == 3
    answer = as_keeper.post(BATCH, chosen(pair) | {"area": str(area.uuid), "criticality": "", "service": "out"})
    assert "2 of 2 changed" in said(answer)
    rows = Train.objects.values_list("area__name", "criticality", "service", "version")
    assert list(rows) == [("Yard", "A", "out", 2)] * 2


def test_a_row_that_changed_since_it_was_chosen_is_left_alone_and_the_other_is_changed(as_keeper, pair):
    versions = {f"version.{row.uuid}": row.version for row in pair}
    Train.objects.filter(pk=pair[0].pk).update(version=5, criticality="B")
    page = said(as_keeper.post(BATCH, chosen(pair) | versions | {"criticality": "C"}))
    assert "1 of 2 changed" in page
    assert "left alone: somebody changed it in the meantime" in page
    assert list(Train.objects.values_list("criticality", flat=True)) == ["B", "C"]


def test_what_is_ticked_as_empty_is_emptied_and_not_filled_in_at_once(as_keeper, pair):
    Train.objects.update(cautions="Hot")
    page = said(as_keeper.get(BATCH, chosen(pair)))
    assert 'name="_empty.cautions"' in page
    assert "_empty.criticality" not in page
    both = as_keeper.post(BATCH, chosen(pair) | {"cautions": "Cold", "_empty.cautions": "yes"})
    assert both.status_code == 422
    assert "leave one of the two out" in said(both)
    assert "2 of 2 changed" in said(as_keeper.post(BATCH, chosen(pair) | {"_empty.cautions": "yes"}))
    assert list(Train.objects.values_list("cautions", flat=True)) == ["", ""]


def test_more_rows_than_are_changed_at_once_are_refused_by_their_number(as_keeper, site, pair):
    area = pair[0].area
    rows = Train.objects.bulk_create(Train(site=site, area=area, tag=f"M-{n}") for n in range(201))
    answer = as_keeper.post(BATCH, chosen(rows) | {"criticality": "C"})
    assert answer.status_code == 422
    assert "At most 200 rows are changed at once: choose fewer." in said(answer)
    assert not Train.objects.filter(criticality="C").exists()


def test_nothing_filled_in_or_chosen_is_said(as_keeper, pair):
    answer = as_keeper.post(BATCH, chosen(pair))
    assert answer.status_code == 422
    assert "Nothing to change: fill in at least one field." in said(answer)
    assert "No row is chosen" in said(as_keeper.post(BATCH, {"criticality": "C"}))
    assert "Go back to the list and tick the rows" in said(as_keeper.get(BATCH))


def test_a_value_that_cannot_be_is_refused_for_all_and_kept_in_the_form(as_keeper, pair):
    answer = as_keeper.post(BATCH, chosen(pair) | {"criticality": "Z", "cautions": "Hot"})
    assert answer.status_code == 422
    assert "Choose one of the list" in said(answer)
    assert ">Hot</textarea>" in said(answer)


def test_a_service_that_refuses_one_row_says_why_and_goes_on_with_the_next(as_keeper, site):
    house = AreaFactory(site=site, name="House")
    cellar = AreaFactory(site=site, name="Cellar")
    page = said(as_keeper.post("/register/areas/batch/", chosen([house, cellar]) | {"parent": str(house.uuid)}))
    assert "1 of 2 changed" in page
    assert "left alone: Part of: An area cannot be a part of itself." in page


def test_rows_of_another_site_are_not_there(as_keeper, other_site, pair):
    theirs = TrainFactory(site=other_site)
    assert as_keeper.post(BATCH, chosen([*pair, theirs]) | {"criticality": "C"}).status_code == 404
    assert as_keeper.get(BATCH, {"row": "no uuid"}).status_code == 404
