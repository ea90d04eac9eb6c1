"""At the shed: no signal, the browser killed in between; a whole sheet is taken and arrives when the bridge is back."""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from playwright.sync_api import BrowserContext, Page, expect, sync_playwright

from tests.support.brokers import need, wait_until
from tests.support.browser_house import FLAGS, PATIENCE, STORED, TOKEN, House


@contextmanager
def telephone(folder: Path) -> Iterator[BrowserContext]:
    """One browser with its own memory on disk; at the end it is closed as a whole."""
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch_persistent_context(
            folder, executable_path=need("chromium"), args=FLAGS, viewport={"width": 360, "height": 640}
        )
        browser.set_default_timeout(PATIENCE)
        yield browser
        browser.close()


def bench(browser: BrowserContext, house: House) -> Page:
    page = browser.new_page()
    page.goto(house.url + "/bench?bank=north")
    page.wait_for_selector("html[data-ready=yes]")
    return page


def test_a_sheet_taken_without_a_signal_survives_the_browser_and_arrives_once(tmp_path: Path) -> None:
    house = House(tmp_path / "house", step=600.0)
    try:
        with telephone(tmp_path / "phone") as browser:
            page = bench(browser, house)
            keep = json.dumps({"revival.token": TOKEN, "revival.by": "keeper"})
            page.evaluate(f"for (const [k, v] of Object.entries({keep})) localStorage.setItem(k, v)")
            page.evaluate("navigator.serviceWorker.ready.then(() => true)")
        house.stop()
        since = house.now()
        with telephone(tmp_path / "phone") as browser:
            page = bench(browser, house)  # nobody listens there now
            page.locator("#reading").fill("77")
            page.keyboard.press("Enter")
            for value in range(1250, 1256):
                page.locator("#reading").fill(str(value))
            expect(page.locator("#reading-label")).to_have_text("Block N3, cell 1")
        with telephone(tmp_path / "phone") as browser:
            page = bench(browser, house)
            expect(page.locator("#reading-label")).to_have_text("Block N3, cell 1")  # the draft is there
            for value in range(1256, 1262):
                page.locator("#reading").fill(str(value))
            page.locator("#send-gravity").click()
            expect(page.locator("#queue")).to_contain_text("1 entry waits to be sent. No connection.")
        house.start()
        with telephone(tmp_path / "phone") as browser:
            page = bench(browser, house)
            expect(page.locator("#queue")).to_contain_text(STORED)
            wait_until(lambda: len(house.entries("gravity", since)) == 1, 30.0, "the sheet in the journal")
            (entry,) = house.entries("gravity", since)
            values = entry.detail["values"]
            assert isinstance(values, dict)
            assert list(values.values()) == [round(1.250 + 0.001 * number, 3) for number in range(12)]
            assert entry.detail["by"] == "keeper"
    finally:
        house.close()
