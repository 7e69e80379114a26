"""A survey at the machine on a phone: counted touches, no server half-way, a real keyboard, large text, either hand."""

import re
import socket
from contextlib import suppress

import pytest
from django.core.servers.basehttp import ThreadedWSGIServer, WSGIServer
from playwright.sync_api import Page, expect
from pytest_django.live_server_helper import LiveServer

from couplings.models import TargetPart
from inspections.models import Entry
from inspections.selectors.visits import draft_result, visit_for
from plant.models import Site
from tests.browser.looks import large_text, sound
from tests.browser.test_align_script import farthest, plain
from tests.factories import TODAY

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

# Reverse rim over a spacer, in thou, dials zeroed on top. Each closes: 0 + 12 = 5 + 7 and 0 - 10 = -4 - 6.
FIRST, SECOND = ("0", "5", "12", "7"), ("0", "-4", "-10", "-6")
# By hand from the reading equations, spec of the interface: at x = 3 in d = (6, -1) thou below its top, so the shaft
# stands (0 - 12)/2 = -6 up and (5 - 7)/2 = -1 right; at x = -3 in, carried by the movable shaft,
# -(0 + 10)/2 = -5 up and -(-4 + 6)/2 = -1 right. At the centre -5.5 and -1; slope (-6 + 5)/6 = -0.17 and 0 thou/inch.
BY_HAND = ("−5.5 thou", "−1.0 thou", "−0.17 thou/inch", "0.00 thou/inch")
MOST_TOUCHES = 20
NO_SERVER = [re.compile("Failed to load resource|ERR_CONNECTION_REFUSED|htmx:(sendError|afterRequest)|^DISCONNECTED")]


@pytest.fixture
def cut(monkeypatch):
    """Stop a live server as a process ends: open connections go with it, which its threads would keep serving."""
    connections, taken = [], ThreadedWSGIServer.process_request

    def remembered(server, request, client_address):
        connections.append(request)
        taken(server, request, client_address)

    def bound(server):
        server.allow_reuse_address = True  # the same port again, as the same site has it
        WSGIServer.server_bind(server)

    monkeypatch.setattr(ThreadedWSGIServer, "process_request", remembered)
    monkeypatch.setattr(ThreadedWSGIServer, "server_bind", bound)

    def stop(server: LiveServer) -> None:
        server.stop()
        for one in connections:
            with suppress(OSError):  # most of them were closed long ago
                one.shutdown(socket.SHUT_RDWR)

    return stop


@pytest.fixture
def inches(site):
    Site.objects.filter(pk=site.pk).update(units="us")


@pytest.fixture
def warm_target(fitted_visit, mechanic):
    """A target in both planes, so that the frames of both machines differ."""
    TargetPart.objects.create(
        coupling=fitted_visit.coupling,
        kind="thermal",
        offset_v_mm=-0.11,
        offset_h_mm=0.02,
        slope_v_mrad=0.08,
        slope_h_mrad=-0.05,
        by=mechanic,
        on=TODAY,
    )


def open_round(page: Page, visit, at: str = "", number: int = 1) -> None:
    page.goto(f"{at}/visits/{visit.uuid}/steps/alignment/{number}/")
    if number == 1:
        page.locator("[name=method]").select_option("reverse-rim")
        expect(page.locator("[name='set0.12']")).to_be_visible()
        page.locator("[name=stationary][value=driven]").check()
        page.locator("[name=viewed_from][value=movable]").check()
        page.locator("[name='set0.x']").fill("3")
        page.locator("[name='set1.x']").fill("-3")


class Thumb:
    """Taps keys and counts them."""

    def __init__(self, page: Page) -> None:
        self.page, self.touches = page, 0

    def field(self, name: str) -> None:
        self.page.locator(f"[name='{name}']").tap()
        self.touches += 1

    def key(self, key: str) -> None:
        self.page.locator(f"[data-keypad] [data-key='{key}']").tap()
        self.touches += 1

    def reading(self, text: str) -> None:
        for digit in text.lstrip("-"):
            self.key(digit)
        if text.startswith("-"):
            self.key("sign")
        self.key("next")


def provisional(page: Page, part: str) -> list[str]:
    return page.locator(f"[data-rows={part}] td").all_text_contents()


