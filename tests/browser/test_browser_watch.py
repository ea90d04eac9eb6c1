"""What a person sees who only looks: it is live, it is drawn, it is readable, and nothing in it can be made to run."""

from __future__ import annotations

import json
import re
from collections import Counter
from collections.abc import Callable
from datetime import datetime
from itertools import pairwise, product
from pathlib import Path
from statistics import median

import pytest
from playwright.sync_api import Page, Route, expect

from bridge.journal.reader import JournalReader
from bridge.page.view import bank_view
from bridge.words.spoken import spoken
from rules.advice import FIRST_AID, FLAGS, ChargerNow, Situation, advice
from rules.advice.phase_words import PHASE_ADVICE
from rules.hand import HURT
from rules.phase import PHASES
from rules.safety import Latch
from rules.step import Memory
from tests.support.brokers import wait_until
from tests.support.browser_house import STORED, House, Open, check_access, shoot

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


def as_shown(text: str) -> re.Pattern[str]:
    """A sentence as the page has it: times by the clock on the wall, commands without a terminal's marks."""
    words = re.escape(text.replace("`", ""))
    return re.compile(re.sub(r"\d{4}\\-\d\d\\-\d\dT\d\d:\d\dZ", r"(\\S+ )*\\d\\d:\\d\\d", words))


def test_the_four_answers_stand_in_their_order_and_name_what_the_bridge_says(house: House, opened: Open) -> None:
    page = opened()
    questions = page.locator(".answers h2:not(#h-figures)").all_inner_texts()
    assert questions == ["Is it safe?", "Where is it?", "How long?", "What should I do now?"]
    state = house.service.latest["north"]
    expect(page.locator("#phase")).to_contain_text(state.phase)
    # In two: the order, and in a line of its own what follows it, without the mark that parts them.
    in_two = re.sub(r"(\\\.|[:;,])\\ ", r"(\1)?\\ ", as_shown(state.next_step).pattern)
    expect(page.locator("#next")).to_have_text(re.compile(in_two, re.IGNORECASE))
    expect(page.locator("#next strong")).to_have_text(re.compile(r"[\w)]$"))
    expect(page.locator("#next span")).to_have_text(re.compile(r"^[A-Z0-9]"))
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
    assert "waking, reviving, bulk" in (page.locator("#charts").get_attribute("aria-label") or "")
    page.locator("summary", has_text="The same as a table").click()
    expect(page.locator("#table tbody tr").nth(20)).to_be_visible()


#: Commonest colour of a panel in a column, its share of what is painted there, and pixels of an ink [r, g, b].
COLUMN = """([panel, x, ink]) => {
  const seen = new Map();
  let found = 0;
  for (const canvas of document.querySelectorAll(".panel")[panel].querySelectorAll("canvas")) {
    const scale = canvas.width / canvas.getBoundingClientRect().width;
    const data = canvas.getContext("2d").getImageData(Math.round(x * scale), 0, 7, canvas.height).data;
    for (let i = 0; i < data.length; i += 4) {
      if (data[i + 3] === 0) continue;
      const colour = [data[i], data[i + 1], data[i + 2], data[i + 3]].join();
      seen.set(colour, (seen.get(colour) || 0) + 1);
      if (ink && [0, 1, 2].every((part) => Math.abs(data[i + part] - ink[part]) < 20) && data[i + 3] > 120) found += 1;
    }
  }
  const [commonest, times] = [...seen].sort((a, b) => b[1] - a[1])[0] || ["", 0];
  return [commonest, times / [...seen.values()].reduce((sum, one) => sum + one, 0), found];
}"""


def ink(page: Page, name: str) -> list[int]:
    """A colour of the palette as the page has it."""
    text = page.evaluate(f"getComputedStyle(document.documentElement).getPropertyValue('--{name}').trim()")
    return [int(text[place : place + 2], 16) for place in (1, 3, 5)]


