"""The fixed cast: one person per role at Greyfen Works, and a stranger who has every role at another site.

Every page and endpoint is tried by one who may and by one who may not.
"""

import pytest

from tests.factories import MembershipFactory, PersonFactory, SiteFactory


@pytest.fixture
def site(db):
    return SiteFactory()


@pytest.fixture
def other_site(db):
    return SiteFactory(name="Saltholm Mill", zone="America/Chicago", units="us")


def _cast(username, role, site, **more):
    person = PersonFactory(username=username, **more)
    MembershipFactory(person=person, site=site, role=role)
    return person


@pytest.fixture
def mechanic(site):
    return _cast("mia", "mechanic", site)


@pytest.fixture
def planner(site):
    return _cast("samir", "planner", site)


@pytest.fixture
def engineer(site):
    return _cast("ana", "engineer", site)


@pytest.fixture
def manager(site):
    return _cast("ole", "manager", site)


@pytest.fixture
def keeper(site):
    return _cast("kim", "keeper", site)


@pytest.fixture
def client_account(site):
    return _cast("orders", "client", site, kind="service")


@pytest.fixture
def stranger(other_site):
    person = PersonFactory(username="stranger")
    for role in ["mechanic", "planner", "engineer", "manager", "keeper", "client"]:
        MembershipFactory(person=person, site=other_site, role=role)
    return person
