"""The first page: the trains a person had to do with last, and the way to all of them."""

from datetime import timedelta

import pytest

from plant.recording import recording
from plant.services.register import change_train
from tests.factories import NOW, FitFactory, TrainFactory, WorkOrderFactory
from tests.inspections.visits import begin

pytestmark = pytest.mark.django_db


def trains_on(client):
    page = " ".join(client.get("/").content.decode().split())
    return page[page.index('id="s4"') : page.index("All trains")], page


def test_a_mechanic_finds_the_trains_of_the_last_visits_and_the_list(site, mechanic, client):
    for tag in ("BF-71", "BF-72"):
        fit = FitFactory(coupling__train=TrainFactory(site=site, tag=tag))
        begin(fit, WorkOrderFactory(train=fit.coupling.train, isolated=True), mechanic)
    TrainFactory(site=site, tag="BF-73")
    client.force_login(mechanic)
    section, page = trains_on(client)
    assert ["BF-71" in section, "BF-72" in section, "BF-73" in section] == [True, True, False]
    assert 'href="/register/trains/"' in page


def test_a_keeper_finds_the_trains_changed_last_first(site, keeper, client):
    trains = [TrainFactory(site=site, tag=tag) for tag in ("BF-71", "BF-72")]
    for number, train in enumerate(trains):
        with recording(by=keeper, at=NOW + timedelta(minutes=number)):
            change_train(train=train, name=f"name {number}")
    client.force_login(keeper)
    section, _page = trains_on(client)
    assert section.index("BF-72") < section.index("BF-71")


def test_who_has_worked_nowhere_yet_is_told_what_will_stand_there(site, planner, stranger, client):
    TrainFactory(site=site, tag="BF-71")
    client.force_login(planner)
    assert "Trains at which you worked last will stand here." in trains_on(client)[0]
