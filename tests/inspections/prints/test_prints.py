"""Paper: the certificate, the job card and the labels say what the record and the sheet say, and set what was typed
as text."""

import re

import pytest
import time_machine
from django.test import RequestFactory

from couplings.models import Coupling
from inspections.models import ShimPack
from inspections.prints.certificate import certificate, content_of
from inspections.prints.jobcard import Job, cards_of, job_cards
from inspections.prints.labels import labels
from inspections.services.signing import sign_visit
from plant.prints import for_paper, pdf
from plant.recording import recording
from tests.factories import NOW, CouplingFactory, FitFactory, TrainFactory, WorkOrderFactory
from tests.inspections.visits import begin, fill_installation, save

pytestmark = pytest.mark.django_db
HERE = "https://plant.example/visits/1/record/"


def _card(job, address):
    """What one card says."""
    (card,) = cards_of([job], lambda coupling: address)
    return card


@pytest.fixture(autouse=True)
def _on_the_day():
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def signed(filled, mechanic):
    with recording(by=mechanic, at=NOW):
        sign_visit(visit=filled)
    filled.refresh_from_db()
    return filled


def sheets(made):
    return len(re.findall(rb"/Type\s*/Page\b", made))


def test_a_certificate_says_verdict_readings_limits_and_digest(signed):
    said = content_of(signed, HERE)
    left = signed.record.surveys.get(as_left=True)

    assert said["verdict"] == left.result.verdict
    assert len(said["limits"]) == len(left.result.lines)
    read = [row for one in said["readings"] for row in one["sets"]]
    for one in left.sets.all():
        for reading in one.readings.all():
            assert any(reading.typed in row[1] for row in read)
    assert signed.record.digest in said["signatures"][0]
    assert signed.record.digest[:16] in said["foot"]
    assert "advice to a competent person" in said["advice"]


def test_the_same_record_gives_the_same_bytes(signed):
    once, again = certificate(signed, address=HERE), certificate(signed, address=HERE)

    assert once.startswith(b"%PDF-")
    assert once == again


def test_names_on_a_certificate_are_those_of_the_day_it_was_signed(signed):
    train = signed.coupling.train
    name = train.area.name
    train.area.name = "Renamed"
    train.area.save()
    signed.coupling.train.area.refresh_from_db()

    assert name in content_of(signed, HERE)["kicker"]


def test_what_was_typed_is_set_as_text_whatever_it_looks_like(signed):
    hostile = '#panic("no") $x^2$ *bold* @label <tag> \\ #set page(fill: red) // "quoted"'
    signed.left_so_reason = hostile
    assert content_of(signed, HERE)["left_so"] == hostile
    assert certificate(signed, address=HERE).startswith(b"%PDF-")
    signed.coupling.train.cautions = hostile
    made = job_cards([Job(signed.coupling)], address_of=lambda one: HERE, at=NOW)
    assert made.startswith(b"%PDF-")


def test_units_of_the_site_choose_the_paper_and_the_figures(signed):
    metric = content_of(signed, HERE)
    signed.site.units = "us"
    in_inches = content_of(signed, HERE)

    assert (metric["paper"], in_inches["paper"]) == ("a4", "us-letter")
    assert "mm" in metric["limits"][0]["limit"]
    assert "thou" in in_inches["limits"][0]["limit"]


def test_a_job_card_has_cautions_isolation_limits_and_every_position_in_order(fit, order):
    card = _card(Job(fit.coupling, order=order), HERE)

    assert any("stored energy" in one for one in card["cautions"])
    assert card["permit"] == order.permit
    assert card["limits"]
    for joint, printed in zip(fit.sheet_version.joints.all(), card["joints"], strict=True):
        for one in printed["passes"]:
            assert sorted(map(int, one["positions"])) == list(range(1, joint.positions + 1))
    assert card["left_title"] == "No as-left alignment on record yet"


def test_the_card_after_a_visit_tells_how_it_was_left(signed):
    card = _card(Job(signed.coupling), HERE)

    assert card["left_title"].startswith("As left 12 October 2026: ")
    assert len(card["left"]) == 2


def test_a_hub_that_is_heated_on_one_side_alone_brings_its_caution(fit):
    version = fit.sheet_version
    assert not any("Hot hubs burn" in one for one in _card(Job(fit.coupling), HERE)["cautions"])
    version.hubs.create(side="driven", mounting_kind="heated", bore_length_mm=80)
    assert any("Hot hubs burn" in one for one in _card(Job(fit.coupling), HERE)["cautions"])


def test_shims_of_a_middle_machine_are_told_at_both_its_couplings(signed, order, mechanic):
    here = signed.coupling
    lying = {"side": "driven", "shims_mm": [1.0, 0.5], "total_mm": 1.5, "count": 2, "visit": signed}
    ShimPack.objects.create(record=signed.record, foot="inboard left", typed="1.0 0.5", **lying)
    assert ["Driven side, inboard left", "1.0 0.5", "1.50\u00a0mm"] in _card(Job(here), HERE)["shims"]

    fan = here.train.machines.create(position=3, name="fan")
    next_one = CouplingFactory(train=here.train, driver_machine=here.driven_machine, driven_machine=fan, tag="X-2")
    assert ["Driver side, inboard left", "1.0 0.5", "1.50\u00a0mm"] in _card(Job(next_one), HERE)["shims"]


