"""The board of all cabins in a browser, from a folder: worst first, searchable, readable on a phone, and only text."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, expect

from bridge.fleet import board
from tests.support import made_board
from tests.support.browser_house import check_access, shoot

Show = Callable[..., Page]
HOUR, DAY = 3600.0, 86400.0


@pytest.fixture
def shown(chromium: Browser, tmp_path: Path) -> Iterator[Show]:
    """Write a board of these banks and open it from its folder; what the browser complains of fails the test."""
    complaints: list[str] = []
    with ExitStack() as stack:

        def show(banks: list[dict[str, Any]], *, width: int = 1280, dark: bool = False, **more: Any) -> Page:
            page_file = made_board.write(tmp_path, banks, **{"now": time.time(), **more})
            context = chromium.new_context(
                viewport={"width": width, "height": 740}, color_scheme="dark" if dark else "light"
            )
            stack.callback(context.close)
            page = context.new_page()
            page.on("pageerror", lambda error: complaints.append(str(error)))
            page.on("dialog", lambda dialog: complaints.append(f"dialog: {dialog.message}"))
            page.on("console", lambda message: complaints.append(message.text))
            page.goto(page_file.as_uri())
            expect(page.locator("#made")).to_contain_text("As of")
            return page

        yield show
    # The checker itself asks for style sheets, which the page's policy refuses to any script.
    assert [said for said in complaints if not said.startswith(("Connecting to", "Couldn't load preload"))] == []


def names(page: Page) -> list[str]:
    return [text.replace("\n", " ") for text in page.locator("#banks h2").all_inner_texts()]


def test_the_worst_stands_first_and_a_silent_cabin_above_one_that_is_well(shown: Show) -> None:
    now = time.time()
    banks = [
        made_board.plain("well", "a", now),
        made_board.plain("quiet", "b", now, heard_at=now - 7 * HOUR, arrived_at=now - 7 * HOUR),
        made_board.plain("waits", "c", now, safe="not-yet", level="permit"),
        made_board.hot(now),
        made_board.plain("late", "d", now, heard_at=now - 2 * DAY),
        made_board.plain("mute", "f", now, safe="unknown", level="unknown"),
        made_board.hot(now, site="noted", trips=[], current=18.3, aside="A parcel could not be used: torn"),
        made_board.plain("hole", "e", now, heard_at=now - DAY, waits={"first": 7, "last": 9, "until": now + DAY}),
    ]
    page = shown(banks)
    order = ["mill-yard rack-1", "noted rack-1", "late d", "hole e", "quiet b", "mute f", "waits c", "well a"]
    assert names(page) == order
    told = page.locator("#banks > li")
    expect(told.nth(0)).to_contain_text("tripped, 1 trip in 30 days")
    expect(told.nth(1)).not_to_contain_text("no trips")
    expect(told.nth(1)).to_contain_text("2.43 V/cell · 18.3 A · 121.1 °F")
    expect(told.nth(1)).to_contain_text("A parcel could not be used: torn")
    expect(told.nth(2)).to_contain_text("Catching up")
    expect(told.nth(3)).to_contain_text("rows 7 to 9 of its journal have not come")
    expect(told.nth(5).locator(".state")).to_have_text("Meter not heard")
    expect(told.nth(4)).to_contain_text("Nothing came for 7.0 h: see to the link and the bridge of quiet.")
    assert [one["bank"] for one in board.worst_first(banks, now)] == [name.split()[1] for name in order]


def test_words_and_needs_choose_by_keyboard_and_stay_in_the_address(shown: Show) -> None:
    now = time.time()
    page = shown([made_board.plain(f"hut-{n}", "north", now) for n in range(3)] + [made_board.hot(now)])
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.className") == "skip"
    page.keyboard.press("Tab")
    page.keyboard.type("hut-2")
    assert names(page) == ["hut-2 north"]
    expect(page.locator("#shown")).to_have_text("1 bank of 4, worst first")
    page.locator("#words").fill("")
    page.locator("#words").press("Tab")
    page.keyboard.press("ArrowRight")
    assert names(page) == ["mill-yard rack-1"]
    page.reload()
    expect(page.locator("#banks > li")).to_have_count(1)
    assert "needs=danger" in page.url


def test_what_a_cabin_wrote_stays_text(shown: Show) -> None:
    now, bad = time.time(), made_board.HOSTILE
    hostile = made_board.plain(
        bad, bad, now, need=bad, phase=bad, causes=[bad], standing=bad, then=[bad], hours_why=bad
    )
    page = shown([hostile], refused=[{"name": bad, "why": bad}])
    expect(page.locator("#banks h2")).to_contain_text(bad)
    expect(page.locator("#refused-list")).to_contain_text(bad)
    assert page.locator("img").count() == 0


def test_a_list_that_nobody_refreshes_says_so(shown: Show) -> None:
    page = shown([made_board.plain("hut", "north", time.time())], now=time.time() - 5 * HOUR)
    expect(page.locator("#made[data-old]")).to_contain_text("Is `revival fleet follow` running?")


def test_thousands_of_banks_are_drawn_in_pieces(shown: Show) -> None:
    now = time.time()
    page = shown([made_board.plain(f"cabin-{n:04d}", "north", now) for n in range(3000)])
    expect(page.locator("#shown")).to_have_text("3000 banks of 3000, worst first, the first 200 drawn")
    page.get_by_role("button", name="Show more").press("Enter")
    expect(page.locator("#banks > li")).to_have_count(400)
    assert page.evaluate("document.activeElement.dataset.name") == "cabin-0200 north"


@pytest.mark.parametrize(("width", "dark"), [(360, False), (360, True), (800, True), (1280, False)])
def test_it_is_readable_at_any_width_in_light_and_dark(shown: Show, pictures: Path, width: int, dark: bool) -> None:
    now = time.time()
    banks = [
        made_board.hot(now),
        made_board.plain("quiet", "b", now, heard_at=now - 3 * DAY, arrived_at=now - 3 * DAY),
        made_board.plain(
            "waits", "c", now, safe="not-yet", level="permit", causes=["fan: nobody has said that it runs"]
        ),
        made_board.plain("paper", "d", now, level="chore", then=["Note the water."]),
        made_board.plain("well", "e", now, remaining_hours=12.0, remaining_low=9.0, remaining_high=17.0),
    ]
    page = shown(banks, width=width, dark=dark, refused=[{"name": "site=x/y.parquet", "why": "torn"}])
    page.locator("summary").first.press("Enter")
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    check_access(page)
    shoot(page, pictures, f"board-{width}-{'dark' if dark else 'light'}")
