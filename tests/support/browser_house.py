"""A house to look at: a real broker, a relay, a week in the journal and a bridge whose page is open."""

from __future__ import annotations

import time
from collections.abc import Callable
from contextlib import AbstractContextManager, ExitStack
from pathlib import Path

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect

from bridge.journal.reader import JournalReader
from bridge.runtime.service import Service
from rules.events import Event
from tests.support.brokers import Broker, free_port, wait_until
from tests.support.cabin import RelayStandIn, shunt, write_cabin
from tests.support.journal_week import DAY, write_week
from tests.support.running_bridge import turning

Open = Callable[..., Page]
TOKEN = "a-token-for-tests-only"
#: What the bench says once nothing waits any more.
STORED = "Sent, and stored by the bridge."
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

    def __init__(self, folder: Path, step: float = 10.0) -> None:
        folder.mkdir(parents=True, exist_ok=True)
        self._running: AbstractContextManager[Service] | None = None
        self.service: Service
        self.broker = Broker(folder / "broker").start()
        with ExitStack() as undo:
            undo.callback(self.broker.stop)
            self._furnish(folder, step)
            undo.pop_all()

    def _furnish(self, folder: Path, step: float) -> None:
        self.port = free_port()
        (folder / "token").write_text(TOKEN)
        page = f'\n[page]\nlisten = "127.0.0.1:{self.port}"\ntoken_file = "token"\ntemperature = "degF"\n'
        self.config = write_cabin(folder, self.broker.port, extra=page + SOUTH)
        self.journal = folder / "revival.db"
        now = time.time()
        for ago, pace, percent in ((400.0, 0.8, 41.0), (40.0, 0.92, 58.0)):  # rounds that are over
            write_week(self.config, now - ago * DAY, 1800.0, over=True, pace=pace, percent=percent)
        write_week(self.config, now, step)
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

    def feed(self, volts: float = 32.04, amps: float = 0.0, fahrenheit: float = 90.0) -> None:
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


#: WCAG 2.2 A and AA as the checker tags its rules.
WCAG = {"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"], "resultTypes": ["violations"]}


def check_access(page: Page) -> None:
    """What an automated checker finds against WCAG 2.2 AA fails the test."""
    found = Axe().run(page, options=WCAG)
    assert found.violations_count == 0, found.generate_report()


def fits(page: Page, height: int) -> None:
    """The four answers end above this line [CSS px], and no word of the danger is cut off."""
    ends = page.locator(".answers > .answer:not(#measured)").evaluate_all(
        "(all) => all.map((one) => one.getBoundingClientRect().bottom + scrollY)"
    )
    assert len(ends) == 4 and max(ends) <= height, ends
    assert page.locator("#safe").evaluate("(one) => one.scrollHeight <= one.clientHeight + 1")


def shoot(page: Page, folder: Path, name: str) -> None:
    """Keep a picture of the whole page."""
    page.screenshot(path=folder / f"{name}.png", full_page=True)
