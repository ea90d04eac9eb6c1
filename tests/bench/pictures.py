"""Make the pictures of the README from the demo: page, wall, bench, status and report; and the board.

`python -m tests.bench.pictures` plays the demo's recorded round twice through the real bridge (about three minutes): up
to the hold, where the screens are looked at by a real browser, and to its end, where every cell is read for the report.
It writes them into `tests/browser/pictures/`, with a word for what they were made of: a test says when a screen has
changed since. Look at each before it is committed.
"""

from __future__ import annotations

import hashlib
import io
import json
import logging
import tempfile
import time
from collections.abc import Iterator
from contextlib import chdir, contextmanager, redirect_stdout
from html import escape
from importlib.resources import files
from pathlib import Path

from playwright.sync_api import Browser, sync_playwright
from rich.console import Console

from bridge.app import running
from bridge.cli import main as revival
from bridge.clock import PacedClock
from bridge.commands.demo import LASTS, Played, demo_cabin, page_port
from bridge.commands.replay import recorded
from bridge.commands.status import folded
from bridge.config import load
from bridge.demo.broker import embedded_broker
from bridge.demo.elsewhere import Login
from bridge.demo.player import Player
from bridge.demo.relay import DemoRelay
from tests.support import made_board
from tests.support.brokers import need
from tests.support.browser_house import FLAGS, TOKEN

TOP = Path(__file__).parents[2]
FOLDER = TOP / "tests/browser/pictures"
MADE_OF = FOLDER / "made-of.json"
#: Screens are looked at in the hold, so many hours after the recording begins [h].
HOLD = 44.0
#: Name, path, width and height of the screen [CSS px].
SCREENS = (
    ("page", "/?bank=north", 1280, 860),
    ("bench", "/bench?bank=north", 390, 640),
    ("wall", "/wall?bank=north", 1280, 800),
)
#: Of the terminal in the picture.
COLUMNS = 104
#: What a picture shows is made of these; `*` as in a shell.
SOURCES = {
    **{
        name: (
            f"bridge/page/static/{page}.html", f"bridge/page/static/{page}.js", "bridge/page/static/common.js",
            "bridge/page/static/page.css", "bridge/words/palette.py", *more,
        )
        for name, page, more in (
            ("page", "watch", ("bridge/page/static/cells.js", "bridge/page/static/chart.js")),
            ("bench", "bench", ()),
            ("wall", "wall", ()),
        )
    },
    "status": ("bridge/commands/status.py", "bridge/words/bank_status.py"),
    "report": ("bridge/report/*.py", "bridge/report/templates/*"),
    "board": ("bridge/fleet/static/*", "bridge/words/palette.py"),
}  # fmt: skip


def made_of(name: str) -> str:
    """A word for everything that a picture shows, other than the bank itself."""
    found = hashlib.sha256()
    for pattern in SOURCES[name]:
        paths = sorted(TOP.glob(pattern))
        assert paths, f"{name}: nothing is called {pattern}"
        for path in paths:
            found.update(path.read_bytes())
    return found.hexdigest()[:16]


@contextmanager
def played(folder: Path, hours: float | None) -> Iterator[tuple[Path, str]]:
    """The demo's round, played up to this hour or whole; cabin file and address of the page while it stands there."""
    folder.mkdir()
    (folder / "token").write_text(TOKEN)
    with embedded_broker(folder) as port:
        config = demo_cabin(folder, "127.0.0.1", port, page_port())
        config.write_text(config.read_text() + 'token_file = "token"\n')
        loaded = load(config)
        assert loaded.cabin.page is not None, "the page extra is not installed"
        messages = list(recorded(Path(str(files("bridge.demo").joinpath("round.jsonl.gz")))))
        begin, end = messages[0].at, messages[-1].at
        messages = [message for message in messages if hours is None or message.at < begin + hours * 3600.0]
        clock = PacedClock(begin, (end - begin) / LASTS)
        nobody = Login(None, None)
        with running(loaded, clock) as service:
            relay = DemoRelay("127.0.0.1", port, loaded.cabin.relays[0], nobody)
            player = Player("127.0.0.1", port, messages, clock, nobody)
            shown = Played(service, player, relay, clock, (end - begin) / LASTS)
            try:
                shown.run(Console(file=io.StringIO()))
                yield config, f"http://127.0.0.1:{loaded.cabin.page.port}"
            finally:
                player.close()
                relay.close()
                shown.performance.stop()


