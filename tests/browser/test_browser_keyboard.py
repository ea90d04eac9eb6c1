"""The keyboard alone: every act of a bank's page and of the bench; each control has a name and shows its focus."""

from __future__ import annotations

import re

from playwright.sync_api import Page, expect

from tests.support.brokers import wait_until
from tests.support.browser_house import STORED, House, Open

#: The name of what has the focus, whether something covers it, and how the ring around it stands out from its ground.
FOCUSED = """() => {
  const one = document.activeElement;
  const label = one.labels && one.labels.length ? one.labels[0] : null;
  const name = one.getAttribute("aria-label") || (label && label.textContent) || one.textContent;
  const box = one.getBoundingClientRect();
  const [x, y] = [box.x + box.width / 2, box.y + Math.min(box.height, 40) / 2];
  const hit = document.elementFromPoint(x, y);
  const pen = document.createElement("canvas").getContext("2d", {willReadFrequently: true});
  const light = (colour) => {
    pen.fillStyle = colour;
    pen.fillRect(0, 0, 1, 1);
    const [r, g, b] = [...pen.getImageData(0, 0, 1, 1).data].map((part) => part / 255)
      .map((part) => part <= 0.04045 ? part / 12.92 : ((part + 0.055) / 1.055) ** 2.4);
    return 0.2126 * r + 0.7152 * g + 0.0722 * b;
  };
  let ground = one.parentElement;
  while (ground && getComputedStyle(ground).backgroundColor === "rgba(0, 0, 0, 0)") ground = ground.parentElement;
  const ring = getComputedStyle(one);
  const [dark, pale] = [light(ring.outlineColor), light(getComputedStyle(ground || document.body).backgroundColor)]
    .sort((a, b) => a - b);
  return {
    name: name.trim().replace(/\\s+/g, " "),
    at: one === document.body ? "nowhere" : one.id || one.className || one.tagName,
    width: ring.outlineStyle === "none" ? 0 : parseFloat(ring.outlineWidth),
    contrast: (pale + 0.05) / (dark + 0.05),
    covered: !(hit && (one.contains(hit) || hit.contains(one) || (label && label.contains(hit)))),
  };
}"""
#: Contrast of a focus ring with what it lies on (WCAG 2.2, 1.4.11 and 2.4.13).
RING = 3.0
#: No page has more controls than this before the one that is looked for.
FAR = 90


def tab(page: Page, name: str, *, whole: bool = False) -> None:
    """Press Tab until the control whose name begins so, or is this, has the focus.

    Whatever has it on the way has a name and a ring, and is not covered. Behind the page's end its begin follows.
    """
    for _ in range(FAR):
        page.keyboard.press("Tab")
        found = page.evaluate(FOCUSED)
        if found["at"] == "nowhere":
            continue
        assert found["name"] and found["width"] >= 2.0 and found["contrast"] >= RING and not found["covered"], found
        if found["name"] == name or (not whole and found["name"].startswith(name)):
            return
    raise AssertionError(f"Tab never comes to {name}")


def press(page: Page, *names: str) -> None:
    """Come to each by Tab, and press Enter."""
    for name in names:
        tab(page, name)
        page.keyboard.press("Enter")


def write(page: Page, name: str, text: str) -> None:
    """Come to a field by Tab, and write into it."""
    tab(page, name, whole=True)
    page.keyboard.type(text)


def act(page: Page, words: str, sure: str) -> None:
    """Give an act: open it, say that one is sure, do it."""
    press(page, words)
    expect(page.locator("#ask")).to_be_visible()
    tab(page, sure)
    page.keyboard.press("Space")
    press(page, words)
    expect(page.locator("#ask")).to_be_hidden()


def named(page: Page) -> None:
    """What a screen reader is told of every control has a name, and no two buttons have the same."""
    for sheet in page.locator("details").all():
        sheet.evaluate("(element) => { element.name = ''; element.open = true; }")
    told = page.locator("body").aria_snapshot()
    kind = r"- '?(button|link|textbox|checkbox|combobox|dialog|form)\b"
    assert not re.findall(kind + r"(?: \[[^\]]*\])*:?$", told, re.MULTILINE), "a control without a name"
    buttons = re.findall(r'- \'?button ("[^"]+")', told)
    assert len(buttons) > 10 and sorted(set(buttons)) == sorted(buttons)


