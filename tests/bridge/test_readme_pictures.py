"""The pictures of README and guides show the screens as they are: whoever changes one makes its picture again."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from tests.bench.pictures import FOLDER, MADE_OF, SOURCES, made_of

TOP = Path(__file__).parents[2]
GUIDES = [TOP / "README.md", *(TOP / "bridge").rglob("*.md")]


@pytest.mark.parametrize("name", SOURCES)
def test_no_picture_is_older_than_its_screen(name: str) -> None:
    assert json.loads(MADE_OF.read_text())[name] == made_of(name), (
        f"{name}.png: one of {', '.join(SOURCES[name])} has changed since; run python -m tests.bench.pictures, look at "
        "each picture, and commit them"
    )


def test_readme_and_guides_show_every_picture_there_is() -> None:
    texts = "".join(path.read_text() for path in GUIDES)
    shown = set(re.findall(r"!\[[^\]]+\]\((?:\.\./\.\./)?tests/browser/pictures/(\w+)\.png\)", texts))
    assert shown == set(SOURCES) == {path.stem for path in FOLDER.glob("*.png")}
