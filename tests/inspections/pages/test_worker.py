"""The script that keeps visit pages on the phone, and whose page is whose."""

import pytest

from tests.inspections.visits import PLACEMENT, save

pytestmark = pytest.mark.django_db


def test_the_worker_is_for_visits_alone_and_holds_nothing_of_anybody(client, mechanic):
    answer = client.get("/visits/worker.js")
    assert (answer.status_code, answer["Content-Type"]) == (200, "text/javascript")
    assert answer["Cache-Control"] == "no-cache"
    assert "Service-Worker-Allowed" not in answer.headers, "its scope is the folder it lies in"
    client.force_login(mechanic)
    assert client.get("/visits/worker.js").content == answer.content


def test_every_page_it_may_keep_says_whose_it_is_and_no_other_does(client, visit, mechanic, engineer):
    save(visit, "placement", PLACEMENT, mechanic)
    here = f"/visits/{visit.uuid}/"
    for person in (mechanic, engineer):
        client.force_login(person)
        for address in (here, f"{here}steps/placement/", f"{here}steps/alignment/1/"):
            assert client.get(address)["X-Asleft-Person"] == str(person.uuid)
        for address in ("/", f"{here}sign/", "/due/", f"/couplings/{visit.coupling.uuid}/"):
            assert "X-Asleft-Person" not in client.get(address).headers
    client.logout()
    assert "X-Asleft-Person" not in client.get(here, follow=True).headers
