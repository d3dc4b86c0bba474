"""A real browser for the tests: the Chromium of the system, driven by playwright, without a network.

Tests that take the fixture `page` are skipped with a reason where there is no browser, unless the environment variable
`ROLLWRIGHT_BROWSER` is `required`; it may also be the path of the browser.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

ASKED = "ROLLWRIGHT_BROWSER"
NAMES = ("chromium", "chromium-browser", "google-chrome", "chrome")
FLAGS = (
    "--no-sandbox",  # where the tests run as root, as in a container
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--force-color-profile=srgb",
    "--font-render-hinting=none",
)


def browser_path() -> str | None:
    """Return the path of the browser to test in; None if there is none."""
    asked = os.environ.get(ASKED, "")
    if asked not in ("", "required"):
        return asked
    return next((path for path in map(shutil.which, NAMES) if path), None)


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """A browser that runs as long as the tests of this process."""
    path = browser_path()
    required = bool(os.environ.get(ASKED))
    try:
        from playwright.sync_api import sync_playwright
    except ImportError:
        if required:
            raise
        pytest.skip("no browser tests: playwright is not installed")
    if path is None:
        if required:
            pytest.fail("a browser is required, and there is none: install Debian's package chromium")
        pytest.skip("no browser tests: there is no Chromium; install Debian's package chromium")
    with sync_playwright() as playwright:
        running = playwright.chromium.launch(executable_path=path, args=list(FLAGS))
        yield running
        running.close()


@pytest.fixture
def page(browser: Browser) -> Iterator[Page]:
    """An empty page in a profile of its own; whatever it asks of a network fails the test."""
    context = browser.new_context(offline=True)
    page = context.new_page()
    asked: list[str] = []
    page.on("request", lambda request: None if _is_local(request.url) else asked.append(request.url))
    yield page
    context.close()
    assert asked == [], "the page asks for something from outside"


def _is_local(url: str) -> bool:
    return url.startswith(("file:", "data:", "about:", "blob:"))
