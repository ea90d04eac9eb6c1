"""Whatever is lost on the way, the page comes alive by itself; and all banks at a glance."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from contextlib import contextmanager

import pytest
from playwright.sync_api import Browser, Page, Route, expect

from tests.support.browser_house import House, Open, check_access, fits

#: Everything that a page of one bank asks for.
NEEDED = (
    "/static/palette.css",
    "/static/page.css",
    "/static/watch.js",
    "/static/common.js",
    "/static/act.js",
    "/static/queue.js",
    "/static/cells.js",
    "/static/years.js",
    "/static/chart.js",
    "/static/dygraph.js",
    "/api/site",
    "/api/curve/north",
    "/api/days/north",
    "/api/years/north",
    "/api/news",
)


@contextmanager
def loaded(chromium: Browser, url: str, lost: dict[str, int], held: float = 0.0) -> Iterator[Page]:
    """A page whose requests fail so many times each, torn off and answered 503 in turn.

    Each is held back longer than the one before it in `lost`, by `held` [s].
    """
    context = chromium.new_context(viewport={"width": 1280, "height": 800}, service_workers="block")
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
        page.wait_for_timeout(1000.0 * held * list(left).index(place)) if held else None
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
    expect(page.locator("#years-picture circle").first).to_be_visible()
    expect(page.locator(".answer").first).not_to_have_css("border-top-style", "none")
    expect(page.locator("body")).not_to_have_css("background-color", "rgba(0, 0, 0, 0)")


@pytest.mark.parametrize("turned", [False, True])
def test_every_request_lost_once_in_one_order_and_in_the_other_never_leaves_a_dead_page(
    house: House, chromium: Browser, turned: bool
) -> None:
    # Each is held back a little longer than the one before: in the one order or in the other every two of them fail in
    # both successions.
    order = [*reversed(NEEDED)] if turned else [*NEEDED]
    with loaded(chromium, house.url + "/?bank=north", dict.fromkeys(order, 1), held=0.03) as page:
        alive(page)


@pytest.mark.parametrize("lost", NEEDED)
def test_one_lost_request_never_leaves_a_dead_page(house: House, chromium: Browser, lost: str) -> None:
    with loaded(chromium, house.url + "/?bank=north", {lost: 1}) as page:
        alive(page)


@pytest.mark.parametrize(
    ("path", "own", "shows"),
    [
        ("/", ("page.css", "overview.js", "common.js"), ".tile .phase:text('holding')"),
        ("/wall?bank=north", ("wall.css", "wall.js", "common.js"), "#phase:has-text('holding')"),
        ("/bench?bank=north", ("page.css", "bench.js", "common.js", "act.js", "queue.js"), "#level:text('Yes')"),
    ],
)
def test_the_other_pages_come_alive_when_each_of_their_requests_was_lost(
    house: House, chromium: Browser, path: str, own: tuple[str, ...], shows: str
) -> None:
    lost = ["/static/palette.css", *(f"/static/{name}" for name in own), "/api/site", "/api/news"]
    lost += ["/api/sparks"] if path == "/" else []
    with loaded(chromium, house.url + path, dict.fromkeys(lost, 1)) as page:
        expect(page.locator(shows)).to_be_visible()
        expect(page.locator("#news")).to_have_text("Live.")
        expect(page.locator("polyline")).to_have_count(1 if path == "/" else 0)


def test_every_request_lost_twice_never_leaves_a_dead_page(house: House, chromium: Browser) -> None:
    with loaded(chromium, house.url + "/?bank=north", dict.fromkeys(NEEDED, 2)) as page:
        alive(page)


def test_what_is_missing_is_named_while_it_is_asked_for_again(house: House, chromium: Browser) -> None:
    with loaded(chromium, house.url + "/?bank=north", {"/api/curve/north": 3}) as page:
        expect(page.locator("#news")).to_contain_text("Not here yet, asked again: the curve")
        alive(page)


def test_a_stream_cut_for_ten_minutes_comes_back_without_a_reload(house: House, opened: Open) -> None:
    page = opened()
    page.clock.install()
    page.reload()
    page.wait_for_selector("html[data-ready=yes]")
    page.evaluate("window.sameDocument = true")
    before = page.locator("#safe").get_attribute("data-safe")  # what the tests before this one left of the bank
    page.route("**/api/news", lambda route: route.fulfill(status=503, json={"error": "busy"}))
    house.stop()
    house.start()
    for _ in range(60):
        page.clock.run_for(10_000)
    expect(page.locator("#news")).to_contain_text("No connection to the bridge since")
    assert page.locator("#news").evaluate("(one) => getComputedStyle(one).position") == "sticky"
    # Ten minutes without news: every figure says so.
    expect(page.locator("#figures small").first).to_have_text(re.compile(r"^ 10 min ago$|^ 11 min ago$"))
    # Nor is what was safe then known to be safe now, on the page and in its tab.
    was = "" if before == "unknown" else f", was {(before or '').replace('-', ' ')}"
    expect(page.locator("#level")).to_have_text(f"Not known{was}")
    expect(page.locator("#safe")).to_have_attribute("data-safe", "unknown")
    expect(page).to_have_title("Not known: north")
    expect(page.locator("#icon")).to_have_attribute("href", "/static/icon-unknown.svg")
    check_access(page)
    page.unroute("**/api/news")
    page.clock.run_for(40_000)
    page.clock.resume()
    expect(page.locator("#news")).to_have_text("Live.")
    expect(page.locator("#level")).to_have_text("Yes")
    expect(page).to_have_title("Safe: north")
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
    expect(tiles.first.locator(".since")).to_have_text("no volts in two days")
    north = tiles.nth(1)
    expect(north).to_contain_text("holding")
    expect(north).to_contain_text("90.0 °F")
    expect(north.locator(".heard")).to_contain_text("ago")
    expect(north.locator("polyline")).to_have_count(1)
    expect(north.locator(".since")).to_be_empty()
    assert page.locator("nav").count() == 0
    north.locator("a").click()
    expect(page.locator("#bank")).to_have_text("Bank north")


# The relay is held open beside gravities that are doubted: much is said then.
@pytest.mark.parametrize(("width", "height"), [(360, 800), (1600, 1000)])
def test_the_four_answers_fit_the_screen_whole(opened: Open, width: int, height: int) -> None:
    page = opened(width=width)
    expect(page.locator("#level")).to_have_text("Yes")
    expect(page.locator("#todo li").first).to_be_visible()
    fits(page, height)
    page.get_by_role("button", name="All of it").click()
    expect(page.locator("#then li").first).to_be_visible()


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
    # The rest is entered: what one tap says, the look round apart, somebody would have to have read or seen.
    (tapped,) = page.locator("#todo button").all_inner_texts()
    assert tapped == "I looked in"
    page.get_by_role("link", name="Note levels").click()
    expect(page.locator("#form-level")).to_be_visible()
    expect(page.locator("#bank")).to_have_text("Bench: north")


#: An old tablet of ten inches, 1280 x 800: 10.1 in across the diagonal [mm per pixel].
TABLET = 10.1 * 25.4 / math.hypot(1280, 800)
#: What an eye of ordinary sharpness just reads: letters of five arc minutes (the Landolt ring of acuity 1.0 in
#: ISO 8596; from memory) [mm].
LEGIBLE = 5000.0 * math.tan(math.radians(5.0 / 60.0))


@pytest.mark.parametrize("hot", [False, True])
def test_the_wall_is_legible_from_five_metres_and_needs_no_hand(house: House, opened: Open, hot: bool) -> None:
    page = opened("/wall?bank=north")
    if hot:
        house.feed(fahrenheit=112.0)
        expect(page.locator("#cause")).to_have_text("over temperature: 112 °F, limit 110 °F")
    page.set_viewport_size({"width": 1280, "height": 800})
    expect(page.locator("#level")).to_have_text("No" if hot else "Yes")
    expect(page.locator("#gas")).to_contain_text("Gas")
    for name in ("level", "gas", "phase", "hours", "next", *(["cause"] if hot else [])):
        cap = page.locator(f"#{name}").evaluate(
            """(one) => {
              const style = getComputedStyle(one);
              const pen = document.createElement("canvas").getContext("2d");
              pen.font = `${style.fontWeight} ${style.fontSize} ${style.fontFamily}`;
              return pen.measureText("H").actualBoundingBoxAscent;
            }"""
        )
        assert cap * TABLET >= LEGIBLE, f"{name}: capitals of {cap * TABLET:.1f} mm, {LEGIBLE:.1f} are needed"
    assert page.locator("a, button, input").count() == 0
    whole(page, 800)
    page.set_viewport_size({"width": 800, "height": 1280})
    whole(page, 1280)
    if hot:  # and what was dangerous when the bridge was lost still is
        house.stop()
        expect(page.locator("#news")).to_contain_text("No connection")
        whole(page, 1280)
        page.set_viewport_size({"width": 1280, "height": 800})
        whole(page, 800)
        house.start()


def whole(page: Page, height: int) -> None:
    """No field of the wall is cut off, and nothing lies below the screen's edge [CSS px]."""
    # The words are fitted a frame after their room has changed.
    fits = "() => [...document.querySelectorAll('section')].every((one) => one.scrollHeight <= one.clientHeight + 1)"
    page.wait_for_function(fits, timeout=10_000.0)
    assert page.locator("#news").evaluate("(one) => one.getBoundingClientRect().bottom") <= height


def test_the_wall_is_dark_at_night(opened: Open) -> None:
    page = opened("/wall?bank=north")
    page.clock.install(time="2026-11-28T23:30:00")
    page.reload()
    page.wait_for_selector("html[data-ready=yes]")
    night = page.evaluate("getComputedStyle(document.body).backgroundColor")
    page.clock.set_system_time("2026-11-29T12:00:00")
    page.clock.run_for(11_000)
    assert page.evaluate("getComputedStyle(document.body).backgroundColor") != night
