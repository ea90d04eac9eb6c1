"""The templates of reports and sheets: shipped, loaded only to print, strict, and safe with any text."""

from __future__ import annotations

import subprocess
import sys
import tomllib
from collections.abc import Iterator
from fnmatch import fnmatch
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from jinja2 import UndefinedError
from playwright.sync_api import Browser, sync_playwright

from bridge.report.owner import Units
from bridge.report.paper import render
from rules.plan import Plan
from tests.support.brokers import need
from tests.support.made_round import Page

ROOT = Path(__file__).parents[3]
EMPTY = Plan((), (), (), (), (), (), ())


def sheet(site: str, caution: str = "") -> str:
    """A plan of nothing, for this site, with one caution."""
    made = EMPTY._replace(cautions=(caution,))
    return render("plan.html", title="Plan", site=site, made=made, banks=[], units=Units())


@pytest.mark.parametrize(
    "line",
    [
        "import bridge.app",
        "import bridge.commands.report, bridge.commands.plan",
        "from bridge.cli import main\ntry:\n    main(['--help'])\nexcept SystemExit:\n    pass",
    ],
)
def test_only_who_prints_loads_the_template_engine(line: str) -> None:
    words = f"import sys\n{line}\nsys.exit(sorted({{'jinja2', 'markupsafe'}} & set(sys.modules)) or 0)"
    finished = subprocess.run([sys.executable, "-c", words], cwd=ROOT, capture_output=True, text=True, check=False)
    assert (finished.returncode, finished.stderr) == (0, "")


def test_every_template_is_shipped() -> None:
    shipped = tomllib.loads((ROOT / "pyproject.toml").read_text())["tool"]["setuptools"]["package-data"]
    room = ROOT / "bridge/report"
    beside = [
        path.relative_to(room) for path in room.rglob("*") if path.is_file() and path.suffix not in (".py", ".pyc")
    ]
    assert Path("templates/report.html") in beside
    for path in beside:
        assert any(fnmatch(str(path), pattern) for pattern in shipped["bridge.report"]), path


def test_a_template_that_asks_for_what_was_not_told_is_a_fault_and_no_gap_on_paper() -> None:
    with pytest.raises(UndefinedError, match="dates"):
        render("page.html", title="Plan", site="tarn-hut")


#: Everything but what no HTML text can hold: half characters, and controls.
WORDS = st.text(st.characters(exclude_categories=["Cs", "Cc"]), min_size=1)


@given(WORDS, WORDS)
def test_any_text_is_shown_as_it_was_told(site: str, caution: str) -> None:
    page = Page(sheet(site, caution))
    assert [tag for tag, _ in page.tags] == [tag for tag, _ in Page(sheet("tarn-hut", "Caution.")).tags]
    assert site in page.words
    assert Units().words(caution) in page.words


@pytest.fixture(scope="module")
def chromium() -> Iterator[Browser]:
    """Debian's, as a reader of style sheets that is not ours."""
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=need("chromium"), args=["--headless", "--no-sandbox"])
        yield browser
        browser.close()


@pytest.mark.parametrize(
    "site", ["tarn-hut", 'Ann\'s "hut"', "a\\b", "</style><b>x</b>", "one\ntwo", "5 & 6", "2a\\3c b"]
)
def test_the_foot_of_the_paper_says_the_site_whatever_its_name(chromium: Browser, site: str) -> None:
    """A browser without margin boxes drops them; their words are read from an element that is given the same rule."""
    page = chromium.new_page()
    rule = sheet(site).split("@bottom-left { ")[1].split("; font")[0]
    page.set_content(f"<style>p::before {{ {rule} }}</style><p></p>")
    shown = page.evaluate("getComputedStyle(document.querySelector('p'), '::before').content")
    page.close()
    assert shown.startswith('"') and shown.endswith('"')
    told = shown[1:-1].replace("\\a ", "\n").replace('\\"', '"').replace("\\\\", "\\")
    assert told == f"{site}, Plan"
