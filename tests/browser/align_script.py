"""The alignment script in a page of its own, whose server is gone before the first number is asked for."""

import functools
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any

from playwright.sync_api import Browser, Page

from couplings.engineering.alignment import ReadingSet

STATIC = Path(__file__).resolve().parents[2] / "couplings" / "static"
NAMES = {
    "angles_deg": "angles",
    "readings_mm": "readings",
    "carried_by": "carriedBy",
    "x_mm": "x",
    "swing_radius_mm": "swingRadius",
    "distance_mm": "distance",
    "plane": "plane",
    "surface": "surface",
    "sag_mm": "sag",
    "sag_u_mm": "sagU",
    "bracket": "bracket",
    "u_mm": "u",
    "half": "half",
    "turned": "turned",
    "opposed_mm": "opposed",
    "kind": "kind",
    "name": "name",
}


class _Strict(SimpleHTTPRequestHandler):
    """Files under the site's own policy: no inline script, nothing from elsewhere."""

    def end_headers(self) -> None:
        self.send_header("Content-Security-Policy", "default-src 'none'; script-src 'self'; connect-src 'self'")
        super().end_headers()

    def log_message(self, *_: Any) -> None:
        return


@contextmanager
def script_without_a_server(browser: Browser) -> Iterator[Page]:
    """A page that holds align, typed and survey as `window.asleft`, after its server has been stopped."""
    server = ThreadingHTTPServer(("127.0.0.1", 0), functools.partial(_Strict, directory=str(STATIC)))
    thread = threading.Thread(target=server.serve_forever)
    thread.start()
    context = browser.new_context()
    page = context.new_page()
    try:
        page.goto(f"http://127.0.0.1:{server.server_port}/couplings/align.js")
        page.evaluate(
            """async () => {
                const names = ["align", "typed", "survey"];
                const found = await Promise.all(names.map((name) => import(`/couplings/${name}.js`)));
                window.asleft = Object.assign({}, ...found);
            }"""
        )
    finally:
        server.shutdown()
        server.server_close()
        thread.join()
    try:
        gone = page.evaluate("fetch('/couplings/align.js', {cache: 'no-store'}).then(() => false, () => true)")
        assert gone, "the server must be gone while the script computes"
        yield page
    finally:
        context.close()


def as_script(item: ReadingSet) -> dict[str, Any]:
    """A set of readings by the names of the script."""
    return {name: _plain(getattr(item, field)) for field, name in NAMES.items() if getattr(item, field) is not None}


def _plain(value: Any) -> Any:
    return list(value) if isinstance(value, tuple) else value
