"""Modules, names and files that docstrings, comments and guides speak of exist: prose that points nowhere is mended."""

from __future__ import annotations

import ast
import importlib
import io
import re
import tokenize
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
#: A dotted name of ours, and a path in the repository.
NAME = re.compile(r"(?<![\w./-])(?:rules|bridge)(?:\.[A-Za-z_]\w*)+")
PLACE = re.compile(r"(?<![\w./-])(?:rules|bridge|tests|docker|sample_messages)/[\w./-]*\w")
#: Dotted names that are files of an owner or of the service manager, and no names of ours.
FILES = (".toml", ".py", ".db", ".md", ".json", ".service")
SOURCES = sorted([*(ROOT / "rules").rglob("*.py"), *(ROOT / "bridge").rglob("*.py")])
GUIDES = sorted(
    [
        *ROOT.glob("*.md"),
        *(guide for room in ("bridge", "rules", "sample_messages") for guide in (ROOT / room).rglob("*.md")),
    ]
)


def exists(name: str) -> bool:
    """Tell whether a dotted name is a module, or something that stands in one; fields of a class count."""
    parts = name.split(".")
    for length in range(len(parts), 0, -1):
        try:
            found: object = importlib.import_module(".".join(parts[:length]))
        except ModuleNotFoundError:
            continue
        for attribute in parts[length:]:
            if not hasattr(found, attribute):
                return attribute in getattr(found, "__annotations__", {})
            found = getattr(found, attribute)
        return True
    return False


def prose(text: str) -> Iterator[str]:
    """Yield the comments and docstrings of a module, examples left out: those run."""
    for token in tokenize.generate_tokens(io.StringIO(text).readline):
        if token.type == tokenize.COMMENT:
            yield token.string
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef):
            yield re.sub(r"^\s*(>>>|\.\.\.).*$", "", ast.get_docstring(node) or "", flags=re.MULTILINE)


def astray(text: str) -> list[str]:
    """Names and paths in a text that nothing stands for."""
    names = [name for name in NAME.findall(text) if not name.endswith(FILES) and not exists(name)]
    return names + [place for place in PLACE.findall(text) if not (ROOT / place).exists()]


@pytest.mark.parametrize("path", SOURCES, ids=lambda path: str(path.relative_to(ROOT)))
def test_what_docstrings_and_comments_name_exists(path: Path) -> None:
    assert [each for text in prose(path.read_text()) for each in astray(text)] == []


@pytest.mark.parametrize("path", GUIDES, ids=lambda path: str(path.relative_to(ROOT)))
def test_what_guides_name_exists(path: Path) -> None:
    assert astray(path.read_text()) == []


def test_a_name_that_moved_is_found() -> None:
    assert astray("see `rules.flags`, bridge/engine.py and `rules.step`") == ["rules.flags", "bridge/engine.py"]
    assert astray("`rules.bank.model.Meter.name` and tests/architecture stand") == []
