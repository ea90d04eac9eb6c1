"""How fast and how heavy the live page is: ready and moved, on a journal of seven days at one reading a second.

    PYTHONPATH=tests:. python tests/bench/page.py [--step 1] [--rate 4]

Chromium stands on the same machine as bridge and broker, which take their share of the processor from it.
"""

from __future__ import annotations

import argparse
import json
import statistics
import tempfile
import time
from pathlib import Path
from typing import Any

from playwright.sync_api import Browser, CDPSession, Page, sync_playwright

from tests.support.brokers import need
from tests.support.browser_house import FLAGS, TOKEN, House

#: Notes when the first state stands on the page, and when everything does.
WATCHING = """
  window.noted = {};
  const once = (element, name, options) =>
    new MutationObserver(() => (noted[name] ||= performance.now())).observe(element, options);
  document.addEventListener("DOMContentLoaded", () => {
    once(document.getElementById("level"), "answers", { childList: true });
    once(document.documentElement, "ready", { attributeFilter: ["data-ready"] });
  });
"""
#: Presses the buttons in turn and takes the time from each press to the picture after it [ms].
MOVES = """async ([labels, turns]) => {
  const times = [];
  for (let turn = 0; turn < turns; turn += 1) {
    const button = document.querySelector(`#tools [aria-label="${labels[turn % labels.length]}"]`);
    await new Promise((done) => requestAnimationFrame(done));
    const before = performance.now();
    button.click();
    await new Promise((done) => requestAnimationFrame(() => { const c = new MessageChannel();
      c.port1.onmessage = done; c.port2.postMessage(0); }));
    times.push(performance.now() - before);
    await new Promise((done) => setTimeout(done, 30));
  }
  return times;
}"""


def opened(browser: Browser, house: House, rate: float, width: int = 1280) -> tuple[Page, CDPSession, dict[str, float]]:
    """A page in a new context, with nothing cached; its session, and bytes by kind."""
    context = browser.new_context(viewport={"width": width, "height": 800})
    context.add_init_script(WATCHING + f"localStorage.setItem('revival.token', '{TOKEN}')")
    page = context.new_page()
    session = context.new_cdp_session(page)
    session.send("Network.enable")
    session.send("Emulation.setCPUThrottlingRate", {"rate": rate})
    size = {"transferred": 0.0, "unpacked": 0.0}

    def count(what: str, key: str) -> Any:
        def add(event: dict[str, Any]) -> None:
            size[what] += event[key]

        return add

    session.on("Network.loadingFinished", count("transferred", "encodedDataLength"))
    session.on("Network.dataReceived", count("unpacked", "dataLength"))
    page.goto(house.url + "/?bank=north")
    page.wait_for_selector("html[data-ready=yes]")
    return page, session, size


def spread(times: list[float]) -> dict[str, float]:
    """Median, 95th of a hundred, worst [ms]."""
    ordered = sorted(times)
    return {
        "median": round(statistics.median(ordered), 1),
        "p95": round(ordered[round(0.95 * (len(ordered) - 1))], 1),
        "worst": round(ordered[-1], 1),
    }


def measure(house: House, browser: Browser, rate: float) -> dict[str, Any]:
    """Everything about one journal."""
    found: dict[str, Any] = {}
    for name, slower in (("", 1.0), (f"_slowed_{rate:g}x", rate)):
        answers, ready = [], []
        for _ in range(9):
            page, _session, size = opened(browser, house, slower)
            noted = page.evaluate("noted")
            answers.append(noted["answers"])
            ready.append(noted["ready"])
            found["kilobytes"] = {what: round(count / 1000.0, 1) for what, count in size.items()}
            page.context.close()
        found[f"answers_ms{name}"] = round(statistics.median(answers))
        found[f"ready_ms{name}"] = round(statistics.median(ready))
        found[f"ready_least_ms{name}"] = round(min(ready))
        page, _session, _ = opened(browser, house, slower)
        page.evaluate(MOVES, [["Zoom in"], 3])
        found[f"pan_ms{name}"] = spread(page.evaluate(MOVES, [["Earlier", "Later"], 60]))
        found[f"zoom_ms{name}"] = spread(page.evaluate(MOVES, [["Zoom in", "Zoom out"], 60]))
        page.context.close()
    return found


def main() -> None:
    """Make a house, look at it, print what was measured as JSON."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--step", type=float, default=1.0, help="seconds between readings of the made-up week")
    parser.add_argument("--rate", type=float, default=4.0, help="how many times slower the processor is made")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        began = time.monotonic()
        house = House(Path(folder), options.step)
        try:
            journal = house.journal.stat().st_size / 1e6
            browser = playwright.chromium.launch(executable_path=need("chromium"), args=FLAGS)
            made = time.monotonic() - began
            found = {"journal_mb": round(journal), "made_in_s": round(made), **measure(house, browser, options.rate)}
            print(json.dumps(found, indent=1))
            browser.close()
        finally:
            house.close()


if __name__ == "__main__":
    main()
