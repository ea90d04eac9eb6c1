"""Whatever stands in a cabin file or on the command line ends in an answer and an exit code, never in a traceback.

Files are made from the JSON schema and from a sound file with parts taken away, doubled, exchanged and damaged; lines
from the options that each command has. `--hypothesis-profile=explore` draws other ones, and more.
"""

from __future__ import annotations

import argparse
import contextlib
import copy
import io
import json
import math
import tempfile
import tomllib
from collections.abc import Iterator
from pathlib import Path
from random import Random
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.cli import COMMANDS, build_parser, main
from bridge.config import json_schema

#: Answers that the command line has; 1 and 70 would be a defect of the program.
ANSWERS = frozenset({0, 2, 4, 5, 78})
SOUND = """
[site]
id = "tarn-hut"
[broker]
host = "127.0.0.1"
port = 1
[journal]
path = "revival.db"
keep = "90 days"
[page]
listen = "127.0.0.1:0"
temperature = "degF"
[hub]
discovery = "homeassistant"
[[bank]]
id = "north"
strings = 2
blocks = { per_string = 4, cells = 3, capacity = "200 Ah", labels = ["N1", "N2", "N3", "N4", "N5", "N6", "N7", "N8"] }
chargers = [ { volts = "28.8 V", amps = "50 A", starts_at = "6 V" }, { volts = "32 V", amps = "25 A" } ]
equalise = "32 V"
hold = { minimum = "16 h", maximum = "24 h", starts = "at-voltage" }
limits = { temperature = "110 degF", string_current = "30 A" }
charger_compensation = "-5 mV/K"
water_reserve = "120 g"
presence = "12 h"
hydrometer_reference = "80 degF"
[[bank.meter]]
topic = "cabin/shunt"
style = "json"
pointer = "/dc/mv"
quantity = "voltage"
unit = "mV"
time = "/t"
[[bank.meter]]
topic = "cabin/amps"
quantity = "current"
unit = "A"
decimal = ","
[[bank.meter]]
topic = "cabin/probe"
quantity = "electrolyte_temperature"
unit = "degC"
placed = "cell"
[bank.relay]
topic = "cabin/charger/set"
state_topic = "cabin/charger/state"
cut = "OFF"
allow = "ON"
auto_off = "90 s"
power_on = "open"
"""
WORDS = (
    "", " ", "0", "-1", "32", "32 V", "2.67 V", "1e999 V", "nan V", "25 A", "-3 A", "200 Ah", "0 Ah", "90 s", "16 h",
    "99999999 days", "110 degF", "-300 degC", "120 g", "30.4 Be", "-5 mV/K", "north", "N1", "N1.2", "N1.2=1.265", "é",
    "cabin/#", "+/x", "a\x00b", "😀", "homie/5", "json", "/a/b", "at-current", "OFF", "none", "127.0.0.1:8080", "1,5",
    "[::1]:1", "localhost:99999", "low", "yesterday", "14:10", "2026-11-25T07:00", "20 min ago", "x" * 400, "split",
    "../../etc", "--", "-", "=", "keep", "1.265", "1265",
)  # fmt: skip
OTHERS: tuple[Any, ...] = (
    True, False, 0, -1, 1, 3, 2**70, 0.0, -0.5, 1e308, math.nan, math.inf, [], {}, [[]], ["a", 1], {"a": {"b": []}},
)  # fmt: skip


def as_toml(value: Any) -> str:
    """A value inline, as TOML writes it."""
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{json.dumps(key)} = {as_toml(each)}" for key, each in value.items()) + " }"
    if isinstance(value, list):
        return "[ " + ", ".join(as_toml(each) for each in value) + " ]"
    if isinstance(value, float) and not math.isfinite(value):
        return "nan" if math.isnan(value) else "inf"
    return json.dumps(value, ensure_ascii=False) if not isinstance(value, str) else json.dumps(value)


SCHEMA = json_schema()
NAMES = sorted({name for table in (SCHEMA, *SCHEMA["$defs"].values()) for name in table.get("properties", {})})  # type: ignore[attr-defined]


def places(node: Any) -> Iterator[tuple[Any, Any]]:
    """Every place of a document that holds a value: its container, and its key."""
    for key in list(node) if isinstance(node, dict) else range(len(node)) if isinstance(node, list) else ():
        yield node, key
        yield from places(node[key])


def changed(dice: Random, document: Any) -> None:
    """One change: a value taken away, exchanged, doubled, moved, or a key of the schema put where it may not belong."""
    container, key = dice.choice(list(places(document)))
    kind = dice.randrange(6)
    if kind == 0:
        del container[key]
    elif kind in (1, 2):
        container[key] = dice.choice(WORDS) if kind == 1 else copy.deepcopy(dice.choice(OTHERS))
    elif kind == 3 and isinstance(container, list):
        container.append(copy.deepcopy(container[key]))
    elif kind == 4:
        _, other = dice.choice(list(places(document)))
        if isinstance(container, dict) and isinstance(other, str):
            container[other] = container.pop(key)
    elif isinstance(container, dict):
        container[dice.choice(NAMES)] = copy.deepcopy(dice.choice((*OTHERS, *WORDS)))