def test_a_round_of_reverse_rim_in_thou_takes_few_touches_and_outlives_the_server(
    at, fitted_visit, mechanic, inches, cut
):
    own = LiveServer("localhost:0")
    where = own.url
    page = at(mechanic, 360, complaints_allowed=NO_SERVER)
    open_round(page, fitted_visit, where)
    expect(page.locator("#saved")).to_contain_text("Saved, last by Mia")
    page.wait_for_load_state("networkidle")
    thumb = Thumb(page)
    thumb.field("set0.12")
    for text in FIRST:
        thumb.reading(text)
    assert thumb.touches <= MOST_TOUCHES
    expect(page.locator("[data-closure=set0]")).to_have_text("Closure 0.0 thou: within 2.0 thou.")
    page.wait_for_load_state("networkidle")
    cut(own)

    second = Thumb(page)
    with page.expect_event("requestfailed", lambda one: "set1.9=%E2%88%926" in (one.post_data or "")):
        for text in SECOND:  # Next has already gone on to the second dial
            second.reading(text)
    assert second.touches <= MOST_TOUCHES
    expect(page.locator("[data-kept]")).to_contain_text("waits for a signal")
    expect(page.locator("[data-provisional]")).to_be_visible()
    expect(page.locator("[data-provisional]")).to_contain_text("Provisional until the server confirms")
    assert tuple(text.replace("\u00a0", " ") for text in provisional(page, "position")[:4]) == BY_HAND
    for word in ("in tolerance", "out of tolerance"):
        assert page.locator("[data-rows]").get_by_text(word).count() == 0
    worked_out = {part: provisional(page, part) for part in ("position", "lines", "moves")}
    assert worked_out["moves"]
    assert worked_out["lines"]
    assert Entry.objects.get(step="alignment").typed.get("set1.6") is None

    port = where.rsplit(":", 1)[1]
    back = LiveServer(f"localhost:{port}")
    try:
        page.locator("[data-send]").click()  # offered as soon as the server is back
        expect(page.locator("[data-kept]")).to_be_hidden()
        expect(page.locator("#live .verdict")).to_be_visible()
        expect(page.locator("[data-provisional]")).to_be_hidden()
        entry = Entry.objects.get(step="alignment")
        assert {name: entry.typed[name] for name in ("set1.12", "set1.3", "set1.6", "set1.9")} == {
            "set1.12": "0",
            "set1.3": "\u22124",
            "set1.6": "\u221210",
            "set1.9": "\u22126",
        }
        # The server's own table says the same to the last digit that is printed.
        table = page.locator("#live table", has_text="Where the movable shaft lies").locator("td")
        assert table.all_text_contents() == worked_out["position"][:4]
        version = entry.version
        page.locator("form[data-visit-step]").evaluate("form => htmx.trigger(form, 'change')")
        page.wait_for_load_state("networkidle")
        page.wait_for_timeout(400)
        page.wait_for_load_state("networkidle")
        assert Entry.objects.get(step="alignment").version == version  # the same again is nothing new
    finally:
        page.goto("about:blank")
        back.stop()


def test_what_a_closed_page_kept_is_offered_and_never_goes_over_somebody(at, fitted_visit, mechanic, engineer):
    page = at(mechanic, 360, complaints_allowed=NO_SERVER)
    open_round(page, fitted_visit)
    expect(page.locator("#saved")).to_contain_text("Saved, last by Mia")
    page.wait_for_load_state("networkidle")
    page.context.set_offline(True)
    page.locator("[name='set0.6']").fill("0.30")
    page.locator("[name='set0.9']").fill("0.18")
    page.locator("[name='set0.9']").blur()
    expect(page.locator("[data-kept]")).to_contain_text("waits for a signal")
    page.goto("about:blank")  # the phone went flat
    page.context.set_offline(False)

    other = at(engineer, 360)
    other.goto(f"/visits/{fitted_visit.uuid}/steps/alignment/1/")
    other.locator("[name='set0.6']").fill("0.31")
    other.locator("[name='set0.6']").blur()
    expect(other.locator("#saved")).to_contain_text("Saved, last by Ana")

    page.goto(f"/visits/{fitted_visit.uuid}/steps/alignment/1/")
    expect(page.locator("[name='set0.9']")).to_have_value("0.18")
    expect(page.locator("[data-kept]")).to_contain_text("not sent yet")
    assert "set0.9" not in Entry.objects.get(step="alignment").typed
    sound(page)
    page.locator("[data-send]").click()
    expect(page.locator("#live")).to_contain_text("choose which holds")
    typed = Entry.objects.get(step="alignment").typed
    assert (typed["set0.6"], typed["set0.9"]) == ("0.31", "0.18")
    page.get_by_label("Ana: 0.31").check()
    page.get_by_role("button", name="Keep what I chose").click()
    expect(page.locator("[name='set0.6']")).to_have_value("0.31")
    expect(page.locator("[data-kept]")).to_be_hidden()


