"""Run-out, pipe strain, soft foot and shims on the visit's pages, without a browser."""

import json

import pytest
import time_machine

from inspections.services.signing import sign_visit
from plant.recording import recording
from tests.factories import NOW
from tests.inspections.visits import MACHINE_STEPS, save

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _on_the_day():
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def phone(client, mechanic):
    client.force_login(mechanic)
    return client


def post(client, visit, step, **fields):
    return client.post(f"/visits/{visit.uuid}/steps/{step}/", {"seen": "0", "was": "{}", **fields})


@pytest.mark.parametrize("step", MACHINE_STEPS)
def test_each_step_opens_empty_and_keeps_what_was_typed(phone, visit, step):
    empty = phone.get(f"/visits/{visit.uuid}/steps/{step}/")
    assert empty.status_code == 200
    assert post(phone, visit, step, **{"method": "rises"} if step == "soft-foot" else {}).status_code == 302

    typed = MACHINE_STEPS[step]
    saved = phone.post(
        f"/visits/{visit.uuid}/steps/{step}/",
        {"seen": "1", "was": json.dumps({}), "compared": "1", **typed},
        follow=True,
    )

    page = saved.content.decode()
    assert saved.status_code == 200
    for text in typed.values():
        assert f'value="{text}"' in page
    assert "in tolerance" in page
    assert "Judged by the value alone" in page


def test_a_refused_figure_stays_with_its_error_beside_it(phone, visit):
    post(phone, visit, "soft-foot", method="rises")
    answer = phone.post(
        f"/visits/{visit.uuid}/steps/soft-foot/", {"seen": "1", "was": "{}", "driver0l.shims": "2.0 + tin"}
    )

    page = answer.content.decode()
    assert answer.status_code == 422
    assert 'id="f-driver0l-shims_error"' in page
    assert "2.0 + tin" in page


def test_the_record_prints_what_was_measured_of_the_machines(phone, filled, mechanic):
    for step, typed in MACHINE_STEPS.items():
        save(filled, step, typed, mechanic)
    with recording(by=mechanic, at=NOW):
        sign_visit(visit=filled)

    page = phone.get(f"/visits/{filled.uuid}/record/").content.decode()

    for words in ("Run-out, shaft, driver side", "Pipe strain, driven side", "Soft foot, driver side, inboard right",
                  "Shims, driver side, outboard left", "2.0 + 0.5 + 0.05"):  # fmt: skip
        assert words in page
    assert "3 shims" in page
