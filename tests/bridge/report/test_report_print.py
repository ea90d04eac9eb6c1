"""The report on paper and in a browser without a network or scripts: a real Chromium lays it out and prints it."""

from __future__ import annotations

import re
from collections.abc import Iterator
from io import BytesIO
from pathlib import Path

import pytest
from playwright.sync_api import Browser, sync_playwright
from pypdf import PdfReader

from tests.support.brokers import need
from tests.support.made_round import (
    ACTS,
    END,
    HOUR,
    PHASES,
    STATES,
    T0,
    Page,
    hand,
    remembered,
    report,
    whole_round,
    write,
)

#: Width and height [mm], and the margins that the page asks for.
PAPERS = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}
SIDES, TOP, BOTTOM = 14.0, 14.0, 16.0
SHEETS = [(), ("--handover",), ("--units", "degF")]
#: Elements that reach further than the page does.
TOO_WIDE = """() => [...document.querySelectorAll('body *')]
    .filter(each => each.getBoundingClientRect().right > document.documentElement.clientWidth + 1)
    .map(each => each.tagName + ' ' + each.textContent.slice(0, 40))"""
#: Heights of what is not parted between two pages [px].
UNPARTED = "() => [...document.querySelectorAll('tr, svg, .whole')].map(each => each.getBoundingClientRect().height)"


def pixels(millimetres: float) -> int:
    """In CSS."""
    return int(millimetres / 25.4 * 96.0)


@pytest.fixture(scope="module")
def chromium() -> Iterator[Browser]:
    """Debian's, without anything that would reach out."""
    flags = ["--headless", "--no-sandbox", "--disable-gpu", "--disable-background-networking", "--no-first-run"]
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=need("chromium"), args=flags)
        yield browser
        browser.close()


