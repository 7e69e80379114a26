"""A site's coefficients of thermal expansion: from the starters, changed, refused, and what the supports go by."""

import pytest

from couplings.engineering.tables.coefficients import STARTER_COEFFICIENTS
from couplings.models import GrowthCoefficient
from couplings.selectors import support_coefficient
from couplings.services.growth import change_growth_coefficient, write_growth_coefficient
from couplings.services.starters import load_starters
from plant.recording import recording
from plant.refusals import NotAllowed, Refused, Stale
from tests.factories import NOW

BY_NAME = {row.material: row for row in STARTER_COEFFICIENTS}


@pytest.fixture
def starters(site):
    with recording(by=None, at=NOW):
        load_starters(site=site)


def row_of(site, material="gray iron"):
    return GrowthCoefficient.objects.get(site=site, material=material)


def test_the_starters_give_a_site_every_row_of_the_table_with_its_source(site, starters):
    rows = GrowthCoefficient.objects.filter(site=site)
    assert {row.material for row in rows} == set(BY_NAME)
    for row in rows:
        starter = BY_NAME[row.material]
        assert (row.per_k, row.per_k_u) == (pytest.approx(starter.alpha), pytest.approx(starter.alpha_u))
        assert (row.source, row.mark) == (starter.source, "published")


def test_a_row_that_the_site_changed_is_left_as_it_is_by_loading_again(site, starters, engineer):
    with recording(by=engineer, at=NOW):
        change_growth_coefficient(row=row_of(site), per_k=10.6, source="test bars of our foundry")
    with recording(by=None, at=NOW):
        load_starters(site=site)
    row = row_of(site)
    assert (row.per_k, row.mark, row.version) == (10.6, "site", 2)
    assert GrowthCoefficient.objects.filter(site=site).count() == len(BY_NAME)


def test_what_stood_before_and_who_changed_it_is_kept(site, starters, engineer):
    with recording(by=engineer, at=NOW):
        change_growth_coefficient(row=row_of(site), per_k=10.6, per_k_u=0.2, source="test bars of our foundry")
    now, before = row_of(site).history.all()
    assert (now.per_k, now.history_user) == (10.6, engineer)
    assert (before.per_k, before.mark) == (11.4, "published")


def test_the_supports_go_by_the_sites_row_for_their_material(site, starters):
    GrowthCoefficient.objects.filter(material="gray iron").update(per_k=10.6, per_k_u=0.2, mark="site")
    site.support_material = "gray iron"
    found = support_coefficient(site)
    assert (found.alpha, found.alpha_u, found.mark) == (10.6, 0.2, "site")
    site.support_material = "carbon steel"
    assert support_coefficient(site).alpha == BY_NAME["carbon steel"].alpha


def test_the_supports_go_by_the_starter_where_the_site_has_no_row(site):
    assert not GrowthCoefficient.objects.exists()
    assert support_coefficient(site) == BY_NAME[site.support_material]


@pytest.mark.parametrize(
    ("fields", "errors"),
    [
        ({"source": " "}, {"source": "Name the source of this coefficient: published ones do not agree."}),
        ({"per_k": 0.0}, {"per_k": "It must lie between 0.1 and 100."}),
        ({"per_k": float("nan")}, {"per_k": "It must lie between 0.1 and 100."}),
        ({"per_k_u": -0.1}, {"per_k_u": "It must lie between 0 and 100."}),
        (
            {"per_k_u": 12.0},
            {"per_k_u": "An uncertainty as large as the coefficient leaves nothing known: is the unit right?"},
        ),
        ({"material": "butter"}, {"material": "Value 'butter' is not a valid choice."}),
        ({"material": "gray iron"}, {"material": "This site has a coefficient of gray iron already: change that one."}),
    ],
)
def test_a_coefficient_that_cannot_be_meant_is_refused_beside_its_field(site, engineer, fields, errors):
    new = {"material": "ductile iron", "per_k": 11.0, "per_k_u": 0.3, "source": "invented"}
    with recording(by=engineer, at=NOW):
        write_growth_coefficient(site=site, **new | {"material": "gray iron"})
    with pytest.raises(Refused) as refused, recording(by=engineer, at=NOW):
        write_growth_coefficient(site=site, **new | fields)
    assert refused.value.as_dict() == errors
    assert GrowthCoefficient.objects.count() == 1


def test_a_refused_change_leaves_the_row_as_it_was(site, starters, engineer, mechanic):
    with pytest.raises(Refused), recording(by=engineer, at=NOW):
        change_growth_coefficient(row=row_of(site), per_k=1000.0)
    with pytest.raises(Stale), recording(by=engineer, at=NOW):
        change_growth_coefficient(row=row_of(site), expected=7, per_k=11.0)
    with pytest.raises(NotAllowed), recording(by=mechanic, at=NOW):
        change_growth_coefficient(row=row_of(site), per_k=11.0)
    row = row_of(site)
    assert (row.per_k, row.mark, row.version) == (11.4, "published", 1)
