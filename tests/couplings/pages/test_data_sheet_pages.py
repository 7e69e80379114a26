"""Data sheets on pages: written, published, changed by two people, adopted, with the same services as everywhere."""

import pytest

from couplings.models import DataSheet, Fit, LimitChange, WearWording
from couplings.selectors.sheet_lists import ROW_LISTS, all_rows_of
from couplings.selectors.sheets import VERSION_FIELDS, digest_of
from couplings.services.sheets import begin_version, change_version
from plant.recording import recording
from tests.couplings.sheets_written import family, publish, wear_limits, write_full
from tests.factories import NOW, TODAY, CouplingFactory, FitFactory, TrainFactory

pytestmark = pytest.mark.django_db
HERE = "/register/data-sheets/"


def at(sheet, act=""):
    return f"{HERE}{sheet.uuid}/" + (f"{act}/" if act else "")


def text(answer):
    return " ".join(answer.content.decode().split())


def said(version):
    return {name: getattr(version, name) for name in VERSION_FIELDS}, all_rows_of(version)


@pytest.fixture(params=["metric", "us"])
def full(request, engineer, site):
    """The draft of a sheet that says everything, at a site of either system of units."""
    site.units = request.param
    site.save()
    return write_full(engineer, site)


def test_a_draft_that_is_opened_and_saved_with_one_word_changed_keeps_every_figure(full, browse, keeper, form_of):
    before = said(full)
    client = browse(keeper)
    sent = form_of(client.get(at(full.sheet, "draft"))) | {"note": "another word"}
    # A blank at the end of one cell of every list makes the page send each list as a whole.
    for name in ROW_LISTS:
        cells = [key for key in sent if key.startswith(f"{name}.0.") and sent[key]]
        sent[cells[-1]] = sent[cells[-1]]
    answer = client.post(at(full.sheet, "draft"), sent)
    assert answer.status_code == 302, text(answer)
    fields, rows = said(type(full).objects.get(pk=full.pk))
    assert fields == before[0] | {"note": "another word"}
    assert rows == before[1]


def test_one_limit_changed_leaves_the_other_limits_exactly_as_they_stood(full, browse, keeper, form_of):
    client = browse(keeper)
    sent = form_of(client.get(at(full.sheet, "draft")))
    place = next(key for key in sent if key.endswith(".quantity") and sent[key] == "offset").removesuffix("quantity")
    sent[f"{place}stated_value"] = "0.004 inch"
    assert client.post(at(full.sheet, "draft"), sent).status_code == 302
    values = dict(type(full).objects.get(pk=full.pk).limits.values_list("quantity", "stated_value"))
    # 1 in = 25.4 mm exactly.
    assert values == {"offset": pytest.approx(0.1016), "angularity": 0.1, "axial": 1.0}


def test_a_sheet_is_written_published_changed_approved_and_adopted_on_pages(engineer, manager, site, browse, form_of):
    proposer, approver = browse(engineer), browse(manager)
    made = proposer.post(
        f"{HERE}new/", {"site": str(site.uuid), "designation": "Jaw 95", "family": family().code, "note": ""}
    )
    assert made.status_code == 302, text(made)
    sheet = DataSheet.objects.get(designation="Jaw 95")
    page = text(proposer.get(at(sheet)))
    assert "No version is published yet." in page
    assert "No length of the element or spacer is stated" in page
    sent = form_of(proposer.get(at(sheet, "draft")))
    row = {"limits.0": "", "limits.0.quantity": "offset", "limits.0.stated_as": "length"}
    sent |= row | {"limits.0.stated_value": "0.2 mm", "dbse_mm": "32 mm"}
    assert proposer.post(at(sheet, "draft"), sent).status_code == 302
    assert proposer.post(at(sheet, "publish"), form_of(proposer.get(at(sheet, "publish")))).status_code == 302
    fits = [
        FitFactory(coupling=CouplingFactory(train=TrainFactory(site=site, tag=tag)), sheet_version=sheet.versions.get())
        for tag in ("BF-71", "BF-72")
    ]
    assert proposer.post(at(sheet, "begin"), form_of(proposer.get(at(sheet, "begin")))).status_code == 302
    sent = form_of(proposer.get(at(sheet, "draft"))) | {"limits.0.stated_value": "0.1 mm"}
    assert proposer.post(at(sheet, "draft"), sent).status_code == 302
    page = text(proposer.get(at(sheet)))
    assert "Version 2 beside version 1" in page
    assert "0.20\u00a0mm" in proposer.get(at(sheet)).content.decode()
    form = form_of(proposer.get(at(sheet, "publish")))
    refused = proposer.post(at(sheet, "publish"), form)
    assert refused.status_code == 422
    assert "Limits differ from those of version 1: say why they change." in text(refused)
    why = {"reason": "new sheet of the maker", "change_number": "LC-9", "from_on": TODAY.isoformat()}
    assert proposer.post(at(sheet, "publish"), form | why).status_code == 302
    assert "waits for approval" in text(proposer.get(at(sheet)))
    assert "One limit change waits for approval" in text(approver.get("/register/"))
    own = proposer.post(at(sheet, "approve"), form_of(proposer.get(at(sheet, "approve"))))
    assert "ask somebody else" in text(own)
    assert approver.post(at(sheet, "approve"), form_of(approver.get(at(sheet, "approve")))).status_code == 302
    assert LimitChange.objects.get().decided_by == manager
    page = text(approver.get(at(sheet)))
    assert "BF-71" in page
    assert "BF-72" in page
    form = form_of(approver.get(at(sheet, "adopt"))) | {"fits": str(fits[0].uuid)}
    assert approver.post(at(sheet, "adopt"), form).status_code == 302
    assert [fit.sheet_version.number for fit in Fit.objects.order_by("pk")] == [2, 1]
    form = form_of(approver.get(at(sheet, "adopt"))) | {"fits": "all"}
    assert approver.post(at(sheet, "adopt"), form).status_code == 302
    assert [fit.sheet_version.number for fit in Fit.objects.order_by("pk")] == [2, 2]


def test_a_copy_begins_from_the_page_and_the_list_finds_drafts_and_waiting_changes(engineer, site, browse, form_of):
    first = publish(engineer, write_full(engineer, site))
    client = browse(engineer)
    form = form_of(client.get(at(first.sheet, "copy"))) | {"designation": "Full 90"}
    assert client.post(at(first.sheet, "copy"), form)["Location"] == HERE
    with recording(by=engineer, at=NOW):
        second = begin_version(sheet=first.sheet)
        change_version(version=second, limits=[], wear_limits=wear_limits())
    publish(engineer, second, reason="x", change_number="LC-1", from_on=TODAY)
    assert "Full 90" in text(client.get(HERE + "?draft=yes"))
    assert "Full 80" not in text(client.get(HERE + "?draft=yes"))
    assert "Full 80" in text(client.get(HERE + "?waiting=yes"))
    assert "Full 90" not in text(client.get(HERE + "?waiting=yes"))


def test_wear_limits_are_chosen_and_read_in_the_words_of_the_site(full, browse, keeper):
    client, here = browse(keeper), full.sheet.site
    before = digest_of(full)
    WearWording.objects.create(site=here, code="play", title="Slack between the hubs", grade_0="none", source="ours")
    assert "Slack between the hubs: play" in text(client.get(at(full.sheet, "draft")))
    assert "Slack between the hubs" in text(client.get(at(full.sheet)))
    assert digest_of(type(full).objects.get(pk=full.pk)) == before, "the words of a site are no part of the sheet"