def damaged(dice: Random, text: str) -> bytes:
    """The file as an editor, a card or a slip of the hand may leave it."""
    lines = text.splitlines()
    kind, at = dice.randrange(8), dice.randrange(len(lines))
    if kind == 0:
        del lines[at]
    elif kind == 1:
        lines.insert(at, dice.choice(lines))
    elif kind == 2:
        return text[: dice.randrange(len(text))].encode()
    elif kind == 3:
        raw = bytearray(text.encode())
        raw[dice.randrange(len(raw))] = dice.randrange(256)
        return bytes(raw)
    elif kind == 4:
        return text.encode(dice.choice(("utf-8-sig", "utf-16", "utf-32")))
    elif kind == 5:
        lines[at] = lines[at].replace("[[", "[").replace("]]", "]")
    elif kind == 6:
        lines[at] = lines[at].replace('"', dice.choice(("", "'", "“")), dice.randrange(1, 3))
    else:
        return text.replace("\n", "\r\n").replace(dice.choice("=[]{},"), dice.choice("=[]{},"), 1).encode()
    return "\n".join(lines).encode()


def answered(words: list[str]) -> tuple[int, str]:
    """Exit code of one line and all that it said; whatever escapes is the failure."""
    out, told = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(told):
        try:
            code = main(words)
        except SystemExit as end:
            code = int(end.code or 0)
    return code, out.getvalue() + told.getvalue()


@pytest.fixture(scope="module")
def file() -> Iterator[Path]:
    with tempfile.TemporaryDirectory() as folder:
        yield Path(folder) / "cabin.toml"


def judge_file(file: Path, content: bytes) -> None:
    file.write_bytes(content)
    code, said = answered(["check", "--config", str(file)])
    assert code in ANSWERS, (code, said)
    assert said.strip(), "an answer without a word"
    if code == 78:
        assert "cabin.toml" in said, said
    else:
        for line in (["plan"], ["plan", "--json"], ["status"], ["checklist"], ["verdict", "north"], ["report"]):
            code, said = answered([*line, "--config", str(file)])
            assert code in ANSWERS and said.strip(), (line, code, said)


@settings(max_examples=settings.default.max_examples * 3)  # type: ignore[union-attr]
@given(dice=st.randoms(use_true_random=False), changes=st.integers(1, 4))
def test_any_table_ends_in_a_sentence(file: Path, dice: Random, changes: int) -> None:
    document = tomllib.loads(SOUND)
    for _ in range(changes):
        if document:
            changed(dice, document)
    text = "\n".join(f"{json.dumps(key)} = {as_toml(value)}" for key, value in document.items())
    judge_file(file, text.encode("utf-8", "replace"))


@settings(max_examples=settings.default.max_examples * 2)  # type: ignore[union-attr]
@given(dice=st.randoms(use_true_random=False))
def test_any_damage_to_the_file_ends_in_a_sentence(file: Path, dice: Random) -> None:
    judge_file(file, damaged(dice, SOUND))


#: These wait for a broker, or serve, until somebody ends them: their lines are parsed here, and run elsewhere.
SERVING = frozenset({"run", "demo", "listen", "setup", "rehearse", "watch"})


def options_of(command: str) -> tuple[argparse.ArgumentParser, list[str]]:
    """The command's parser, and its option words."""
    (sub,) = (action for action in build_parser(command)._actions if isinstance(action, argparse._SubParsersAction))
    parser = sub.choices[command]
    return parser, [word for action in parser._actions for word in action.option_strings if word != "--config"]


@settings(max_examples=settings.default.max_examples * 4)  # type: ignore[union-attr]
@given(dice=st.randoms(use_true_random=False), command=st.sampled_from(sorted(COMMANDS)), length=st.integers(0, 6))
def test_any_line_ends_in_a_sentence(file: Path, dice: Random, command: str, length: int) -> None:
    file.write_text(SOUND)
    parser, options = options_of(command)
    choices = [str(word) for action in parser._actions for word in action.choices or ()]
    pool = (*options, *choices, *choices, *WORDS, "north", "--", "-x")
    line = [dice.choice(pool) for _ in range(length)]
    if command in SERVING:
        with contextlib.redirect_stderr(io.StringIO()), contextlib.redirect_stdout(io.StringIO()):
            try:
                parser.parse_known_args(line)
            except SystemExit as end:
                assert end.code in (0, 2)
        return
    with tempfile.TemporaryDirectory() as folder, contextlib.chdir(folder):
        code, said = answered([command, *line, *([] if command == "config" else ["--config", str(file)])])
    assert code in ANSWERS, (command, line, code, said)
    assert "Traceback" not in said
