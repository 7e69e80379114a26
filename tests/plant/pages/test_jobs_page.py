"""Background work on a page: kinds with their numbers, what failed, and a button that puts it back once."""

from datetime import timedelta

import pytest
import time_machine

from plant.models import JobRun
from tests.factories import NOW, TODAY, SiteFactory

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _on_the_day():
    with time_machine.travel(NOW, tick=False):
        yield


def run(scope, state="failed", kind="nightly", **more):
    values = {"for_date": TODAY, "not_before": NOW, "attempts": 5, "error": "Traceback\n  x\nValueError: <no zone>"}
    return JobRun.objects.create(kind=kind, scope=scope, state=state, **(values | more))


def test_what_failed_is_told_with_its_last_words_and_tried_again_once(client, keeper, site):
    failed = run(f"site:{site.pk}", progress="120")
    client.force_login(keeper)
    page = client.get("/jobs/").content.decode()
    for words in ("One piece of work failed", "Checks and overdue flags", "Greyfen Works", "come as far as 120"):
        assert words in page
    assert "ValueError: &lt;no zone&gt;" in page
    assert "Traceback" not in page
    assert client.post("/jobs/", {"run": failed.pk}).status_code == 302
    failed.refresh_from_db()
    assert (failed.state, failed.attempts, failed.progress, failed.not_before) == ("waiting", 0, "120", NOW)
    JobRun.objects.filter(pk=failed.pk).update(state="running", attempts=3)
    client.post("/jobs/", {"run": failed.pk})
    failed.refresh_from_db()
    assert (failed.state, failed.attempts) == ("running", 3)


def test_another_sites_work_is_neither_shown_nor_put_back(client, keeper, site):
    theirs = run(f"site:{SiteFactory(name='Saltholm Mill').pk}")
    client.force_login(keeper)
    assert "Saltholm" not in client.get("/jobs/").content.decode()
    assert client.post("/jobs/", {"run": theirs.pk}).status_code == 404


@pytest.mark.parametrize("sent", ["", "x", "-1", "9" * 40, "1.5", "٣", "\x00"])
def test_a_run_that_is_none_is_not_found(client, keeper, site, sent):
    client.force_login(keeper)
    assert client.post("/jobs/", {"run": sent}).status_code == 404


def test_every_kind_stands_there_also_one_that_never_ran(client, engineer, site):
    client.force_login(engineer)
    page = client.get("/jobs/").content.decode()
    for words in ("Daily mail", "How the areas stand", "Forgetting what is kept", "done as it should be", "not yet"):
        assert words in page


def test_a_planner_has_no_such_page_nor_a_link_to_it(client, planner, site):
    client.force_login(planner)
    assert client.get("/jobs/").status_code == 403
    assert 'href="/jobs/"' not in client.get("/due/").content.decode()


def test_the_page_asks_as_much_for_many_runs_as_for_few(client, keeper, site, django_assert_max_num_queries):
    for number in range(40):
        run(f"site:{site.pk}", for_date=TODAY - timedelta(days=number))
    client.force_login(keeper)
    # Session, person, roles, people, kinds, failed, in hand, names and the strip: 14 at most.
    with django_assert_max_num_queries(14):
        client.get("/jobs/")
