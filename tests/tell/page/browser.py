"""A real browser: Debian's Chromium, driven by Playwright, as a phone with touch or as a desktop."""

from __future__ import annotations

import contextlib
import os
import re
import shutil
from collections.abc import Iterator
from typing import Any

import pytest
from playwright.sync_api import Browser, ConsoleMessage, Page, sync_playwright

from tests.tell.page.served import KEY

CHROMIUM = shutil.which("chromium") or "/usr/bin/chromium"
ARGUMENTS = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
PHONE: dict[str, Any] = {
    "viewport": {"width": 390, "height": 844},
    "device_scale_factor": 2,
    "has_touch": True,
    "is_mobile": True,
}
DESKTOP: dict[str, Any] = {"viewport": {"width": 1280, "height": 860}}
SIZES = {"phone": PHONE, "desktop": DESKTOP}


@contextlib.contextmanager
def chromium() -> Iterator[Browser]:
    """The browser, or a skipped test; with FACEMARK_TEST_ALL set, a failed one."""
    if not os.access(CHROMIUM, os.X_OK):
        if os.environ.get("FACEMARK_TEST_ALL"):
            pytest.fail("FACEMARK_TEST_ALL is set, and there is no chromium")
        pytest.skip("there is no chromium; on Debian: apt install chromium")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
        yield browser
        browser.close()


@contextlib.contextmanager
def opened(browser: Browser, address: str, size: str, **more: Any) -> Iterator[Page]:
    """A fresh visitor on the page; any fault of the page's script, and any refused load, fails the test."""
    context = browser.new_context(**SIZES[size], accept_downloads=True, **more)
    page = context.new_page()
    page.set_default_timeout(60_000)
    faults: list[str] = []
    asked: list[str] = []
    page.on("pageerror", lambda error: faults.append(str(error)))
    page.on("console", lambda said: faults.append(said.text) if _is_fault(said) else None)
    page.on("request", lambda request: asked.append(request.url))
    page.goto(f"{address}/#k={KEY}")
    yield page
    context.close()
    assert not faults
    outside = [url for url in asked if not url.startswith((address, "blob:"))]
    assert not outside, "the page asks nobody else"


def _is_fault(said: ConsoleMessage) -> bool:
    """Refusals (409, 422) and what a test cuts off itself are logged by the browser; all else is a fault."""
    expected = re.search("status of (409|422)|net::ERR_FAILED", said.text)
    return said.type == "error" and expected is None


def begin(page: Page, *, player: str, balls: int = 3, tag_mm: str | None = "23.9") -> None:
    """A new player, a new set, tags as scale (or the page's own choice); ends on the photo screen."""
    page.get_by_label("Nickname").fill(player)
    page.get_by_role("button", name="Go on").click()
    if tag_mm is not None:
        page.get_by_role("button", name="Tags, side told").click()
        page.get_by_label("Side of a tag").fill(tag_mm)
    way = "one fewer" if balls < 5 else "one more"
    for _ in range(abs(5 - balls)):  # 5 is what it starts with
        page.get_by_role("button", name=f"Balls before the photo: {way}").click()
    page.get_by_role("button", name="Start a set").click()
    page.get_by_role("heading", name="Photograph the face").wait_for()


def choose(page: Page, photo: str) -> None:
    """Choose a photo, as from the gallery."""
    page.get_by_label("Choose a photo").set_input_files(photo)