def test_phases_are_shaded_apart_interruptions_hatched_and_the_pointer_is_told_where_it_is(opened: Open) -> None:
    page = opened()
    panel = page.locator(".panel").nth(2)
    panel.scroll_into_view_if_needed()
    box = panel.bounding_box()
    assert box is not None
    shades: dict[str, Counter[str]] = {}
    kinds: dict[bool, list[float]] = {True: [], False: []}
    for x in range(70, int(box["width"]) - 60, 16):
        page.mouse.move(box["x"] + x, box["y"] + 60)
        words = page.locator("#readout").inner_text().split("   ")
        told = [word for word in words if word.partition(", ")[0] in PHASES]
        if not told:
            continue  # behind the last point only what happened there is told
        phase, _, still = told[0].partition(", ")
        colour, share, _ = page.evaluate(COLUMN, [2, x - 3, None])
        kinds[still == "standing still"].append(share)
        if not still:
            shades.setdefault(phase, Counter())[colour] += 1
    assert list(shades) == ["waking", "reviving", "bulk", "absorbing", "finishing", "holding"]
    usual = [shade.most_common(1)[0][0] for shade in shades.values()]
    assert len(set(usual)) == len(usual), "two phases share a shade"
    middle = {still: sorted(shares)[len(shares) // 2] for still, shares in kinds.items()}
    assert middle[True] < 0.9 * middle[False], "hatching leaves less of the even shade"


def test_hold_band_estimate_ahead_trip_and_marks_are_on_the_curve(opened: Open) -> None:
    page = opened()
    holding, hazard, estimate, dark, warm = (
        ink(page, name) for name in ("phase-holding", "hazard", "estimate", "ink", "temperature")
    )
    wide = page.locator(".panel").first.evaluate("(panel) => panel.getBoundingClientRect().width")
    columns = range(60, int(wide) - 10, 7)
    waking = page.evaluate(COLUMN, [0, 120, holding])
    assert waking[2] > 0, "the hold band reaches across, to where nothing holds yet"
    assert any(page.evaluate(COLUMN, [1, x, hazard])[2] > 40 for x in columns), "the trip is a line through the panels"
    assert any(page.evaluate(COLUMN, [0, x, dark])[2] > 20 for x in columns), "words and marks"

    def ahead() -> bool:
        """To the right of now nothing is measured, and the estimate goes on."""
        found = [
            [page.evaluate(COLUMN, [number, x, hue])[2] for x in columns] for number, hue in ((2, warm), (3, estimate))
        ]
        measured, estimated = (max(place for place, pixels in enumerate(row) if pixels) for row in found)
        return estimated > measured

    assert ahead()
    page.get_by_role("button", name="Show 1 day").click()
    wait_until(ahead, 30.0, "the estimate ahead of now, seen nearer")


def test_the_end_is_drawn_into_the_temperature_as_well_and_said_as_day_and_hours(opened: Open) -> None:
    page = opened()
    estimate = ink(page, "estimate")
    wide = page.locator(".panel").first.evaluate("(panel) => panel.getBoundingClientRect().width")
    ends = [x for x in range(60, int(wide) - 7, 7) if page.evaluate(COLUMN, [2, x, estimate])[2] > 30]
    assert ends and min(ends) > 0.8 * wide, "the likely end is a line, to the right of now"
    words = re.compile(r"done \w{3} \d\d(–| to \w{3} )\d\d, likely (\w{3} )?\d\d:\d\d")
    assert words.search(page.locator("#hours-range").inner_text())
    assert words.search(page.locator("#charts").get_attribute("aria-label") or "")


def test_earlier_rounds_are_laid_over_the_present_one_by_the_hours_since_each_began(opened: Open) -> None:
    page = opened()
    warm = ink(page, "temperature")
    columns = range(60, 1000, 35)
    alone = sum(page.evaluate(COLUMN, [2, x, warm])[2] for x in columns)
    with page.expect_response("**/api/rounds/north") as answer:
        page.get_by_role("button", name="earlier rounds").click()
    told = answer.value.json()["rounds"]
    assert len(told) == 2
    over = page.locator("#key li", has_text="round of")
    expect(over).to_have_count(2)
    assert sum(page.evaluate(COLUMN, [2, x, warm])[2] for x in columns) > 1.5 * alone
    panel = page.locator(".panel").first
    panel.scroll_into_view_if_needed()
    panel.hover(position={"x": 500, "y": 60})
    hour, volts = re.search(r"hour ([\d.]+).* then ([\d.]+) V", page.locator("#readout").inner_text()).groups()  # type: ignore[union-attr]
    then = min(told[-1]["points"], key=lambda point: abs(point[0] - 3600.0 * float(hour)))
    assert abs(then[1] - float(volts)) < 0.1
    page.get_by_role("button", name="earlier rounds").click()
    expect(over).to_have_count(0)


def test_gravity_and_capacity_of_all_rounds_stand_over_the_years(opened: Open) -> None:
    page = opened(width=360)
    expect(page.locator("#years-picture circle")).to_have_count(9)  # three sheets in each of three rounds
    assert page.locator("#years-picture").inner_text().count("%") >= 2
    for words in ("58 % of the rating", "41 % of the rating, as delivered", "12 cells", "167 h"):
        expect(page.locator("#years-table")).to_contain_text(words)


def test_a_meter_that_speaks_every_half_hour_is_a_line_and_only_its_silence_a_gap(opened: Open) -> None:
    page = opened()

    def thin(route: Route) -> None:
        answer = route.fetch()
        told = answer.json()
        for number, point in enumerate(told["points"]):
            if number % 3 or 0.4 < number / len(told["points"]) < 0.6:
                point[3] = [None, None, None]
        route.fulfill(response=answer, json=told)

    page.route("**/api/curve/**", thin)
    page.reload()
    page.wait_for_selector("html[data-ready=yes]")
    wide = page.locator(".panel").first.evaluate("(panel) => panel.getBoundingClientRect().width")
    warm = ink(page, "temperature")
    found = [page.evaluate(COLUMN, [2, x, warm])[2] > 0 for x in range(60, int(0.84 * wide), 10)]
    assert 0.75 < sum(found) / len(found) < 0.85, "a line, but for the fifth in which nothing came"


def test_limits_beyond_the_window_are_named_with_their_values_and_the_end_stands_in_two_panels(opened: Open) -> None:
    page = opened()
    page.add_init_script(
        """window.written = new Set();
        const write = CanvasRenderingContext2D.prototype.fillText;
        CanvasRenderingContext2D.prototype.fillText = function (text, ...more) {
          window.written.add(text);
          return write.call(this, text, ...more);
        };"""
    )

    def lift(route: Route) -> None:
        answer = route.fetch()
        told = answer.json()
        for point in told["points"]:
            point[1] = point[1][1] and [2.9, 2.91, 2.92]
            point[3] = point[3][1] and [55.0, 55.5, 56.0]
        route.fulfill(response=answer, json=told)

    page.route("**/api/curve/**", lift)
    page.reload()
    page.wait_for_selector("html[data-ready=yes]")
    written = page.evaluate("[...window.written]")
    assert {"hold band from 2.64 ↓", "limit 2.75 ↓", "warm 100 ↓", "stops 110 ↓"} <= set(written)
    assert [text for text in written if text.startswith("done ")]


def test_zoom_has_ends_and_the_round_is_one_press_away(opened: Open) -> None:
    page = opened()
    out, closer = page.get_by_role("button", name="Zoom out"), page.get_by_role("button", name="Zoom in")
    for button in (out, closer):
        for _ in range(20):
            if button.get_attribute("aria-disabled") == "true":
                break
            button.click()
        expect(button).to_have_attribute("aria-disabled", "true")
    with page.expect_response("**/api/curve/**") as answer:
        out.click()
    told = answer.value.json()
    assert told["until"] - told["since"] > 60.0
    page.locator(".panel").first.dblclick()
    expect(page.locator("#tools [aria-pressed=true]")).to_have_text("round")


def test_the_pointer_s_moment_is_one_line_through_all_panels(opened: Open) -> None:
    page = opened()
    panel = page.locator(".panel").nth(1)
    panel.scroll_into_view_if_needed()
    box = panel.bounding_box()
    assert box is not None
    page.mouse.move(box["x"] + 300, box["y"] + 40)
    expect(page.locator(".cross")).to_be_visible()
    cross, charts = page.locator(".cross").bounding_box(), page.locator("#charts").bounding_box()
    assert cross is not None and charts is not None
    assert abs(cross["x"] - box["x"] - 300) < 4.0, "at the nearest reading"
    assert cross["height"] > 0.95 * charts["height"]


def test_the_curve_zooms_by_button_by_keyboard_and_by_dragging(opened: Open) -> None:
    page = opened()
    window = "document.querySelector('#tools [aria-pressed=true]')?.textContent"
    assert page.evaluate(window) == "round"
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


LOOKS = [
    (path, width, dark)
    for path in ("/", "/?bank=north", "/bench", "/wall")
    for width in (360, 1600)
    for dark in (False, True)
]


@pytest.mark.parametrize(("path", "width", "dark"), [*LOOKS, ("/?bank=south", 360, True)])
def test_every_page_passes_the_accessibility_checker_and_fits_the_width(
    opened: Open, pictures: Path, path: str, width: int, dark: bool
) -> None:
    page = opened(path, width=width, dark=dark)
    shade = "dark" if dark else "light"
    shoot(page, pictures, f"{path.strip('/?').replace('bank=', '') or 'overview'}-{width}-{shade}")
    for sheet in page.locator("details").all():
        sheet.evaluate("(element) => { element.name = ''; element.open = true; }")
    check_access(page)
    assert page.evaluate("document.documentElement.scrollWidth") <= width


@pytest.mark.parametrize("path", ["/", "/?bank=north", "/bench", "/wall?bank=north"])
def test_letters_of_twice_the_size_fit_a_phone_without_scrolling_sideways(opened: Open, path: str) -> None:
    page = opened(path, width=360)
    page.evaluate("document.documentElement.style.fontSize = '200%'")
    for sheet in page.locator("details").all():
        sheet.evaluate("(element) => { element.name = ''; element.open = true; }")
    assert page.evaluate("document.documentElement.scrollWidth") <= 360


def test_colour_that_carries_a_meaning_is_kept_among_a_reader_s_own_colours(opened: Open) -> None:
    page = opened(forced_colors="active", width=1280)
    field = "(one) => getComputedStyle(one).backgroundColor"
    panel = page.evaluate("getComputedStyle(document.documentElement).getPropertyValue('--panel').trim()")
    assert page.locator("#charts").evaluate(field) == f"rgb({', '.join(str(part) for part in ink(page, 'panel'))})", (
        panel
    )
    for one in ("#track li", ".bar i", ".strip i", "#key .swatch", "#range i"):
        assert page.locator(one).first.evaluate(field) not in ("rgb(255, 255, 255)", "rgba(0, 0, 0, 0)"), one
    pressed, other = (page.locator(f"#tools [aria-pressed={yes}]").first.evaluate(field) for yes in ("true", "false"))
    assert pressed != other
    check_access(page)


def test_on_paper_stand_the_answers_and_the_curve_and_nothing_that_is_pressed(opened: Open) -> None:
    page = opened()
    page.emulate_media(media="print")
    for shown in ("#level", "#next", "#then", ".panel canvas >> nth=0", "#flags", "#cells", "#days"):
        expect(page.locator(shown)).to_be_visible()
    for hidden in ("nav", "#tools", "#todo", "#cells-tools", "#readout"):
        expect(page.locator(hidden)).to_be_hidden()


@pytest.mark.parametrize("path", ["/?bank=north", "/", "/bench"])
def test_nothing_jumps_while_the_page_comes(house: House, opened: Open, path: str) -> None:
    page = opened("/wall?bank=north", width=360)
    page.add_init_script(
        """window.jumped = 0;
        new PerformanceObserver((list) => list.getEntries().forEach((one) => (window.jumped += one.value)))
          .observe({type: "layout-shift", buffered: true});"""
    )
    page.goto(house.url + path)
    page.wait_for_selector("html[data-ready=yes]")
    expect(page.locator("#news")).to_have_text("Live.")
    page.wait_for_timeout(300)
    # The bound of good pages, Web Vitals (CLS, 75th percentile).
    assert page.evaluate("window.jumped") < 0.1


def test_an_order_is_told_from_its_reasons(opened: Open) -> None:
    page = opened("/")
    said = page.evaluate(
        """import("/static/common.js").then(({orderLength}) => [
          "The charger is STILL ON: switch it off by hand now, for the room is full of gas.",
          "Find out why the meter is silent (power, network, probe off), and charge only while it can be trusted.",
        ].map((text) => text.slice(0, orderLength(text))))"""
    )
    assert said == [
        "The charger is STILL ON: switch it off by hand now",
        "Find out why the meter is silent (power, network, probe off), and charge only while it can be trusted.",
    ]


#: Looks at a charger from which every sentence that stands first is made.
AT_THE_CHARGER = (
    ChargerNow(),
    ChargerNow(state="off", by="person", since=1795590000.0),
    ChargerNow("closed", "on", "current", told="allow", flows=True, metered=True),
    ChargerNow("open", "off", "relay", 1795590000.0, "cut", 1795590000.0, metered=True),
    ChargerNow("open", "off", "relay", told="cut", flows=True, metered=True),
    ChargerNow("disobeys", "on", "relay", told="cut"),
    ChargerNow("open", "off", "relay", told="cut", open_until=1795590200.0, open_for="restart"),
    ChargerNow("open", "off", "relay", told="cut", air_until=1795591800.0),
)
#: What else chooses a sentence.
KNOWN = (
    Situation("idle"),
    Situation("idle", started=True, woken=True, doubt="warm", gone=True),
    Situation("idle", full=1.265),
    Situation("idle", checked=True, seen_to=True, rest_ends=1.0, at=2.0),
    Situation("idle", started=True, interrupted=True, proving="witness"),
    Situation("idle", started=True, doubt="unseen", unseen=("voltage",), after_look="resume"),
)


def first_sentences() -> list[str]:
    """Everything that can stand under "what should I do now": each flag, and none, in each phase."""
    found: dict[str, None] = {}
    for now, known, phase, flag in product(AT_THE_CHARGER, KNOWN, PHASE_ADVICE, ("", *FLAGS)):
        found[advice(known._replace(phase=phase, now=now), [flag] if flag else []).first] = None
    return [spoken(text, "degF") for text in found]


def test_what_stands_in_bold_and_on_the_wall_is_a_whole_order(opened: Open) -> None:
    said = first_sentences()
    assert len(said) > 150
    page = opened("/")
    cut = "(texts) => import('/static/common.js').then(({orderLength}) => texts.map(orderLength))"
    for text, length in zip(said, page.evaluate(cut, said), strict=True):
        order, rest = text[:length], text[length:]
        assert order.rstrip(".")[-1].isalnum() or order.rstrip(".")[-1] in "`)", text
        assert order.count("(") == order.count(")") and order.count("`") % 2 == 0, text
        # What is left is a reason, or a step that waits for this one: never the rest of what is to be done now.
        assert re.match(r"$|[.:;] |, (then|for|so|which) ", rest), text


def test_the_longest_order_is_read_whole_on_the_wall(house: House, opened: Open) -> None:
    wall = opened("/wall?bank=north")
    cut = "(texts) => import('/static/common.js').then(({orderLength}) => texts.map(orderLength))"
    said = first_sentences()
    lengths = wall.evaluate(cut, said)
    longest = max(zip(lengths, said, strict=True))[1]
    told = house.service.latest["north"]._replace(next_step=longest, safe="no", phase="absorbing", interrupted=True)
    body = f"event: bank\ndata: {json.dumps(bank_view(house.service, 'north', told, 'degF'))}\n\n"
    wall.route("**/api/news", lambda route: route.fulfill(content_type="text/event-stream", body=body))
    for width, height in ((1280, 800), (1024, 700), (1024, 768), (800, 1280), (360, 800)):
        wall.set_viewport_size({"width": width, "height": height})
        wall.reload()
        shown = wall.locator("#next")
        expect(shown).to_have_text(longest[: max(lengths)].replace("`", ""))
        assert shown.evaluate("(one) => one.scrollHeight <= one.clientHeight + 1"), (width, longest)
        # "absorbing, still" would say that it goes on.
        expect(wall.locator("#phase")).to_have_text("absorbing, stopped")
        cut_off = "(one) => one.scrollWidth > one.clientWidth + 1"
        assert not wall.locator("#phase").evaluate(cut_off), (width, "the words of where it is are cut off")


def test_every_warmth_in_a_sentence_is_told_in_the_owner_s_scale(house: House, opened: Open) -> None:
    page = opened()  # whose file says degF
    said = page.evaluate(
        """import("/static/common.js").then(({owned}) => [
          "temperature of the bank: 84 degC is not between -30 degC and 70 degC",
          "electrolyte warms 8.0 K/h", "the probes are 3.5 K apart", "above 38 degC (100 degF)", "block K1 of 4 KB",
        ].map(owned))"""
    )
    assert said == [
        "temperature of the bank: 183 °F is not between -22 °F and 158 °F",
        "electrolyte warms 14.4 °F/h",
        "the probes are 6.3 °F apart",
        "above 100 °F",
        "block K1 of 4 KB",
    ]
    house.feed(amps=12.0)
    expect(page.locator("#figures")).to_contain_text(re.compile(r"hydrogen\s*\d+\.\d+ cu ft/h"))
    expect(page.locator("#air")).to_contain_text(re.compile(r"\d cfm of air needed now"))
    page.get_by_role("button", name="I looked in").wait_for()
    assert not re.search(r"\d[ \u00a0](L/h|m³/h|m3/h|g|mL|mm)\b", page.locator("body").inner_text())
    assert "°C" not in page.locator("body").inner_text()


def test_a_database_that_is_away_is_told_with_what_waits_for_it(house: House, opened: Open) -> None:
    page = opened()
    try:
        house.service.database = lambda: {"state": "unreachable", "backlog": 1234}
        expect(page.locator("#news")).to_have_text("The database is unreachable: 1234 rows wait for it in the journal.")
    finally:
        house.service.database = None
    expect(page.locator("#news")).to_have_text("Live.")


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


def test_a_cell_s_history_and_the_earlier_rounds_open_by_keyboard_and_leave_the_focus_where_it_was(
    opened: Open,
) -> None:
    page = opened()
    page.locator("[data-cell='N4.3']").focus()
    page.keyboard.press("Enter")
    expect(page.locator("#cell")).to_be_visible()
    check_access(page)
    page.keyboard.press("Escape")
    assert page.evaluate("document.activeElement.dataset.cell") == "N4.3"
    page.get_by_role("button", name="earlier rounds").focus()
    page.keyboard.press("Space")
    expect(page.get_by_role("button", name="earlier rounds")).to_have_attribute("aria-pressed", "true")
    expect(page.get_by_role("button", name="earlier rounds")).to_be_focused()
    check_access(page)


def test_levels_and_phases_are_told_in_words_where_colour_tells_them(opened: Open) -> None:
    page = opened()
    assert page.locator("#level").inner_text()
    phase = page.locator("#track [aria-current=step]").inner_text()
    expect(page.locator("#phase")).to_contain_text(phase)
    words = page.locator("#key li").all_inner_texts()
    assert {"waking", "bulk", "holding", "charging stands still"} <= set(words)


def test_every_flag_says_why_since_when_and_what_to_do(house: House, opened: Open) -> None:
    page = opened()
    flags = house.service.latest["north"].flags
    assert flags
    expect(page.locator("#flags > li")).to_have_count(len(flags))
    for shown, flag in zip(page.locator("#flags > li").all(), flags, strict=True):
        assert shown.locator(".name").inner_text().lower() == flag.name.replace("-", " ")
        assert flag.reason in (shown.locator(".why").text_content() or "")
        assert as_shown(flag.action).fullmatch(shown.locator(".do").inner_text())
        assert shown.locator(".since").inner_text().startswith("Since ")


def test_while_it_charges_the_posts_are_safe_an_hour_after_its_end_on_both_pages(house: House, opened: Open) -> None:
    house.feed(amps=3.5)
    for path in ("/?bank=north", "/bench?bank=north"):
        air = opened(path).locator("#air")
        expect(air).to_contain_text("no tools or sparks at the posts until an hour after charging has ended.")
    wall = opened("/wall?bank=north").locator("#gas")
    expect(wall).to_contain_text(re.compile(r"^Gas: (no spark|air \d+(\.\d)?.cfm)$"))


def as_before(memories: dict[str, Memory], before: Memory, shown: Callable[[], bool]) -> None:
    """Put a bank's memory back until the page shows it: the running bridge may write its own over it once."""

    def put_back() -> bool:
        if not shown():
            memories["north"] = before._replace(due_at=0.0)
        return shown()

    wait_until(put_back, 60.0, "the page is as it was before")


def test_in_the_hour_of_a_noted_danger_nobody_is_asked_in_and_every_page_names_one_minute(
    house: House, opened: Open
) -> None:
    memories = house.service.engine.memories
    house.feed(amps=0.0)
    before = memories["north"]
    page, wall = opened("/?bank=north", width=360), opened("/wall?bank=north")
    noted = 60.0 * (house.now() // 60.0) - 600.0 + 10.0
    until = datetime.fromtimestamp(noted + 3600.0 + 50.0).strftime("%H:%M")

    def somebody_smelled_it() -> bool:
        memory = memories["north"]
        latched = {"danger-noted": Latch(noted, None, None, "", "somebody noted: rotten eggs")}
        memories["north"] = memory._replace(
            interlock=memory.interlock._replace(latched=latched), charged_at=noted, due_at=0.0
        )
        return page.locator("#acts button[data-act=reset]").is_visible()

    try:
        wait_until(somebody_smelled_it, 60.0, "the page tells of it")
        expect(page.locator("#acts button[data-act=reset]")).to_have_text(f"Reset the trip, from {until}")
        expect(page.locator("#acts button[data-act=reset]")).to_be_disabled()
        expect(page.locator("#causes li").first).to_contain_text("Leave the room and let nobody in")
        expect(wall.locator("#cause")).to_have_text("Leave the room, let nobody in")
        expect(page.locator("#next, #then").first).to_contain_text("let nobody in")
        expect(page.locator("#air")).to_contain_text(f"before {until}.")
        expect(wall.locator("#gas")).to_have_text(f"Gas until {until}")
        expect(page.locator("#todo button")).to_have_count(0)
    finally:
        as_before(memories, before, lambda: page.locator("#acts button[data-act=reset]").is_hidden())


def test_where_somebody_is_hurt_page_bench_and_wall_say_first_aid_before_anything_else(
    house: House, opened: Open
) -> None:
    memories = house.service.engine.memories
    before = memories["north"]
    page, bench, wall = opened("/?bank=north"), opened("/bench?bank=north"), opened("/wall?bank=north")
    noted = house.now()

    def somebody_is_hurt() -> bool:
        latched = {"danger-noted": Latch(noted, None, None, "", f"somebody noted: {HURT} at north")}
        lock = memories["north"].interlock._replace(latched=latched)
        memories["north"] = memories["north"]._replace(interlock=lock, due_at=0.0)
        return "First aid" in page.locator("#causes").inner_text()

    try:
        wait_until(somebody_is_hurt, 60.0, "the page tells of it")
        first = page.locator("#causes li").first
        expect(first).to_have_text(FIRST_AID)
        expect(first.locator("b")).to_have_text("First aid before anything else, outside the room:")
        expect(bench.locator("#standing")).to_contain_text(f"{FIRST_AID} Leave the room and let nobody in.")
        expect(wall.locator("#cause")).to_have_text("First aid outside, call the emergency service")
    finally:
        as_before(memories, before, lambda: "First aid" not in page.locator("#causes").inner_text())


def test_the_relay_is_told_with_its_read_back_and_its_last_proof_test(opened: Open) -> None:
    relay = opened().locator("#relay")
    for words in ("reports", "charging", "proof test", "passed", "1.2 s: the relay opened", "confirmed by keeper"):
        expect(relay).to_contain_text(words)
    expect(relay).to_contain_text("90 s after the last order to stay closed")


def test_cells_stand_in_their_physical_order_and_their_bars_in_the_order_of_their_gravities(opened: Open) -> None:
    page = opened()
    bars = page.locator("#cells [data-cell]")
    cells = [f"N{block}.{cell}" for block in range(1, 5) for cell in range(1, 4)]
    shown = [bar.get_attribute("data-cell") for bar in bars.all()]
    assert shown == [cell for cell in cells if cell in shown]
    heights = bars.locator(".bar i").evaluate_all("(all) => all.map((bar) => bar.getBoundingClientRect().height)")
    gravities = [float(text[:5]) for text in bars.locator("b").all_text_contents()]
    by_gravity = sorted(range(len(shown)), key=gravities.__getitem__)
    assert all(heights[low] <= heights[high] + 0.1 for low, high in pairwise(by_gravity))
    assert page.locator("#cells .change").count() > 0  # since the last walk
    marked = [bar.get_attribute("data-cell") for bar in page.locator("#cells .apart").all()]
    # A sound cell lies within 0.030 of the middle of its neighbours (common practice, no source).
    expected = [
        cell
        for number, cell in enumerate(shown)
        if abs(gravities[number] - median(gravities[:number] + gravities[number + 1 :])) > 0.030
    ]
    assert marked == expected


def test_the_last_days_hold_the_least_and_greatest_of_the_journal(house: House, opened: Open) -> None:
    rows = opened().locator("#days tbody tr")
    assert rows.count() >= 7
    tripped = [row for row in rows.all() if row.locator("td").last.inner_text() == "1"]
    assert len(tripped) == 1
    with JournalReader(house.journal) as reader:
        (trip,) = (event.at for event in reader.events("north", house.now() - 8 * 86400.0, house.now(), ["trip"]))
        begin = datetime.fromtimestamp(trip).replace(hour=0, minute=0, second=0, microsecond=0).timestamp()
        day = reader.readings("north", begin, begin + 86400.0, 60)
    hottest = max(minute.temperature_max for minute in day if minute.temperature_max is not None)
    warmth = tripped[0].locator("td").nth(3)
    assert warmth.inner_text().split(" to ")[1].split()[0] == f"{hottest * 1.8 + 32.0:.0f}"
    assert warmth.locator(".strip i").evaluate("(strip) => strip.getBoundingClientRect().width") > 2.0


def test_labels_that_would_like_to_be_markup_stay_labels(opened: Open) -> None:
    page, bench = opened("/?bank=south"), opened("/bench?bank=south")
    assert page.locator("#cells h4").all_inner_texts() == ["<b>S1</b>", "S2\"'&"]
    bench.get_by_role("button", name="No thermometer").click()
    expect(bench.locator("#reading-label")).to_have_text("Block <b>S1</b>, cell 1")
    assert page.locator("main b:text-is('S1')").count() == bench.locator("main b:text-is('S1')").count() == 0


def test_a_journal_that_cannot_be_read_leaves_the_answers_and_is_asked_again(opened: Open) -> None:
    page = opened()
    page.route("**/api/curve/**", lambda route: route.fulfill(status=503, json={"error": "busy"}))
    page.reload()
    page.wait_for_selector("html[data-ready=yes]")
    expect(page.locator("#phase")).to_contain_text("holding")
    assert page.locator(".panel canvas").count() == 0
    page.unroute("**/api/curve/**")
    expect(page.locator(".panel canvas").first).to_be_visible()


def test_f47_hostile_text_in_names_and_notes_is_shown_as_text(house: House, opened: Open) -> None:
    hostile = "<img src=x onerror=\"document.title='owned'\"><script>document.title='owned'</script>"
    page, bench = opened(), opened("/bench")
    since = house.now()
    bench.evaluate("localStorage.setItem('revival.by', '<b>keeper</b>')")
    bench.locator("summary", has_text="Volts, amps").click()
    bench.locator("#form-note textarea").fill(hostile)
    bench.locator("#form-note button.first").click()
    expect(bench.locator("#queue")).to_contain_text(STORED)
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
    page = opened("/bench")
    size, asked = weight(page, house.url + "/?bank=north")
    assert size < 400_000
    over_the_air = page.evaluate("performance.getEntries().reduce((sum, one) => sum + (one.transferSize || 0), 0)")
    assert 40_000 < over_the_air < 120_000
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
