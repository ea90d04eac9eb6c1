"""What a person sees who only looks: it is live, it is drawn, it is readable, and nothing in it can be made to run."""

from __future__ import annotations

from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from conftest import House, Open, shoot
from playwright.sync_api import Page, expect

#: WCAG 2.2 A and AA as the checker tags its rules.
WCAG = {"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"], "resultTypes": ["violations"]}
INK = """(canvas) => {
  const data = canvas.getContext("2d").getImageData(0, 0, canvas.width, canvas.height).data;
  const seen = new Set();
  let painted = 0;
  for (let i = 0; i < data.length; i += 4) {
    if (data[i + 3] < 200) continue;
    painted += 1;
    seen.add((data[i] << 16) | (data[i + 1] << 8) | data[i + 2]);
  }
  return [painted, seen.size];
}"""


def drawn(page: Page, panel: int) -> tuple[int, int]:
    """Pixels with ink, and their colours, of the fullest canvas of a panel."""
    found = [canvas.evaluate(INK) for canvas in page.locator(".panel").nth(panel).locator("canvas").all()]
    painted, shades = max(found)
    return painted, shades


def test_the_four_answers_stand_in_their_order_and_name_what_the_bridge_says(house: House, opened: Open) -> None:
    page = opened()
    questions = page.locator(".answers h2").all_inner_texts()
    assert questions == ["Is it safe?", "Where is it?", "How long?", "What should I do now?"]
    state = house.service.latest["north"]
    expect(page.locator("#phase")).to_contain_text(state.phase)
    expect(page.locator("#next")).to_have_text(house.service.latest["north"].next_step)
    expect(page.locator("#hours")).to_contain_text("about")


def test_a_new_reading_arrives_without_asking_in_two_browsers(house: House, opened: Open) -> None:
    first, second = opened(), opened(width=360)
    house.feed(volts=31.92, amps=4.2)
    for page in (first, second):
        expect(page.locator("#figures")).to_contain_text("2.660 V")
        expect(page.locator("#figures")).to_contain_text("4.2 A")


def test_the_curves_are_drawn_and_not_only_framed(opened: Open) -> None:
    page = opened()
    assert page.locator(".panel").count() == 4
    for number in range(4):
        painted, shades = drawn(page, number)
        assert painted > 300, f"panel {number} holds {painted} pixels"
        assert shades > 3, f"panel {number} holds {shades} colours"
    assert "Phases: waking" in page.locator("#charts").get_attribute("aria-label")
    assert page.locator("#table tbody tr").count() > 20


def test_the_curve_zooms_by_button_by_keyboard_and_by_dragging(opened: Open) -> None:
    page = opened()
    window = "document.querySelector('#tools [aria-pressed=true]')?.textContent"
    assert page.evaluate(window) == "whole round"
    with page.expect_response(lambda answer: "/api/curve/" in answer.url) as finer:
        page.get_by_role("button", name="Show 6 hours").focus()
        page.keyboard.press("Enter")
    assert finer.value.json()["width"] <= 60
    assert page.evaluate(window) == "6 hours"
    page.locator(".panel").first.scroll_into_view_if_needed()
    box = page.locator(".panel").first.bounding_box()
    assert box is not None
    with page.expect_response(lambda answer: "/api/curve/" in answer.url) as closer:
        page.mouse.move(box["x"] + 200, box["y"] + 60)
        page.mouse.down()
        page.mouse.move(box["x"] + 400, box["y"] + 60, steps=4)
        page.mouse.up()
    assert closer.value.json()["until"] - closer.value.json()["since"] < 6 * 3600


@pytest.mark.parametrize(("path", "width", "dark"), [("/", 360, False), ("/", 1600, True), ("/bench", 360, True),
                                                     ("/bench", 1280, False)])  # fmt: skip
def test_both_pages_pass_the_accessibility_checker_and_fit_the_width(
    opened: Open, pictures: Path, path: str, width: int, dark: bool
) -> None:
    page = opened(path, width=width, dark=dark)
    for sheet in page.locator("details").all():
        sheet.evaluate("(element) => { element.name = ''; element.open = true; }")
    found = Axe().run(page, options=WCAG)
    assert found.violations_count == 0, found.generate_report()
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    shoot(page, pictures, f"{'bench' if 'bench' in path else 'watch'}-{width}-{'dark' if dark else 'light'}")


def test_everything_is_reached_by_keyboard_beginning_with_a_way_past_the_head(opened: Open) -> None:
    page = opened()
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "Skip to the bank"
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.id") == "main"
    reached = set()
    for _ in range(25):
        page.keyboard.press("Tab")
        reached.add(
            page.evaluate("document.activeElement.getAttribute('aria-label') || document.activeElement.textContent")
        )
    assert {"Show whole round", "Zoom in", "Later", "The same as a table"} <= reached


def test_levels_and_phases_are_told_in_words_where_colour_tells_them(opened: Open) -> None:
    page = opened()
    assert page.locator("#level").inner_text()
    assert page.locator("#track li").all_inner_texts() == [] or page.locator("#track [aria-current=step]").count() == 1
    words = page.locator("#key li").all_inner_texts()
    assert {"waking", "bulk", "holding", "charging stands still"} <= set(words)
    for flag in page.locator("#flags li").all():
        assert flag.locator("p").first.inner_text()


def test_f47_hostile_text_in_names_and_notes_is_shown_as_text(house: House, opened: Open) -> None:
    hostile = "<img src=x onerror=\"document.title='owned'\"><script>document.title='owned'</script>"
    page, bench = opened(), opened("/bench")
    since = house.now()
    bench.evaluate("localStorage.setItem('revival.by', '<b>keeper</b>')")
    bench.locator("summary", has_text="Volts, amps").click()
    bench.locator("#form-note textarea").fill(hostile)
    bench.locator("#form-note button.first").click()
    expect(bench.locator("#queue")).to_contain_text("stored")
    assert house.entries("note", since)[0].detail["note"] == hostile
    page.reload()
    page.wait_for_selector("html[data-ready=yes]")
    expect(page.locator("#log")).to_contain_text("<script>")
    bench.locator("summary", has_text="Entered so far").click()
    expect(bench.locator("#entries")).to_contain_text("<b>keeper</b>")
    for each in (page, bench):
        assert each.locator("main img, main script, #entries b").count() == 0
        assert "owned" not in each.title()


def weight(page: Page, url: str) -> tuple[int, list[str]]:
    """Bytes of everything a page loads, uncompressed, and the addresses it asks for."""
    sizes: list[int] = []
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.on("response", lambda answer: sizes.append(0 if "/api/news" in answer.url else len(answer.body())))
    page.goto(url)
    page.wait_for_selector("html[data-ready=yes]")
    return sum(sizes), asked


def test_the_page_weighs_under_400_kb_and_asks_nobody_but_its_own_bridge(house: House, opened: Open) -> None:
    size, asked = weight(opened("/bench"), house.url + "/")
    assert size < 400_000
    assert {address.split("/")[2] for address in asked} == {f"127.0.0.1:{house.port}"}


def test_a_week_moved_to_and_fro_stays_drawn_and_does_not_pile_up_memory(opened: Open) -> None:
    page = opened()
    page.evaluate(
        """async () => {
          const press = (label) => document.querySelector(`#tools [aria-label="${label}"]`).click();
          for (let turn = 0; turn < 28; turn += 1) {
            press(["Earlier", "Later", "Zoom in", "Zoom out"][turn % 4]);
            await new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)));
          }
        }"""
    )
    painted, _ = drawn(page, 0)
    assert painted > 300
    assert page.evaluate("performance.memory.usedJSHeapSize") < 100e6
