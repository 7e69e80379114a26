"""Every list of the register goes out as a file with its rows and filters, of the sites where one may take it away."""

import csv
import io

import pytest

from plant.models import AuditEntry
from plant.pages.register.registry import all_nouns
from tests.factories import MembershipFactory, SiteFactory, TrainFactory

pytestmark = pytest.mark.django_db


def rows(answer):
    return list(csv.reader(io.StringIO(b"".join(answer.streaming_content).decode("utf-8-sig"))))


def test_a_file_has_every_row_of_the_list_beyond_its_first_page(client, keeper, site):
    for number in range(60):
        TrainFactory(site=site, tag=f"P-{number:02d}", name="=cmd" if number == 3 else "Pump")
    client.force_login(keeper)
    found = rows(client.get("/register/trains.csv"))
    assert len(found) == 61
    assert "'=cmd" in next(row for row in found if row[0] == "P-03")
    assert len(rows(client.get("/register/trains.csv?q=P-1"))) == 11
    note = AuditEntry.objects.filter(kind="export").order_by("pk").values_list("note", flat=True)
    assert list(note) == ["register, trains, 60 rows, csv", "register, trains, 10 rows, csv"]


def test_rows_of_a_site_where_one_only_reads_stay_there(client, keeper, site):
    other = SiteFactory(name="Saltholm Mill")
    MembershipFactory(person=keeper, site=other, role="mechanic")
    TrainFactory(site=site, tag="OURS-1"), TrainFactory(site=other, tag="THEIRS-1")
    client.force_login(keeper)
    assert "THEIRS-1" in client.get("/register/trains/").content.decode()
    said = str(rows(client.get("/register/trains.csv")))
    assert "OURS-1" in said
    assert "THEIRS-1" not in said
    assert "Saltholm" not in str(rows(client.get("/register/sites.csv")))


def test_every_noun_goes_out_in_both_forms(client, keeper, site):
    client.force_login(keeper)
    for noun in all_nouns():
        for form in ("csv", "xlsx"):
            answer = client.get(f"/register/{noun.key}.{form}")
            assert answer.status_code == 200, noun.key
            assert b"".join(answer.streaming_content)
        assert client.get(f"/register/{noun.key}.exe").status_code == 404


def test_a_mechanic_takes_nothing_away_and_is_offered_nothing(client, mechanic, site):
    TrainFactory(site=site)
    client.force_login(mechanic)
    assert client.get("/register/trains.csv").status_code == 403
    assert "trains.csv" not in client.get("/register/trains/").content.decode()
