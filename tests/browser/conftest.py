"""A real Chromium in front of a real bridge on a real broker; what the browser complains of fails the test."""

from __future__ import annotations

import json
import os
import time
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, ExitStack
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from cabin import RelayStandIn, shunt, write_cabin
from playwright.sync_api import Browser, BrowserContext, Page, expect, sync_playwright
from servers import Broker, free_port, need, wait_until
from turning import turning
from week import write_week

from bridge.journal.reader import JournalReader
from bridge.service import Service
from rules.reading import Event

TOKEN = "a-token-for-tests-only"
#: Debian's chromium, without anything that would reach out.
FLAGS = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
#: A bank's state goes out every ten seconds, or at once where it changes in kind: three times that is waited for [ms].
PATIENCE = 30_000
expect.set_options(timeout=PATIENCE)


#: A second bank that nobody has heard from, and whose labels would like to be markup.
SOUTH = """
[[bank]]
id = "south"
strings = 2
blocks = { per_string = 1, cells = 6, capacity = "100 Ah", labels = ["<b>S1</b>", "S2\\"'&"] }
chargers = [ { volts = "16 V", amps = "25 A" } ]

[[bank.meter]]
topic = "cabin/south/volts"
style = "plain"
quantity = "voltage"
unit = "V"
"""


class House:
    """A cabin with broker, relay, a week in its journal, and a bridge that can be stopped and started."""

    def __init__(self, folder: Path) -> None:
        folder.mkdir(parents=True, exist_ok=True)
        self._running: AbstractContextManager[Service] | None = None
        self.service: Service
        self.broker = Broker(folder / "broker").start()
        with ExitStack() as undo:
            undo.callback(self.broker.stop)
            self._furnish(folder)
            undo.pop_all()

    def _furnish(self, folder: Path) -> None:
        self.port = free_port()
        (folder / "token").write_text(TOKEN)
        page = f'\n[page]\nlisten = "127.0.0.1:{self.port}"\ntoken_file = "token"\ntemperature = "degF"\n'
        self.config = write_cabin(folder, self.broker.port, extra=page + SOUTH)
        self.journal = folder / "revival.db"
        write_week(self.config, time.time())
        self.relay = RelayStandIn(self.broker.port)
        self.start()

    @property
    def url(self) -> str:
        """Of the page."""
        return f"http://127.0.0.1:{self.port}"

    def start(self) -> None:
        """Let the bridge run, fed with one round of readings."""
        self._running = turning(self.config)
        self.service = self._running.__enter__()
        wait_until(lambda: self.service.bus.subscribed)
        self.feed()

    def stop(self) -> None:
        """Stop the bridge in good order."""
        if self._running is not None:
            self._running.__exit__(None, None, None)
            self._running = None

    def close(self) -> None:
        """Stop everything."""
        self.stop()
        self.relay.close()
        self.broker.stop()

    def feed(self, volts: float = 32.04, amps: float = 3.5, fahrenheit: float = 90.0) -> None:
        """Two rounds of readings: what a safety rule needs to believe them."""
        for _ in range(2):
            self.broker.publish("cabin/shunt", shunt(time.time(), volts, amps), "-q", "1")
            self.broker.publish("cabin/probe", f"{fahrenheit}", "-q", "1")

    def now(self) -> float:
        """The bridge's own clock [s since the epoch]; what is entered from here on is dated later."""
        return self.service.clock.now()

    def entries(self, kind: str, since: float) -> list[Event]:
        """Hand readings of a kind in the journal; of every kind where none is named."""
        with JournalReader(self.journal) as reader:
            hand = reader.events("north", since, since + 1e6, ["hand"])
        return [event for event in hand if kind in ("", event.detail["kind"])]


@pytest.fixture(scope="package")
def house(tmp_path_factory: pytest.TempPathFactory) -> Iterator[House]:
    """One house for all; tests leave its bridge running."""
    made = House(tmp_path_factory.mktemp("house"))
    yield made
    made.close()


@pytest.fixture(scope="package")
def chromium() -> Iterator[Browser]:
    """One browser for all, each test in a context of its own."""
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=need("chromium"), args=FLAGS)
        yield browser
        browser.close()


Open = Callable[..., Page]


@pytest.fixture
def opened(house: House, chromium: Browser) -> Iterator[Open]:
    """Open a page: `opened("/bench", width=360, dark=True, token=TOKEN)`; its errors fail the test at the end."""
    complaints: list[str] = []
    with ExitStack() as stack:

        def open_page(
            path: str = "/", *, width: int = 1280, dark: bool = False, token: str = TOKEN, **more: Any
        ) -> Page:
            context: BrowserContext = chromium.new_context(
                viewport={"width": width, "height": 800}, color_scheme="dark" if dark else "light", **more
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


#: WCAG 2.2 A and AA as the checker tags its rules.
WCAG = {"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"], "resultTypes": ["violations"]}


def check_access(page: Page) -> None:
    """What an automated checker finds against WCAG 2.2 AA fails the test."""
    found = Axe().run(page, options=WCAG)
    assert found.violations_count == 0, found.generate_report()


@pytest.fixture(scope="package")
def pictures(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Where pictures to look at are kept: the folder named by REVIVAL_PICTURES, else a temporary one."""
    chosen = os.environ.get("REVIVAL_PICTURES")
    folder = Path(chosen) if chosen else tmp_path_factory.mktemp("pictures")
    folder.mkdir(parents=True, exist_ok=True)
    return folder


def shoot(page: Page, folder: Path, name: str) -> None:
    """Keep a picture of the whole page."""
    page.screenshot(path=folder / f"{name}.png", full_page=True)