def test_a_bank_s_page_is_worked_by_keyboard_alone(house: House, opened: Open) -> None:
    page = opened()
    since = house.now()
    press(page, "All of it")
    expect(page.locator("#then li").first).to_be_visible()
    press(page, "I looked in", "Take it back")
    wait_until(lambda: len(house.entries("note", since)) == 2, 30.0, "the look round, taken back")
    press(page, "Show 6 hours", "Earlier", "Later", "Zoom in", "Zoom out", "earlier rounds", "The same as a table")
    expect(page.locator("#table")).to_be_visible()
    press(page, "volts", "Sheet against sheet")
    expect(page.locator("#sheets-table")).to_be_visible()
    named(page)
    house.feed(fahrenheit=112.0)
    reset = page.get_by_role("button", name="Reset the trip")
    expect(reset).to_contain_text("Reset the trip: not yet")
    expect(reset).to_be_disabled()

    def cooled() -> bool:
        house.feed(fahrenheit=90.0)
        return not house.service.engine.memories["north"].pending

    wait_until(cooled, 30.0, "the acid is cool")
    expect(reset).to_be_enabled()
    act(page, "Reset the trip", "I have been there")
    expect(page.locator("#act-note")).to_contain_text("reset: done")
    # Reset gives way to resume, and the focus with it.
    expect(page.get_by_role("button", name="Resume charging")).to_be_focused()
    page.keyboard.press("Shift+Tab")
    act(page, "Resume charging", "Nobody is at the posts")
    expect(page.locator("#act-note")).to_contain_text("resume: done")
    house.feed()
    assert house.relay.wait_for(True, 60.0)


def test_the_bench_is_worked_by_keyboard_alone(house: House, opened: Open) -> None:
    page = opened("/bench")
    queue, since = page.locator("#queue"), house.now()
    write(page, "How warm is the acid? [°F]", "77")
    page.keyboard.press("Enter")
    page.keyboard.type("12501255")  # four digits are taken by themselves
    expect(page.locator("#taken")).to_have_text("N1.2 1.255")
    press(page, "Send the sheet")
    expect(queue).to_contain_text(STORED)
    press(page, "Take back the last sheet")
    # What is pressed twice by accident takes nothing back.
    expect(page.get_by_role("button", name="Leave it")).to_be_focused()
    press(page, "Take it back")
    wait_until(lambda: len(house.entries("gravity", since)) == 2, 30.0, "the sheet, taken back")
    press(page, "Seen in a cell", "Take back the last sight")
    expect(page.locator("#failed")).to_contain_text("no seen entry to take back")
    page.locator("#failed button").first.scroll_into_view_if_needed()
    press(page, "Drop it")
    press(page, "Volts, amps, charger, note")
    write(page, "Note", "the fan runs")
    press(page, "Keep the note", "Take back the last note")
    wait_until(lambda: len(house.entries("note", since)) == 2, 30.0, "the note, taken back")
    press(page, "Start checklist")
    for line in page.locator("#checks label").all_text_contents():
        tab(page, " ".join(line.split()))
        page.keyboard.press("Space")
    press(page, "Confirm the whole list")
    # The relay is closed and the volts stand high: nobody can have walked round a bank that is switched off.
    expect(page.locator("#act-note")).to_contain_text("checklist: refused. the start checklist cannot be so")
    press(page, "The round")
    press(page, "Finish the round")
    tab(page, "The round is to end")
    page.keyboard.press("Space")
    press(page, "Finish the round")
    # Before the hold is complete it is asked back, and said twice.
    expect(page.locator("#ask-title")).to_have_text("Finish the round all the same")
    tab(page, "I know that, and it is meant")
    page.keyboard.press("Space")
    press(page, "Finish the round all the same")
    expect(page.locator("#act-note")).to_contain_text("finish: done")
    page.keyboard.press("Shift+Tab")
    act(page, "Start the round", "Nobody is at the posts")
    expect(page.locator("#act-note")).to_contain_text("start:")
    named(page)