def shoot(browser: Browser, address: str, name: str, width: int, height: int, at: float | None = None) -> None:
    """One screen, as soon as everything on it is drawn; at the moment of the recording, not of today."""
    context = browser.new_context(
        viewport={"width": width, "height": height}, color_scheme="light", service_workers="block"
    )
    keep = json.dumps({"revival.token": TOKEN, "revival.by": "keeper"})
    context.add_init_script(f"for (const [k, v] of Object.entries({keep})) localStorage.setItem(k, v)")
    page = context.new_page()
    if at is not None:
        page.clock.install(time=at)
    page.goto(address)
    if address.startswith("http:"):
        page.wait_for_selector("html[data-ready=yes]")
        page.wait_for_timeout(1500)
    if name == "bench":
        page.locator("#reading").fill("77")
        page.keyboard.press("Enter")
        for text in ("1262", "1255"):  # four digits are taken by themselves
            page.locator("#reading").fill(text)
    page.screenshot(path=FOLDER / f"{name}.png", full_page=name == "status")
    context.close()


def told(*arguments: str) -> str:
    """What a command prints."""
    with redirect_stdout(io.StringIO()) as out:
        revival([*arguments])
    return out.getvalue()


def terminal(text: str) -> str:
    """A page that shows text as a terminal does."""
    style = "margin:0;padding:18px 22px;background:#14171a;color:#e6e4de;font:15px/1.45 monospace;white-space:pre-wrap"
    return f'<!doctype html><meta charset="utf-8"><body style="margin:0"><pre style="{style}">{escape(text)}</pre>'


#: A cell of the demo's bank that stays behind, and by how much its gravity does [1].
BEHIND = ("N6.2", 0.062)


def sheet() -> list[str]:
    """Every cell of the demo's bank, as somebody reads it after the rest."""
    cells = [f"N{block}.{cell}" for block in range(1, 9) for cell in range(1, 4)]
    values = {cell: 1.247 + 0.003 * ((5 * number) % 6) for number, cell in enumerate(cells)}
    values[BEHIND[0]] -= BEHIND[1]
    return [f"{cell}={value:.3f}" for cell, value in values.items()]


def board(browser: Browser, folder: Path) -> None:
    """Shoot the board of many cabins, from its folder."""
    now = time.time()
    page = made_board.write(folder, made_board.invented(now), now)
    shoot(browser, page.as_uri(), "board", 1280, 700)


def main() -> None:
    """Make all of them."""
    logging.basicConfig(level=logging.ERROR)
    FOLDER.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory(prefix="revival-pictures-") as name, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=need("chromium"), args=FLAGS)
        with played(Path(name) / "hold", HOLD) as (config, address):
            at = json.loads(told("status", "--config", str(config), "--json"))["banks"]["north"]["at"]
            for screen, path, width, height in SCREENS:
                shoot(browser, address + path, screen, width, height, at)
            shown = Path(name) / "status.html"
            with chdir(config.parent):
                lines = [folded(line, COLUMNS) for line in told("status").splitlines()]
            shown.write_text(terminal("\n".join(["$ revival status", *lines])))
            shoot(browser, shown.as_uri(), "status", 1000, 100)
        with played(Path(name) / "whole", None) as (config, _):
            read = ["record", "gravity", *sheet(), "--temperature", "77F", "--sure", "--by", "keeper"]
            told(*read, "--config", str(config))
            paper = Path(name) / "report.html"
            told("report", "--config", str(config), "--output", str(paper))
            shoot(browser, paper.as_uri(), "report", 820, 1000)
            board(browser, Path(name))
        browser.close()
    MADE_OF.write_text(json.dumps({name: made_of(name) for name in SOURCES}, indent=1) + "\n")


if __name__ == "__main__":
    main()
