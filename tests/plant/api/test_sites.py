"""Sites, areas, people and events over the API."""

import pytest

from plant.models import Area, Membership, Person, Site, SiteNumber
from plant.recording import recording, told
from tests.factories import NOW, AreaFactory, MembershipFactory, PersonFactory, TrainFactory

pytestmark = pytest.mark.django_db
ANY = {"headers": {"If-Match": "*"}, "format": "json"}


@pytest.fixture
def administrator():
    return PersonFactory(username="root", is_superuser=True)


def test_a_site_is_made_by_the_administrator_with_its_number(as_person, administrator, keeper):
    body = {"name": "Nordholt Yard", "zone": "Pacific/Kiritimati", "units": "us"}
    assert as_person(keeper).post("/api/v1/sites/", body, format="json").status_code == 403
    made = as_person(administrator).post("/api/v1/sites/", body, format="json")
    assert made.status_code == 201, made.json()
    assert made.json()["closure_limit"]["unit"] == "thou"
    assert SiteNumber.objects.get(site__name="Nordholt Yard").last == 1


@pytest.mark.parametrize(
    "change, pointer",
    [
        ({"zone": "Mars/Olympus"}, "/zone"),
        ({"zone": "../../etc/passwd"}, "/zone"),
        ({"units": "imperial"}, "/units"),
        ({"confidence": 0.2}, "/confidence"),
        ({"closure_limit": {"value": 5, "unit": "mm"}}, "/closure_limit"),
        ({"closure_limit": {"value": 5, "unit": "N*m"}}, "/closure_limit"),
        ({"name": "Saltholm Mill"}, "/name"),
        ({"currency": "euro"}, "/currency"),
    ],
)
def test_a_setting_that_cannot_be_is_refused_beside_its_field(
    as_person, administrator, site, other_site, change, pointer
):
    answer = as_person(administrator).patch(f"/api/v1/sites/{site.uuid}/", change, **ANY)
    assert (answer.status_code, answer.json()["errors"][0]["pointer"]) == (422, pointer)
    site.refresh_from_db()
    assert site.version == 1


def test_how_measurements_are_judged_is_the_engineers_and_the_rest_the_keepers(as_person, keeper, engineer, site):
    where = f"/api/v1/sites/{site.uuid}/"
    assert as_person(keeper).patch(where, {"currency": "NOK"}, **ANY).status_code == 200
    assert as_person(engineer).patch(where, {"currency": "SEK"}, **ANY).status_code == 403
    assert as_person(engineer).patch(where, {"confidence": 0.9}, **ANY).status_code == 200
    assert as_person(keeper).patch(where, {"confidence": 0.5}, **ANY).status_code == 403
    site.refresh_from_db()
    assert (site.currency, site.confidence) == ("NOK", 0.9)


def test_an_area_is_not_a_part_of_itself_nor_of_another_site(as_person, keeper, site, other_site, administrator):
    whole = AreaFactory(site=site, name="Whole")
    part = AreaFactory(site=site, name="Part", parent=whole)
    foreign = AreaFactory(site=other_site, name="Foreign")
    where = f"/api/v1/areas/{whole.uuid}/"
    looped = as_person(keeper).patch(where, {"parent": str(part.uuid)}, **ANY)
    assert looped.json()["errors"][0]["detail"] == "An area cannot be a part of itself."
    moved = as_person(administrator).patch(where, {"parent": str(foreign.uuid)}, **ANY)
    assert moved.json()["errors"][0]["detail"] == "This area is at another site."


def test_an_area_in_use_stays_and_an_empty_one_goes(as_person, keeper, train):
    client, where = as_person(keeper), f"/api/v1/areas/{train.area.uuid}/"
    assert client.delete(where).status_code == 428
    in_use = client.delete(where, **ANY)
    assert (in_use.status_code, in_use.json()["type"]) == (422, "/problems/in-use")
    empty = AreaFactory(site=train.site, name="Empty")
    gone = client.delete(f"/api/v1/areas/{empty.uuid}/", headers={"If-Match": '"1"'})
    assert (gone.status_code, gone.content) == (204, b"")
    assert not Area.objects.filter(pk=empty.pk).exists()


def test_pages_show_every_row_once_while_rows_are_added(as_person, mechanic, site):
    for letter in "bdfhjln":
        AreaFactory(site=site, name=letter)
    client, seen, where = as_person(mechanic), [], "/api/v1/areas/?limit=3"
    while where:
        page = client.get(where).json()
        seen += [row["name"] for row in page["results"]]
        where = page["next"]
        AreaFactory(site=site, name=f"a{len(seen)}")
    assert seen == list("bdfhjln")
    refused = client.get("/api/v1/areas/?cursor=nonsense")
    assert (refused.status_code, refused.json()["errors"][0]["parameter"]) == (400, "cursor")
    for limit in ["0", "501", "-1", "many", "²"]:
        assert client.get("/api/v1/areas/", {"limit": limit}).status_code == 400