def test_a_card_for_an_upright_machine_asks_by_compass(fit):
    assert _card(Job(fit.coupling), HERE)["hands"] == ("12", "3", "6", "9")
    fit.coupling.driver_machine.mounting = "vertical"
    assert _card(Job(fit.coupling), HERE)["hands"] == ("N", "E", "S", "W")


def test_each_coupling_begins_a_new_sheet(fit):
    one = sheets(job_cards([Job(fit.coupling)], address_of=lambda one: HERE, at=NOW))
    three = sheets(job_cards([Job(fit.coupling)] * 3, address_of=lambda one: HERE, at=NOW))

    assert one >= 1
    assert three == 3 * one


def test_labels_fill_the_sheet_three_across(fit):
    few = labels([fit.coupling] * 3, paper="a4", address_of=lambda one: HERE)
    many = labels([fit.coupling] * 60, paper="a4", address_of=lambda one: HERE)

    assert sheets(few) == 1
    assert sheets(many) > 1


def test_a_template_that_lacks_its_content_fails_aloud():
    with pytest.raises(Exception, match=r"labels|content|key"):
        pdf("plant/prints/labels.typ", {"paper": "a4"}, at=NOW, title="x")


def test_a_drawing_for_paper_carries_its_own_strokes_and_a_name_space():
    made = for_paper('<svg class="ll" viewBox="0 0 1 1"><line class="limit"/></svg>')

    assert made.startswith('<svg xmlns="http://www.w3.org/2000/svg"')
    assert ".limit{" in made
    assert for_paper(None) is None


def test_the_pages_hand_out_pdfs_under_names_of_their_own(client, mechanic, signed):
    client.force_login(mechanic)
    coupling = signed.coupling

    for url, name in [
        (f"/visits/{signed.uuid}/certificate.pdf", f"as-left-{coupling.tag}-2026-10-12.pdf"),
        (f"/couplings/{coupling.uuid}/job-card.pdf", f"job-card-{coupling.tag}.pdf"),
        (f"/couplings/labels.pdf?coupling={coupling.uuid}", "labels.pdf"),
        ("/couplings/labels.pdf", "labels.pdf"),
        (f"/couplings/labels.pdf?area={coupling.train.area.uuid}", "labels.pdf"),
    ]:
        answer = client.get(url)
        assert answer.status_code == 200
        assert answer["Content-Type"] == "application/pdf"
        assert name in answer["Content-Disposition"]


def test_labels_of_nothing_say_so(client, mechanic, site):
    client.force_login(mechanic)

    assert client.get("/couplings/labels.pdf").status_code == 404
    assert client.get("/couplings/labels.pdf?area=x").status_code == 404


def test_a_draft_has_no_certificate_yet(client, mechanic, filled):
    client.force_login(mechanic)

    assert client.get(f"/visits/{filled.uuid}/certificate.pdf")["Location"] == f"/visits/{filled.uuid}/"


def test_the_code_on_a_label_opens_the_page_of_its_coupling(fit):
    from inspections.pages.prints import address_of

    request = RequestFactory().get("/couplings/labels.pdf", headers={"host": "testserver"})
    assert address_of(request)(fit.coupling) == f"http://testserver/couplings/{fit.coupling.uuid}/"


def test_many_cards_ask_no_more_than_one_and_say_the_hold_down_torque(
    site, fit, order, mechanic, wrench, connection_queries
):
    """The questions are those of fits, elements, joints, hubs, limits, grades and their rows, surveys, bolts, flags and
    shims: one of each, whether for one coupling or for four."""
    couplings = [fit.coupling]
    for number in range(3):
        train = TrainFactory(site=site, tag=f"P-{number}")
        couplings.append(FitFactory(coupling=CouplingFactory(train=train)).coupling)
    for one in couplings:
        visit = begin(one.fits.get(), WorkOrderFactory(train=one.train, isolated=True), mechanic)
        fill_installation(visit, mechanic, wrench)
        save(visit, "hold-down", {"driver.torque": "120", "driver.how": "set", "driver.jacks": "backed"}, mechanic)
        with recording(by=mechanic, at=NOW):
            sign_visit(visit=visit)
    asked = Coupling.objects.select_related("site", "train__area", "driver_machine", "driven_machine")
    few, many = list(asked.filter(pk=fit.coupling.pk)), list(asked.order_by("pk"))
    with connection_queries() as one_card:
        cards_of([Job(one) for one in few], lambda coupling: HERE)
    with connection_queries() as four_cards:
        cards = cards_of([Job(one) for one in many], lambda coupling: HERE)
    assert len(cards) == 4
    assert len(four_cards) == len(one_card), [one["sql"][:90] for one in four_cards]
    for card in cards:
        assert ["Hold-down bolts, driver side", "120.0\u00a0N\u00b7m, jack bolts backed off and locked"] in [
            list(row) for row in card["left"]
        ]
