"""The house as HOUSE's law wants it: few rooms, each with its idea in one sentence, entered by the door."""

from __future__ import annotations

import ast
import graphlib
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
#: What stands at the top of the repository, and nothing else.
TOP = {
    "README.md",
    "DEVELOPERS.md",
    "LICENSE",
    "pyproject.toml",
    "bridge",
    "rules",
    "tests",
    "docker",
    "sample_messages",
}
RULES_ROOMS = {
    "laws", "bank", "meters", "phase", "remaining", "hand", "verdict", "safety", "advice", "plan", "step",
}  # fmt: skip
BRIDGE_ROOMS = {
    "mqtt", "intake", "runtime", "journal", "outlets", "words", "config", "commands", "listen", "rehearsal", "page",
    "report", "demo", "fleet",
}  # fmt: skip
RULES_FILES = {"__init__", "events", "bank_view"}
BRIDGE_FILES = {"__init__", "__main__", "app", "cli", "clock", "errors", "mailbox", "message", "settings", "units"}


def modules(side: str) -> list[Path]:
    return sorted((ROOT / side).rglob("*.py"))


def imports(path: Path) -> Iterator[ast.ImportFrom]:
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.module:
            yield node


def test_the_top_level_is_fixed() -> None:
    listed = subprocess.run(
        ["git", "ls-tree", "--name-only", "HEAD"], cwd=ROOT, capture_output=True, text=True, check=True
    ).stdout.split()
    assert {name for name in listed if not name.startswith(".")} == TOP


@pytest.mark.parametrize(
    ("side", "rooms", "files"), [("rules", RULES_ROOMS, RULES_FILES), ("bridge", BRIDGE_ROOMS, BRIDGE_FILES)]
)
def test_every_module_stands_in_a_room(side: str, rooms: set[str], files: set[str]) -> None:
    folder = ROOT / side
    assert {path.stem for path in folder.glob("*.py")} == files
    assert {path.name for path in folder.iterdir() if (path / "__init__.py").exists()} == rooms


@pytest.mark.parametrize("room", sorted([*(f"rules/{r}" for r in RULES_ROOMS), *(f"bridge/{r}" for r in BRIDGE_ROOMS)]))
def test_every_room_says_its_idea_in_one_sentence(room: str) -> None:
    words = ast.get_docstring(ast.parse((ROOT / room / "__init__.py").read_text("utf-8"))) or ""
    first = words.split("\n\n")[0]
    assert first[:1].isupper() and first.endswith(".")


def test_nobody_reaches_past_the_door_of_a_room_of_the_rules() -> None:
    """Names of another room come from its door; a whole module may be taken where the door offers none of its names."""
    past = []
    for path in [*modules("rules"), *modules("bridge")]:
        here = path.relative_to(ROOT).parts
        for node in imports(path):
            parts = (node.module or "").split(".")
            if parts[0] == "rules" and len(parts) == 3 and here[:2] != ("rules", parts[1]):
                past.append(f"{'/'.join(here)}: from {node.module} import {', '.join(a.name for a in node.names)}")
    assert past == []


@pytest.mark.parametrize("room", sorted(RULES_ROOMS))
def test_a_door_offers_nothing_that_nobody_takes(room: str) -> None:
    door = ast.parse((ROOT / "rules" / room / "__init__.py").read_text("utf-8"))
    offered = {
        name
        for node in door.body
        if isinstance(node, ast.Assign) and getattr(node.targets[0], "id", "") == "__all__"
        for name in ast.literal_eval(node.value)
    }
    taken = {
        alias.name
        for path in [*modules("rules"), *modules("bridge"), *modules("tests")]
        if path.parent != ROOT / "rules" / room
        for node in imports(path)
        if node.module == f"rules.{room}"
        for alias in node.names
    }
    assert offered - taken == set()


def taken_from() -> dict[str, set[str]]:
    """Module -> the modules of this repository that it imports, also those imported for their types alone."""
    names = {}
    for path in [*modules("bridge"), *modules("rules")]:
        parts = path.relative_to(ROOT).with_suffix("").parts
        names[".".join(parts[:-1] if parts[-1] == "__init__" else parts)] = path
    return {
        name: {
            whole if (whole := f"{node.module}.{alias.name}") in names else node.module or ""
            for node in imports(path)
            for alias in node.names
            if (node.module or "").partition(".")[0] in ("bridge", "rules")
        }
        for name, path in names.items()
    }


def test_no_file_imports_in_a_circle() -> None:
    """`graphlib` (standard library) raises `CycleError` with the files of a circle."""
    order = list(graphlib.TopologicalSorter(taken_from()).static_order())
    assert order.index("rules.laws") < order.index("rules.step") < order.index("bridge.app")