def test_readings_count_the_dials_divisions_where_the_phone_is_told_so(at, fitted_visit, mechanic):
    page = at(mechanic, 360)
    open_round(page, fitted_visit)
    page.get_by_label("dial’s divisions, 0.01 mm").check()
    for name, text, becomes in (
        ("set0.12", "0", "0"),
        ("set0.3", "12", "0.12"),
        ("set0.6", "0,30", "0,30"),
        ("set0.9", "\u221218", "\u22120.18"),
    ):
        page.locator(f"[name='{name}']").fill(text)
        page.locator(f"[name='{name}']").blur()
        expect(page.locator(f"[name='{name}']")).to_have_value(becomes)
    page.get_by_label("dial’s divisions, 0.001 in").check()
    page.locator("[name='set1.3']").fill("12")
    with page.expect_event("requestfinished", lambda one: "set1.3=12%20thou" in (one.post_data or "")):
        page.locator("[name='set1.3']").blur()
    expect(page.locator("[name='set1.3']")).to_have_value("12 thou")
    # What was written out is a length: going through the fields again changes nothing.
    for name in ("set0.3", "set1.3"):
        page.locator(f"[name='{name}']").focus()
        page.locator(f"[name='{name}']").blur()
    expect(page.locator("[name='set0.3']")).to_have_value("0.12")
    typed = Entry.objects.get(step="alignment").typed
    assert (typed["set0.3"], typed["set1.3"], typed["set0.9"]) == ("0.12", "12 thou", "\u22120.18")
    assert "divisions" not in typed
    page.reload()
    expect(page.get_by_label("dial’s divisions, 0.001 in")).to_be_checked()
    expect(page.locator("[name='set0.3']")).to_have_value("0.12")


def test_a_value_far_from_its_neighbours_is_asked_about_and_kept_as_typed(at, fitted_visit, mechanic):
    page = at(mechanic, 360)
    open_round(page, fitted_visit)
    for hour, text in (("12", "0"), ("3", "0.12"), ("6", "0.30"), ("9", "1.8")):
        page.locator(f"[name='set0.{hour}']").fill(text)
    expect(page.locator("[data-ask=set0]")).to_contain_text("9, left hand: +1.80")
    expect(page.locator("[data-ask=set0]")).to_contain_text("+0.18")
    expect(page.locator("[data-ask=set0]")).to_contain_text("Has the unit or the sign slipped?")
    page.locator("[name='set0.9']").blur()
    expect(page.locator("[name='set0.9']")).to_have_value("1.8")
    expect(page.locator("#saved")).to_contain_text("Saved, last by Mia")
    sound(page)
    page.locator("[name='set0.9']").fill("0.18")
    expect(page.locator("[data-ask=set0]")).to_be_hidden()
    page.locator("[name='set0.6']").fill("31 mm")
    expect(page.locator("[data-ask=set0]")).to_contain_text("more than a dial’s travel")


def test_by_keyboard_alone_a_round_is_read_and_worked_out(at, fitted_visit, mechanic):
    page = at(mechanic, 1280)
    open_round(page, fitted_visit)
    page.locator("[name='set0.12']").focus()
    for text in ("0", "0.12", "0.30", "0.18", "0", "-0,10", "-0.26", "-0.16"):
        page.keyboard.type(text)
        page.keyboard.press("Enter")
    expect(page.locator("[name='set1.9']")).to_have_value("-0.16")
    expect(page.locator("#live .verdict")).to_be_visible()
    page.keyboard.type("1.8")  # Enter has come back to the first reading and chosen it
    expect(page.locator("[data-provisional]")).to_be_visible()
    for _ in range(60):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.textContent.includes('Save and work it out')"):
            break
    page.keyboard.press("Enter")
    expect(page.locator("[name='set0.12']")).to_have_value("1.8")
    expect(page.locator("#live")).to_contain_text("Closure", ignore_case=True)


@pytest.mark.parametrize("large", [False, True], ids=["plain text", "text at 200 percent"])
def test_the_keys_stand_whole_at_the_bottom_for_either_hand(at, fitted_visit, mechanic, large):
    page = at(mechanic, 360)
    if large:
        large_text(page)
    open_round(page, fitted_visit)
    page.locator("[name='set1.6']").tap()
    keys = page.locator("[data-keypad] .k")
    expect(keys.first).to_be_visible()
    boxes = [one.bounding_box() for one in keys.all()]
    assert all(box and box["height"] >= 54 for box in boxes)
    assert all(box and box["x"] >= 0 and box["x"] + box["width"] <= 360 for box in boxes)
    assert all(box and box["y"] >= 0 and box["y"] + box["height"] <= 800 for box in boxes)
    field, pad = (page.locator(one).bounding_box() for one in ("[name='set1.6']", "[data-keypad]"))
    assert field
    assert pad
    assert field["y"] + field["height"] <= pad["y"], "the keys lie over the field in hand"
    assert abs(pad["y"] + pad["height"] - 800) < 1, "the keys end at the bottom edge"
    sound(page)
    page.evaluate("document.documentElement.dataset.hand = 'left'")
    sign, digit = (page.locator(f"[data-key='{key}']").bounding_box() for key in ("next", "5"))
    assert sign
    assert digit
    assert sign["x"] < digit["x"]


