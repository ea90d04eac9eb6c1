"""The experience file: taken whole or not at all, with the key that mends it; it travels with the cabin file."""

from __future__ import annotations

from pathlib import Path

import pytest

from bridge.config import compiled, load, told
from bridge.config.experience import text_of
from bridge.errors import ConfigError
from rules.bank import NO_EXPERIENCE, Experience, Lesson

CABIN = """
[site]
id = "tarn-hut"
[[bank]]
id = "north"
blocks = { per_string = 4, cells = 3, capacity = "200 Ah", made = 2011 }
"""
HELD = Experience(12, (Lesson("bulk", "any", 12, 1.4, 0.3), Lesson("bulk", "low", 7, 1.55, 0.25)))
NAMED = CABIN + '[experience]\nfile = "experience.toml"\n'


def _written(folder: Path, cabin: str, experience: str | None) -> Path:
    path = folder / "cabin.toml"
    path.write_text(cabin, encoding="utf-8")
    if experience is not None:
        (folder / "experience.toml").write_text(experience, encoding="utf-8")
    return path


def test_none_is_usual(tmp_path: Path) -> None:
    assert load(_written(tmp_path, CABIN, None)).cabin.banks["north"].experience is NO_EXPERIENCE


@pytest.mark.parametrize("beside", [True, False])
def test_beside_the_cabin_file_or_in_it_it_says_the_same(tmp_path: Path, beside: bool) -> None:
    text = text_of(HELD, 3)
    path = _written(tmp_path, NAMED if beside else CABIN + text, text if beside else None)
    assert load(path).cabin.banks["north"].experience == HELD


def test_it_travels_with_the_cabin_file_and_no_foreign_path_is_read(tmp_path: Path) -> None:
    path = _written(tmp_path, NAMED, text_of(HELD, 3) + '[site]\nid = "other-hut"\n')
    # Only the experience is taken of that file, and with another table in it nothing is.
    with pytest.raises(ConfigError, match="unknown key"):
        load(path)
    path = _written(tmp_path, NAMED, text_of(HELD, 3))
    tables = told(path)
    assert compiled(tables, Path("elsewhere")).cabin.banks["north"].experience == HELD
    assert tables["site"] == {"id": "tarn-hut"}
    with pytest.raises(ConfigError, match="not read here"):
        compiled({**tables, "experience": {"file": "/etc/passwd"}}, Path("elsewhere"))


@pytest.mark.parametrize(
    ("changed", "says"),
    [
        (
            ("longer = 1.4", "longer = 40"),
            r"\[\[experience.lesson\]\] 1 longer = 40: should be less than or equal to 10",
        ),
        (("longer = 1.4", "longer = nan"), "longer"),
        (('part = "bulk"\nsort = "any"', 'part = "bulky"\nsort = "any"'), 'must be "waking", "reviving"'),
        (("rounds = 7", "rounds = 70"), "says 70 rounds of 12: correct one"),
        (("format = 1", "format = 2"), "format 2 is of a newer version; known here: 1"),
        (("format = 1\n", ""), "needs file"),
        (('sort = "low"', 'sort = "any"'), "stands twice"),
        (('sort = "any"', 'sort = "flat"'), 'has none of sort = "any"'),
        (("[experience]\n", '[experience]\nfile = "x.toml"\n'), "keep one"),
        (("[experience]\n", "[experience\n"), "is not valid TOML"),
    ],
)
def test_what_is_wrong_is_said_with_the_file_the_key_and_the_fix(
    tmp_path: Path, changed: tuple[str, str], says: str
) -> None:
    text = text_of(HELD, 3)
    assert changed[0] in text
    path = _written(tmp_path, NAMED, text.replace(*changed, 1))
    with pytest.raises(ConfigError, match=says) as refused:
        load(path)
    assert str(refused.value).startswith(f'{path}: [experience] file = "experience.toml": ')


@pytest.mark.parametrize(
    ("experience", "says"),
    [(None, "cannot be read"), ("x" * 200_000, "larger than 100 kB"), ('[experience]\nfile = "y"\n', "another file")],
)
def test_no_such_file(tmp_path: Path, experience: str | None, says: str) -> None:
    with pytest.raises(ConfigError, match=says):
        load(_written(tmp_path, NAMED, experience))
