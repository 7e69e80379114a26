"""The page of roles prints the one table that everything asks."""

import pytest

from plant.access import ACTIONS, may

pytestmark = pytest.mark.django_db


def test_the_page_says_what_the_table_says(client, planner, site):
    client.force_login(planner)
    page = client.get("/roles/").content.decode()
    assert "planner at Greyfen Works" in page
    for words, _roles in ACTIONS.values():
        assert words in page
    allowed = sum(len(roles) for _words, roles in ACTIONS.values())
    assert page.count(">may<") == allowed
    assert may(planner, "check.plan", site)
