"""A real Chromium in front of a real bridge on a real broker; what the browser complains of fails the test."""

from __future__ import annotations

import json
import os
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, sync_playwright

from tests.support.brokers import need
from tests.support.browser_house import FLAGS, PATIENCE, TOKEN, House, Open


@pytest.fixture(scope="module")
def house(tmp_path_factory: pytest.TempPathFactory) -> Iterator[House]:
    """One house for the tests of a file; they leave its bridge running."""
    made = House(tmp_path_factory.mktemp("house"))
    yield made
    made.close()


@pytest.fixture(scope="module")
def chromium() -> Iterator[Browser]:
    """One browser for the tests of a file, each in a context of its own; its loop must not outlive them."""
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=need("chromium"), args=FLAGS)
        yield browser
        browser.close()


@pytest.fixture
def opened(house: House, chromium: Browser) -> Iterator[Open]:
    """Open a page: `opened("/bench", width=360, dark=True, token=TOKEN)`; its errors fail the test at the end."""
    complaints: list[str] = []
    with ExitStack() as stack:

        def open_page(
            path: str = "/?bank=north", *, width: int = 1280, dark: bool = False, token: str = TOKEN, **more: Any
        ) -> Page:
            context: BrowserContext = chromium.new_context(
                viewport={"width": width, "height": 800},
                color_scheme="dark" if dark else "light",
                service_workers="block",  # what is kept would hide what is lost on the way
                **more,
            )
            stack.callback(context.close)
            keep = json.dumps({"revival.token": token, "revival.by": "keeper"} if token else {})
            context.set_default_timeout(PATIENCE)
            context.add_init_script(f"for (const [k, v] of Object.entries({keep})) localStorage.setItem(k, v)")
            page = context.new_page()
            page.on("pageerror", lambda error: complaints.append(str(error)))
            page.on("dialog", lambda dialog: complaints.append(f"dialog: {dialog.message}"))
            page.on("console", lambda message: _complain(message.text, complaints))
            page.goto(house.url + path)
            page.wait_for_selector("html[data-ready=yes]")
            return page

        yield open_page
    assert complaints == []


def _complain(text: str, complaints: list[str]) -> None:
    """Keep what the policy or a script says; lost connections and refusals are what some tests are about."""
    if "Content Security Policy" in text or "Uncaught" in text:
        complaints.append(text)


@pytest.fixture(scope="session")
def pictures(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Where pictures to look at are kept: the folder named by REVIVAL_PICTURES, else a temporary one."""
    chosen = os.environ.get("REVIVAL_PICTURES")
    folder = Path(chosen) if chosen else tmp_path_factory.mktemp("pictures")
    folder.mkdir(parents=True, exist_ok=True)
    return folder
