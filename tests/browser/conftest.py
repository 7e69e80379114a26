"""A real browser against a live server. Selected with -m browser; Chromium must be there then."""

import os
import re
import shutil
from collections.abc import Callable, Iterator

import pytest
from django.conf import settings
from django.test import Client
from playwright.sync_api import Browser, BrowserContext, Page, expect, sync_playwright

from inspections.services.drafts import begin_visit
from plant.recording import recording
from tests.factories import NOW, TODAY, FitFactory, WorkOrderFactory

ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
PASSWORD = "a password of the test"
expect.set_options(timeout=15_000)


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    path = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
    assert path, "The browser tests need Chromium: install it (Debian: apt-get install chromium)."
    # Playwright's synchronous interface runs an event loop in this thread, which Django takes for asynchronous code.
    before = os.environ.get("DJANGO_ALLOW_ASYNC_UNSAFE")
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "1"
    with sync_playwright() as playwright:
        started = playwright.chromium.launch(executable_path=path, args=ARGUMENTS)
        yield started
        started.close()
    if before is None:
        del os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"]


@pytest.fixture
def at(browser, live_server) -> Iterator[Callable[..., Page]]:
    """Open a page as somebody, at a width; whatever the console complains of fails the test.

    `by_form` signs in at the door; else the session is there already, which saves a second each time.
    """
    opened: list[BrowserContext] = []
    complaints: list[str] = []

    allowed = [re.compile("status of 4(12|22)")]  # the browser's words for answers that say what to mend

    def open_as(person, width: int = 360, complaints_allowed=(), by_form=False, **options) -> Page:
        allowed.extend(complaints_allowed)
        context = browser.new_context(
            viewport={"width": width, "height": 800}, base_url=live_server.url, has_touch=width < 700, **options
        )
        opened.append(context)
        context.set_default_timeout(10_000)
        page = context.new_page()
        page.on("console", lambda message: complaints.append(message.text) if message.type == "error" else None)
        page.on("pageerror", lambda error: complaints.append(str(error)))
        if by_form:
            person.set_password(PASSWORD)
            person.save()
            page.goto("/sign-in/")
            page.locator("[name=username]").fill(person.username)
            page.locator("[name=password]").fill(PASSWORD)
            page.get_by_role("button", name="Sign in").click()
            expect(page.get_by_role("heading", name="Which coupling?")).to_be_visible()
            return page
        door = Client()
        door.force_login(person)
        session = door.cookies[settings.SESSION_COOKIE_NAME]
        context.add_cookies([{"name": session.key, "value": session.value, "url": live_server.url}])
        page.goto("/")
        return page

    yield open_as
    for context in opened:
        context.close()
    assert [one for one in complaints if not any(words.search(one) for words in allowed)] == []


@pytest.fixture
def fitted_visit(mechanic, site):
    """An installation begun by the mechanic, its isolation standing."""
    fit = FitFactory(coupling__train__site=site)
    order = WorkOrderFactory(train=fit.coupling.train, isolated=True)
    with recording(by=mechanic, at=NOW):
        return begin_visit(coupling=fit.coupling, kind="installation", on=TODAY, work_order=order)