def test_the_keeper_registers_a_person_with_a_role(as_person, keeper, site, mechanic):
    body = {
        "username": "nora",
        "first_name": "Nora",
        "last_name": "Quist",
        "password": "rim-and-face-27",
        "roles": [{"site": str(site.uuid), "role": "planner", "from_on": "2026-10-01"}],
    }
    assert as_person(mechanic).post("/api/v1/people/", body, format="json").status_code == 403
    made = as_person(keeper).post("/api/v1/people/", body, format="json")
    assert made.status_code == 201, made.json()
    assert "password" not in made.json()
    assert made.json()["roles"] == [
        {"site": str(site.uuid), "role": "planner", "from_on": "2026-10-01", "until_on": None}
    ]
    assert Person.objects.get(username="nora").check_password("rim-and-face-27")


def test_a_person_is_refused_with_every_fault_at_once(as_person, keeper, site, mechanic, other_site):
    def refused(**change):
        body = {
            "username": "nora",
            "first_name": "Nora",
            "last_name": "Quist",
            "roles": [{"site": str(site.uuid), "role": "planner", "from_on": "2026-10-01"}],
        } | change
        answer = as_person(keeper).post("/api/v1/people/", body, format="json")
        assert answer.status_code == 422, answer.json()
        return sorted(error["pointer"] for error in answer.json()["errors"])

    assert refused(username="mia", password="short") == ["/password", "/username"]
    assert refused(username="with space") == ["/username"]
    assert refused(roles=[]) == ["/roles"]
    assert refused(roles=[{"site": str(other_site.uuid), "role": "planner", "from_on": "2026-10-01"}]) == [
        "/roles/0/site"
    ]
    ends_first = {"site": str(site.uuid), "role": "planner", "from_on": "2026-10-02", "until_on": "2026-10-01"}
    assert refused(roles=[ends_first]) == ["/roles/0/until_on"]
    assert not Person.objects.filter(username="nora").exists()


def test_a_role_is_given_and_ended(as_person, keeper, mechanic, site):
    client, where = as_person(keeper), f"/api/v1/people/{mechanic.uuid}/roles/"
    role = {"site": str(site.uuid), "role": "engineer", "from_on": "2026-10-01"}
    given = client.post(where, role, format="json")
    assert (given.status_code, given["ETag"]) == (200, '"2"')
    assert {row["role"] for row in given.json()["roles"]} == {"mechanic", "engineer"}
    assert client.post(where, role, format="json").json()["errors"][0]["pointer"] == "/role"
    end = {"site": str(site.uuid), "role": "engineer", "until_on": "2026-10-31"}
    assert client.post(f"{where}end/", end, format="json").status_code == 200
    assert str(Membership.objects.get(person=mechanic, role="engineer").until_on) == "2026-10-31"
    unknown = client.post(f"{where}end/", end | {"role": "manager"}, format="json")
    assert unknown.json()["errors"][0]["pointer"] == "/role"


def test_a_keeper_neither_sees_nor_changes_people_of_other_sites(as_person, keeper, stranger, mechanic, other_site):
    client = as_person(keeper)
    usernames = [row["username"] for row in client.get("/api/v1/people/").json()["results"]]
    assert "mia" in usernames
    assert "stranger" not in usernames
    assert client.get(f"/api/v1/people/{stranger.uuid}/").status_code == 404
    assert client.patch(f"/api/v1/people/{mechanic.uuid}/", {"employer": "Own crew"}, **ANY).status_code == 200
    MembershipFactory(person=mechanic, site=other_site, role="mechanic")
    assert client.patch(f"/api/v1/people/{mechanic.uuid}/", {"is_active": False}, **ANY).status_code == 403


def test_a_mechanic_sees_only_himself_among_people(as_person, mechanic, keeper):
    rows = as_person(mechanic).get("/api/v1/people/").json()["results"]
    assert [row["username"] for row in rows] == ["mia"]


def test_events_come_in_the_order_of_their_numbers(as_person, manager, stranger, site, other_site):
    here = TrainFactory(site=site, area__site=site)
    with recording(by=None, at=NOW):
        told("import.finished", None, {"rows": 3}, site_id=site.pk)
        told("import.finished", None, {"rows": 4}, site_id=other_site.pk)
    with recording(by=manager, at=NOW):
        told("check.due", here, {"kind": "alignment"})
    client = as_person(manager)
    rows = client.get("/api/v1/events/").json()["results"]
    assert [(row["no"], row["kind"], row["site"]) for row in rows] == [
        (1, "import.finished", str(site.uuid)),
        (2, "check.due", str(site.uuid)),
    ]
    assert (rows[1]["coupling"], rows[1]["by"]) == (str(here.uuid), str(manager.uuid))
    assert [row["no"] for row in client.get("/api/v1/events/?above=1").json()["results"]] == [2]
    first = client.get("/api/v1/events/?limit=1").json()
    assert [row["no"] for row in client.get(first["next"]).json()["results"]] == [2]


def test_lists_ask_the_database_a_fixed_number_of_times(as_person, mechanic, site, django_assert_num_queries):
    for number in range(12):
        TrainFactory(site=site, area__site=site, tag=f"T-{number:02d}")
    client = as_person(mechanic)
    # Roles; sites of the person; trains with their area; machines; feet; names in other systems.
    with django_assert_num_queries(6):
        assert len(client.get("/api/v1/trains/").json()["results"]) == 12
    # Roles are known by now. Sites; areas with their parent; names in other systems.
    with django_assert_num_queries(3):
        client.get("/api/v1/areas/")
    assert Site.objects.count() == 1
