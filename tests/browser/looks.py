"""What every page of a journey has to be: free of axe violations, inside the screen, with nothing cut off."""

import os

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page

# Where somebody wants to look at what was drawn.
SHOTS = os.environ.get("SHOTS_IN", "")
# What sticks out to the right, and words that their own box hides.
OUTSIDE = """[...document.querySelectorAll("main *, footer *")]
    .filter((one) => one.offsetParent && !one.closest(".vh, [tabindex='0']")
        && one.getBoundingClientRect().right > window.innerWidth + 1)
    .map((one) => one.outerHTML.slice(0, 120))"""
CUT_OFF = """[...document.querySelectorAll("main *, footer *")]
    .filter((one) => one.offsetParent && one.textContent.trim() && !one.closest(".vh, svg, select, thead")
        && getComputedStyle(one).overflowX !== "visible" && getComputedStyle(one).overflowX !== "auto"
        && (one.scrollWidth > one.clientWidth + 1 || one.scrollHeight > one.clientHeight + 1))
    .map((one) => one.outerHTML.slice(0, 120))"""


def inside(page: Page, name: str = "") -> None:
    """No sideways scroll, nothing that sticks out, no words cut off."""
    for what, script in (("sticks out", OUTSIDE), ("is cut off", CUT_OFF)):
        found = page.evaluate(script)
        assert not found, f"{name} {what}: {found}"
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth"), f"{name} is wider than it should"
    if SHOTS and name:
        page.screenshot(path=f"{SHOTS}/{name}-{(page.viewport_size or {})['width']}.png", full_page=True)


def sound(page: Page, name: str = "") -> None:
    """Inside the screen and free of axe violations."""
    inside(page, name)
    found = [
        (one["id"], one["nodes"][0]["html"][:160], one["nodes"][0]["failureSummary"])
        for one in Axe().run(page).response["violations"]
    ]
    assert not found, f"{name}: {found}"


def large_text(page: Page) -> None:
    """Text at 200 %, as a phone's own setting asks it."""
    page.context.new_cdp_session(page).send("Page.setFontSizes", {"fontSizes": {"standard": 32, "fixed": 26}})
    assert page.evaluate("getComputedStyle(document.documentElement).fontSize") == "32px"


COVERED = """() => {
    const one = document.activeElement;
    if (!one || one === document.body) return ""; /* from the last control back to the first by way of the browser */
    const box = one.getBoundingClientRect();
    const [x, y] = [box.left + Math.min(box.width / 2, 20), box.top + Math.min(box.height / 2, 12)];
    if (y < 0 || y > innerHeight || x < 0 || x > innerWidth) return `outside the screen: ${one.outerHTML.slice(0, 99)}`;
    const top = document.elementFromPoint(x, y);
    const own = top && (one.contains(top) || top.contains(one) || top.closest("label")?.control === one);
    return own ? "" : `under ${top?.outerHTML.slice(0, 60)}: ${one.outerHTML.slice(0, 99)}`;
}"""
NAMED = """() => {
    const one = document.activeElement;
    const labels = [...(one.labels ?? [])].map((label) => label.textContent);
    return (labels.join(" ") || one.textContent || one.getAttribute("aria-label") || "").replace(/\\s+/g, " ").trim();
}"""


class Keyboard:
    """Goes through a page with Tab alone; says where the focus is hidden."""

    def __init__(self, page: Page) -> None:
        self.page, self.presses = page, 0

    def key(self, name: str) -> None:
        self.page.keyboard.press(name)
        self.presses += 1

    def to(self, name: str, *, exact: bool = False, most: int = 150) -> None:
        """Tab until what has the focus is called so."""
        passed = []
        for _ in range(most):
            self.key("Tab")
            hidden = self.page.evaluate(COVERED)
            assert not hidden, f"On the way to {name}: {hidden}"
            said = self.page.evaluate(NAMED)
            passed.append(said)
            if said == name or (not exact and name in said):
                return
        raise AssertionError(f"No {name!r} in reach; passed {passed}")

    def type(self, name: str, text: str) -> None:
        self.to(name)
        self.page.keyboard.type(text)
        self.presses += len(text)

    def enter(self) -> None:
        """Enter, where it opens another page."""
        with self.page.expect_navigation():
            self.key("Enter")
