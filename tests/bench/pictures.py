"""Make the pictures of the README: the screens in front of the invented house, by a real browser.

`python -m tests.bench.pictures` writes them into `tests/browser/pictures/`; look at each before it is committed.
"""

from __future__ import annotations

import json
import tempfile
from pathlib import Path

from playwright.sync_api import Browser, sync_playwright

from bridge.cli import main as revival
from tests.support.brokers import need
from tests.support.browser_house import FLAGS, TOKEN, House

FOLDER = Path(__file__).parents[1] / "browser" / "pictures"
#: Name, path, width and height of the screen [CSS px].
SCREENS = (
    ("page", "/?bank=north", 1280, 860),
    ("overview", "/", 390, 640),
    ("bench", "/bench?bank=north", 390, 640),
    ("wall", "/wall?bank=north", 1280, 800),
)


def shoot(browser: Browser, address: str, name: str, width: int, height: int) -> None:
    """One screen, as soon as everything on it is drawn."""
    context = browser.new_context(
        viewport={"width": width, "height": height}, color_scheme="light", service_workers="block"
    )
    keep = json.dumps({"revival.token": TOKEN, "revival.by": "keeper"})
    context.add_init_script(f"for (const [k, v] of Object.entries({keep})) localStorage.setItem(k, v)")
    page = context.new_page()
    page.clock.install(time="2026-11-28T12:00:00") if name == "wall" else None
    page.goto(address)
    if not address.startswith("file:"):
        page.wait_for_selector("html[data-ready=yes]")
        page.wait_for_timeout(1500)
    if name == "bench":
        for text in ("77", "1262", "1255"):
            page.locator("#reading").fill(text)
            if text == "77":
                page.keyboard.press("Enter")
    page.screenshot(path=FOLDER / f"{name}.png")
    context.close()


def main() -> None:
    """Make all of them."""
    FOLDER.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory(prefix="revival-pictures-") as name, sync_playwright() as playwright:
        house = House(Path(name) / "house", step=60.0)
        browser = playwright.chromium.launch(executable_path=need("chromium"), args=FLAGS)
        try:
            for screen, path, width, height in SCREENS:
                shoot(browser, house.url + path, screen, width, height)
            paper = Path(name) / "report.html"
            revival(["report", "--config", str(house.config), "--bank", "north", "--out", str(paper)])
            shoot(browser, paper.as_uri(), "report", 820, 1000)
        finally:
            browser.close()
            house.close()


if __name__ == "__main__":
    main()
