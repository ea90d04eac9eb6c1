"""Whatever is lost on the way, the page comes alive by itself; and all banks at a glance."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

import pytest
from playwright.sync_api import Browser, Page, Route, expect

from tests.support.browser_house import House, Open, fits

#: Everything that a page of one bank asks for.
NEEDED = (
    "/static/palette.css",
    "/static/page.css",
    "/static/watch.js",
    "/static/common.js",
    "/static/act.js",
    "/static/queue.js",
    "/static/cells.js",
    "/static/chart.js",
    "/static/dygraph.js",
    "/api/site",
    "/api/curve/north",
    "/api/days/north",
    "/api/news",
)


@contextmanager
def loaded(chromium: Browser, url: str, lost: dict[str, int]) -> Iterator[Page]:
    """A page whose requests fail so many times each, torn off and answered 503 in turn."""
    context = chromium.new_context(viewport={"width": 1280, "height": 800})
    page = context.new_page()
    left = dict(lost)

    def lose(route: Route) -> None:
        path = "/" + route.request.url.split("/", 3)[3].partition("?")[0]
        name = path.rpartition("/")[2] if path.startswith("/static/again/") else ""
        place = next((one for one in left if one == path or (name and one.endswith("/" + name))), None)
        if place is None or left[place] == 0:
            route.continue_()
            return
        left[place] -= 1
        if left[place] % 2:
            route.abort()
        else:
            route.fulfill(status=503, json={"error": "busy"})

    page.route("**/*", lose)
    try:
        page.goto(url)
        yield page
        assert not any(left.values()), left
    finally:
        context.close()


def alive(page: Page) -> None:
    """Styled, live, with its answers, its curve and its days."""
    expect(page.locator("#news")).to_have_text("Live.")
    expect(page.locator("#phase")).to_contain_text("holding")
    expect(page.locator(".panel canvas").first).to_be_visible()
    expect(page.locator("#days tbody tr").first).to_be_visible()
    assert page.locator(".answer").first.evaluate("(one) => getComputedStyle(one).borderTopStyle") == "solid"
    assert page.locator("body").evaluate("(one) => getComputedStyle(one).backgroundColor") != "rgba(0, 0, 0, 0)"


@pytest.mark.parametrize("lost", NEEDED)
def test_one_lost_request_never_leaves_a_dead_page(house: House, chromium: Browser, lost: str) -> None:
    with loaded(chromium, house.url + "/?bank=north", {lost: 1}) as page:
        alive(page)


def test_every_request_lost_twice_never_leaves_a_dead_page(house: House, chromium: Browser) -> None:
    with loaded(chromium, house.url + "/?bank=north", dict.fromkeys(NEEDED, 2)) as page:
        alive(page)


def test_what_is_missing_is_named_while_it_is_asked_for_again(house: House, chromium: Browser) -> None:
    with loaded(chromium, house.url + "/?bank=north", {"/api/curve/north": 3}) as page:
        expect(page.locator("#news")).to_contain_text("Not here yet, asked again: the curve")
        alive(page)


def test_a_stream_cut_for_ten_minutes_comes_back_without_a_reload(house: House, opened: Open) -> None:
    page = opened()
    page.evaluate("window.sameDocument = true")
    page.clock.install()
    page.route("**/api/news", lambda route: route.fulfill(status=503, json={"error": "busy"}))
    house.stop()
    house.start()
    for _ in range(60):
        page.clock.run_for(10_000)
    expect(page.locator("#news")).to_contain_text("No connection to the bridge since")
    assert page.locator("#news").evaluate("(one) => getComputedStyle(one).position") == "sticky"
    page.unroute("**/api/news")
    page.clock.run_for(40_000)
    page.clock.resume()
    expect(page.locator("#news")).to_have_text("Live.")
    assert page.evaluate("window.sameDocument") is True


def test_all_banks_stand_worst_first_and_a_silent_one_is_an_alarm(house: House, opened: Open) -> None:
    page = opened("/", width=360)
    tiles = page.locator(".tile")
    expect(tiles).to_have_count(2)
    expect(tiles.first.locator("h2")).to_have_text("south")
    expect(tiles.first.locator(".state")).to_have_text("Not heard from")
    filled = tiles.first.locator(".state").evaluate("(one) => getComputedStyle(one).backgroundColor")
    ink = page.evaluate("getComputedStyle(document.body).color")
    assert filled == ink, "as strong as anything on the page"
    north = tiles.nth(1)
    expect(north).to_contain_text("holding")
    expect(north).to_contain_text("90.0 °F")
    expect(north.locator(".heard")).to_contain_text("ago")
    expect(north.locator("polyline")).to_have_count(1)
    assert page.locator("nav").count() == 0
    north.locator("a").click()
    expect(page.locator("#bank")).to_have_text("Bank north")


@pytest.mark.parametrize(("width", "height"), [(360, 800), (1600, 1000)])
def test_the_four_answers_fit_the_screen_whole(opened: Open, width: int, height: int) -> None:
    page = opened(width=width)
    expect(page.locator("#level")).to_have_text("Yes")
    expect(page.locator("#todo li").first).to_be_visible()
    fits(page, height)


def test_a_look_round_is_noted_by_one_tap_and_taken_back(house: House, opened: Open) -> None:
    page = opened(width=360)
    since = house.now()
    page.get_by_role("button", name="I looked in").click()
    expect(page.locator("#noted")).to_contain_text("stored by the bridge")
    (entry,) = house.entries("note", since)
    assert entry.detail["note"] == "looked in"
    row = page.locator("#todo li", has_text="Presence")
    expect(row).not_to_contain_text("due now")
    page.get_by_role("button", name="Take it back").click()
    expect(row).to_contain_text("due now")


def test_a_chore_leads_to_its_sheet_at_the_bench(opened: Open) -> None:
    page = opened()
    page.get_by_role("link", name="Level seen").click()
    expect(page.locator("#form-level")).to_be_visible()
    expect(page.locator("#bank")).to_have_text("Bench: north")