@pytest.fixture(scope="module")
def journal(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The cabin file of the made-up round."""
    return whole_round(tmp_path_factory.mktemp("round"))


@pytest.mark.parametrize("options", SHEETS)
@pytest.mark.parametrize("paper", PAPERS)
def test_it_prints_on_few_pages_of_the_paper_that_is_in_the_printer(
    chromium: Browser, journal: Path, paper: str, options: tuple[str, ...]
) -> None:
    page = chromium.new_page()
    page.set_content(report(journal, *options))
    printed = page.pdf(format=paper)
    page.close()
    width, height = (millimetres / 25.4 * 72.0 for millimetres in PAPERS[paper])
    boxes = [tuple(map(float, box.split())) for box in re.findall(rb"/MediaBox\s*\[([^\]]+)\]", printed)]
    assert len(boxes) <= (3 if "--handover" in options else 5)
    for box in boxes:
        assert box == pytest.approx((0.0, 0.0, width, height), abs=1.0)


@pytest.mark.parametrize("options", SHEETS)
@pytest.mark.parametrize("paper", PAPERS)
def test_nothing_is_cut_at_the_edge_and_whatever_is_not_parted_fits_on_a_page(
    chromium: Browser, journal: Path, paper: str, options: tuple[str, ...]
) -> None:
    width, height = PAPERS[paper]
    page = chromium.new_page(viewport={"width": pixels(width - 2 * SIDES), "height": pixels(height - TOP - BOTTOM)})
    page.emulate_media(media="print")
    page.set_content(report(journal, *options))
    assert page.evaluate(TOO_WIDE) == []
    assert max(page.evaluate(UNPARTED)) < pixels(height - TOP - BOTTOM)
    page.close()


def test_no_page_begins_or_ends_with_one_row_of_a_table_alone(chromium: Browser, tmp_path: Path) -> None:
    # From just too few rows for a second page to some more: each is printed, and each row is looked for.
    notes = [hand(24.0 + number / 10, "note", {}, note=f"entry {number:02}") for number in range(46)]
    whole = report(write(tmp_path, PHASES + notes, remembered(), states=STATES))
    head, _, body = whole.partition("<body>")
    table = head + "<body>" + body[body.index("<h2>Done and noted") : body.index('<div class="whole"><h2>Cautions')]
    rows = re.findall(r"<tr>\s*(?:<td[^>]*>[^<]*</td>){2}<td[^>]*>entry \d\d, by Ann</td>\s*</tr>\s*", table)
    assert len(rows) == len(notes)
    page = chromium.new_page()
    tried = 0
    for count in range(len(rows), 20, -1):
        page.set_content(table.replace("".join(rows[count:]), ""))
        sheets = [sheet.extract_text() for sheet in PdfReader(BytesIO(page.pdf(format="A4"))).pages]
        held = [len(re.findall(r"entry \d\d", sheet)) for sheet in sheets]
        assert sum(held) == count and 1 not in held, (count, held)
        if len(held) == 1:
            break
        tried += 1
    page.close()
    assert tried > 3 and held == [count], "down to the table that fits on one page, or the break was never tried"


@pytest.mark.parametrize("options", SHEETS)
def test_a_string_of_large_blocks_and_long_words_stays_within_the_page(
    chromium: Browser, tmp_path: Path, options: tuple[str, ...]
) -> None:
    walk = {f"N{block}.{cell}": 1.2 for block in range(1, 5) for cell in range(1, 13)}
    noted = [
        hand(hours, "gravity", walk, temperature=26.6667, under_charge=True, note="long" * 100) for hours in (1.0, 20.0)
    ]
    path = write(tmp_path, PHASES + ACTS + noted, remembered(), states=STATES)
    path.write_text(path.read_text().replace("cells = 3", "cells = 12"))
    page = chromium.new_page(viewport={"width": pixels(210.0 - 2 * SIDES), "height": 1000})
    page.emulate_media(media="print")
    page.set_content(report(path, *options))
    assert page.evaluate(TOO_WIDE) == []
    assert page.get_by_text("N4.12" if "--handover" in options else "N4, 7 to 12").count() >= 1
    page.close()


def test_on_a_phone_only_tables_move_sideways(chromium: Browser, journal: Path) -> None:
    page = chromium.new_page(viewport={"width": 360, "height": 740})
    page.set_content(report(journal))
    assert page.evaluate("document.documentElement.scrollWidth") <= 360
    page.close()


@pytest.mark.parametrize("options", SHEETS)
def test_it_is_read_without_scripts_and_asks_for_nothing(
    chromium: Browser, journal: Path, tmp_path: Path, options: tuple[str, ...]
) -> None:
    file = tmp_path / "report.html"
    text = report(journal, *options)
    file.write_text(text, encoding="utf-8")
    context = chromium.new_context(java_script_enabled=False, offline=True, color_scheme="dark")
    asked: list[str] = []
    page = context.new_page()
    page.on("request", lambda request: asked.append(request.url))
    page.goto(file.as_uri())
    shown = " ".join(page.inner_text("body").split())
    context.close()
    assert asked == [file.as_uri()]
    assert "Cautions" in shown and "KEEP" not in shown
    for words in Page(text).rows[0]:
        assert " ".join(words.split()) in shown


def test_paper_stays_paper_in_a_dark_browser(chromium: Browser, journal: Path) -> None:
    page = chromium.new_page(color_scheme="dark")
    page.set_content(report(journal))
    style = "getComputedStyle(document.body)"
    assert page.evaluate(f"[{style}.color, {style}.backgroundColor]") == ["rgb(17, 17, 17)", "rgb(255, 255, 255)"]
    page.close()


def test_the_curve_is_drawn_with_its_phases_its_trip_and_every_measured_minute(
    chromium: Browser, journal: Path
) -> None:
    page = chromium.new_page(viewport={"width": 1000, "height": 900})
    page.set_content(report(journal))
    names = page.locator("svg.curve text").all_text_contents()
    wanted = ("waking", "bulk", "holding", "resting", "trip", "hold band from 2.64")
    assert [name for name in wanted if name not in names] == []
    lines = page.locator("svg.curve polyline").all()
    assert len(lines) == 3, "volts, amps, temperature"
    frame = page.locator("svg.curve .frame").first.bounding_box()
    assert frame is not None
    for line in lines:
        box = line.bounding_box()
        assert box is not None
        place = (box["x"] - frame["x"]) / frame["width"]
        assert place == pytest.approx(30 * HOUR / (END - T0), abs=0.01), "measured thirty hours after the begin"
    page.close()