@pytest.mark.parametrize("stationary", ["driven", "driver"])
def test_what_the_phone_shows_of_a_visit_is_what_the_server_judges(at, fitted_visit, mechanic, warm_target, stationary):
    page = at(mechanic, 360)
    open_round(page, fitted_visit)
    page.locator(f"[name=stationary][value={stationary}]").check()
    page.locator("[name=viewed_from][value=stationary]").check()
    given = {"set0.x": "75", "set1.x": "-75", "driver_support": "31", "driven_support": "52 °C"}
    given |= {f"set0.{hour}": text for hour, text in zip((12, 3, 6, 9), ("0", "0.12", "0.30", "0.18"), strict=True)}
    given |= {f"set1.{hour}": text for hour, text in zip((12, 3, 6, 9), ("0", "-0.1", "-0.26", "-0.17"), strict=True)}
    for name, text in given.items():
        page.locator(f"[name='{name}']").fill(text)
    page.locator("[name=driven_support]").blur()
    expect(page.locator("#live .verdict")).to_be_visible()
    found = page.evaluate(
        """async () => {
            const [{ survey }, { fieldText }, { data }] = await Promise.all(
                ["survey", "divisions", "page"].map((name) => import(`/static/couplings/${name}.js`)));
            const found = survey(fieldText, data);
            return [found.mean, found.left, found.angles, found.moves.map(({up, right}) => [up, right]),
                Object.fromEntries(
                    found.lines.map((one) => [`${one.family} ${one.quantity} ${one.plane}`, one.share]))];
        }"""
    )
    judged = draft_result(visit_for(mechanic, fitted_visit.uuid), "alignment", 1)
    assert judged
    assert judged.correction.added is not None
    assert judged.target != (0.0, 0.0, 0.0, 0.0)
    theirs = [
        judged.misalignment.mean,
        judged.from_target.mean,
        judged.flex_angles,
        [[one.move.up_mm, one.move.right_mm] for one in judged.feet],
    ]
    assert judged.feet
    assert farthest(found[:4], plain(theirs), "the survey") < 1e-9
    lines = {f"{one.family} {one.quantity} {one.plane}": one.share for one in judged.lines}
    assert set(found[4]) == set(lines)
    assert farthest(list(found[4].values()), [lines[name] for name in found[4]], "shares") < 1e-9


@pytest.mark.parametrize("width", [360, 1280])
def test_the_calculation_without_a_record_answers_while_one_types_and_with_no_server(at, mechanic, width):
    page = at(mechanic, width)
    page.goto("/calculations/alignment/?method=rim-and-face&units=metric")
    page.locator("[name=viewed_from][value=movable]").check()
    given = {"set0.x": "50", "set1.swing_radius": "90", "limit_offset": "0.05", "feet0.x": "250", "feet1.x": "700"}
    given |= {f"set0.{hour}": text for hour, text in zip((12, 3, 6, 9), ("0", "0.1", "0.2", "0.1"), strict=True)}
    given |= {f"set1.{hour}": text for hour, text in zip((12, 3, 6, 9), ("0", "0.01", "0.02", "0.01"), strict=True)}
    page.context.set_offline(True)
    for fold in page.locator("main details.more > summary").all():
        fold.click()
    for name, text in given.items():
        page.locator(f"[name='{name}']").fill(text)
    expect(page.locator("[data-provisional]")).to_contain_text("Provisional until the server confirms")
    # By hand: the rim stands (0 - 0.2)/2 = -0.1 mm at 50 mm, the near face rises (0 - 0.02)/2 over 90 mm = -0.111 mm/m,
    # so the offset at the centre is -0.1 + 0.111 x 0.05 = -0.094 mm; 0.094 is 189 % of 0.05.
    shown = [text.replace("\u00a0", " ") for text in provisional(page, "position")]
    assert shown == ["−0.09 mm", "0.00 mm", "−0.11 mm/m", "0.00 mm/m"]
    assert [text.replace("\u00a0", " ") for text in provisional(page, "lines")] == ["0.09 of 0.05 mm", "189 %"]
    assert provisional(page, "moves")[0].replace("\u00a0", " ") == "up 0.12 mm"
    sound(page)
    # The picture follows what is said of the dial.
    carried = page.locator("[data-dial=set0]:visible")
    expect(carried).to_contain_text("on the stationary shaft")
    expect(carried.locator("[data-view=movable]")).to_be_visible()
    expect(carried.locator("[data-view=stationary]")).to_be_hidden()
    page.locator("[name='set0.carried_by']").select_option("movable")
    expect(carried).to_contain_text("on the movable shaft")
    page.context.set_offline(False)
