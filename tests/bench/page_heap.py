"""Whether the live page's memory stays flat: four hours of the page's own clock, a state every second of it.

    PYTHONPATH=tests:. python tests/bench/page_heap.py [--hours 4] [--step 10]

The bridge speaks once (its state, its entries, its pulse); from there on the page is told the same with changed
figures every second and a pulse every five, while all of its timers (curve, days, watch over the stream) go by the
same hastened clock and fetch from the real bridge. Four hours take some minutes.
"""

from __future__ import annotations

import argparse
import json
import tempfile
import time
import urllib.request
from pathlib import Path
from typing import Any

from playwright.sync_api import CDPSession, Page, sync_playwright

from tests.support.brokers import need
from tests.support.browser_house import FLAGS, House

#: A stream that says what it is made to say, and is open.
SPOKEN = """
  window.EventSource = class extends EventTarget {
    constructor() { super(); this.readyState = 1; window.stream = this; }
    close() {}
  };
  window.EventSource.OPEN = 1;
  window.EventSource.CLOSED = 2;
  window.speak = (name, told) => stream.dispatchEvent(new MessageEvent(name, { data: JSON.stringify(told) }));
"""
#: A state each second and a pulse each five; some figure of each differs from the one before.
EVERY_SECOND = """([state, pulse]) => {
  let gone = 0;
  window.updates = 0;
  setInterval(() => {
    gone += 1;
    const at = state.at + gone;
    const freshness = Object.fromEntries(Object.keys(state.freshness).map((name, n) => [name, (gone + 7 * n) % 60]));
    speak("bank", {
      ...state, at, freshness,
      current: 3.5 + (gone % 70) / 100,
      volts_per_cell: 2.6 + (gone % 90) / 1000,
      temperature: 33 + (gone % 300) / 100,
      charge_returned: 212 + gone / 1000,
    });
    if (gone % 5 === 0) speak("pulse", { ...pulse, at, turned_at: at });
    window.updates += 1;
  }, 1000);
}"""
#: So much of the page's clock passes in one go [s]; then what was fetched may arrive.
STRIDE = 60


def heap(session: CDPSession) -> float:
    """Bytes in use after a collection."""
    session.send("HeapProfiler.collectGarbage")
    session.send("HeapProfiler.collectGarbage")
    return float(session.send("Runtime.getHeapUsage")["usedSize"])


def told(house: House) -> dict[str, Any]:
    """What the bridge says to a browser that begins to listen: the newest of each kind, of the first bank."""
    found: dict[str, Any] = {}
    with urllib.request.urlopen(f"{house.url}/api/news", timeout=30) as stream:
        while {"bank", "hand", "pulse"} - found.keys():
            line = stream.readline().decode().strip()
            if line.startswith("event: "):
                body = json.loads(stream.readline().decode().removeprefix("data: "))
                if body.get("bank", "north") == "north":
                    found[line.removeprefix("event: ")] = body
    return found


def measure(page: Page, session: CDPSession, said: dict[str, Any], hours: float) -> dict[str, Any]:
    """Heap along the way, and how it goes on in the second half."""
    page.evaluate("([bank, hand]) => { speak('bank', bank); speak('hand', hand); }", [said["bank"], said["hand"]])
    page.evaluate("(pulse) => speak('pulse', pulse)", said["pulse"])
    page.clock.run_for(5000)
    page.wait_for_selector("html[data-ready=yes]")
    page.evaluate(EVERY_SECOND, [said["bank"], said["pulse"]])
    began = time.monotonic()
    curve, gone, whole = [], 0, int(hours * 3600)
    while gone < whole:
        page.clock.run_for(1000 * STRIDE)
        gone += STRIDE
        if gone % (whole // 16) < STRIDE:
            used = heap(session)
            counts = session.send("Memory.getDOMCounters")
            curve.append([round(gone / 3600, 2), round(used / 1e6, 3), counts["nodes"], counts["jsEventListeners"]])
    late = curve[len(curve) // 2 :]
    middle = sum(at for at, *_ in late) / len(late)
    mean = sum(size for _, size, *_ in late) / len(late)
    spread = sum((at - middle) ** 2 for at, *_ in late)
    slope = sum((at - middle) * (size - mean) for at, size, *_ in late) / spread
    return {
        "updates": page.evaluate("updates"),
        "took_s": round(time.monotonic() - began),
        "hours_heap_mb_nodes_listeners": curve,
        "second_half_kb_per_hour": round(1000 * slope, 1),
        "news": page.locator("#news").inner_text(),
    }


def main() -> None:
    """Make a house, watch it for so long, print what was measured as JSON."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--hours", type=float, default=4.0, help="of the page's own clock")
    parser.add_argument("--step", type=float, default=10.0, help="seconds between readings of the made-up week")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        house = House(Path(folder), options.step)
        try:
            said = told(house)
            browser = playwright.chromium.launch(executable_path=need("chromium"), args=FLAGS)
            page = browser.new_context(viewport={"width": 1280, "height": 800}).new_page()
            page.clock.install()
            page.add_init_script(SPOKEN)
            session = page.context.new_cdp_session(page)
            page.goto(house.url + "/?bank=north")
            page.wait_for_function("window.stream && document.getElementById('bank').textContent")
            print(json.dumps(measure(page, session, said, options.hours)))
            browser.close()
        finally:
            house.close()


if __name__ == "__main__":
    main()
