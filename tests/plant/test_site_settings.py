"""The settings of a site: what each touches is said, what cannot be meant is refused beside its field."""

import pytest

from plant.models import Site
from plant.recording import recording
from plant.refusals import Refused
from plant.services.register import change_site
from tests.factories import NOW

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"currency": "EURO"}, {"currency": "Ensure this value has at most 3 characters (it has 4)."}),
        ({"currency": "XAU"}, {"currency": "“XAU” is no currency of ISO 4217; write one such as EUR, NOK or USD."}),
        ({"currency": ""}, {"currency": "This field cannot be blank."}),
        ({"zone": "Oslo"}, {"zone": "“Oslo” is no time zone; write one such as Europe/Oslo."}),
        ({"labour_rate": -1.0}, {"labour_rate": "It must lie between 0 and 1e+06."}),
        ({"labour_rate": float("nan")}, {"labour_rate": "It must lie between 0 and 1e+06."}),
        ({"units": "imperial"}, {"units": "Value 'imperial' is not a valid choice."}),
        ({"dates_owner": "both"}, {"dates_owner": "Value 'both' is not a valid choice."}),
        ({"name": " "}, {"name": "This field cannot be blank."}),
    ],
)
def test_a_setting_that_cannot_be_meant_is_refused(keeper, site, given, said):
    with pytest.raises(Refused) as refused, recording(by=keeper, at=NOW):
        change_site(site=site, **given)
    assert refused.value.as_dict() == said


def test_a_currency_is_kept_as_its_code(keeper, site):
    with recording(by=keeper, at=NOW):
        change_site(site=site, currency="nok")
    assert Site.objects.get(pk=site.pk).currency == "NOK"


def test_the_page_says_what_each_change_touches_and_keeps_what_was_typed(keeper, site, client):
    client.force_login(keeper)
    where = f"/sites/{site.uuid}/settings/"
    form = {"name": site.name, "zone": "Europe/Oslo", "units": "metric", "currency": "EUR", "labour_rate": "62.5"}
    form |= {"dates_owner": "orders", "version": site.version}
    refused = client.post(where, form | {"zone": "Europe/Greyfen"})
    assert refused.status_code == 422
    assert "“Europe/Greyfen” is no time zone" in refused.content.decode()
    assert 'value="Europe/Greyfen"' in refused.content.decode()
    page = client.post(where, form, follow=True).content.decode()
    said = '<p class="said" role="status">'
    assert f"{said}Says which system’s due dates count at this site." in page
    assert f"{said}What a crew hour costs here" in page
    assert f"{said}Moves where a day begins here" not in page
    stale = client.post(where, form | {"currency": "NOK"})
    assert stale.status_code == 412
    assert "Somebody changed this site in the meantime" in stale.content.decode()
    assert Site.objects.get(pk=site.pk).currency == "EUR"
