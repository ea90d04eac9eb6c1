"""`revival watch`: the banks of a running bridge in the terminal, renewed until Ctrl-C, with curves."""

from __future__ import annotations

import argparse
import sqlite3
import threading
from collections.abc import Callable, Sequence
from functools import partial
from typing import Any

from rich.console import Console, Group, RenderableType
from rich.live import Live
from rich.panel import Panel
from rich.text import Text

from bridge.commands.files import add_config
from bridge.commands.status import words
from bridge.config import Loaded, load
from bridge.errors import BridgeError, JournalError
from bridge.journal.reader import JournalReader
from bridge.report.owner import Units
from bridge.runtime.control_socket import ask
from bridge.words.palette import ANSWER_LEVELS, LEVELS
from bridge.words.sparkline import sparkline

#: The bridge is asked so often [s]; the curves are read anew only every so many times.
EVERY, CURVES_EVERY = 2.0, 15
#: Curves reach so far back, in stretches so wide [s].
BACK, WIDTH = 24 * 3600.0, 1200
#: So many lines stand above the curves.
FIRST = 3
#: Behind the point; one elsewhere.
DIGITS = {"V per cell": 3}


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of the command."""
    add_config(parser)
    parser.add_argument("--once", action="store_true", help="show it once and end")


def run(arguments: argparse.Namespace) -> int:
    """Ask and show, again and again; a bridge that does not answer is told and asked again."""
    loaded = load(arguments.config)
    console = Console()
    if arguments.once:
        answer = ask(loaded.cabin.journal.path, {"ask": "status"})
        console.print(picture(loaded, str(arguments.config), answer, curves(loaded, answer)))
        return 0
    ended = threading.Event()
    drawn: dict[str, list[Text]] = {}
    with Live(console=console, auto_refresh=False) as live:
        turn = 0
        while not ended.is_set():
            try:
                answer = ask(loaded.cabin.journal.path, {"ask": "status"})
                if turn % CURVES_EVERY == 0:
                    drawn = curves(loaded, answer)
                shown = picture(loaded, str(arguments.config), answer, drawn)
            except BridgeError as error:
                shown = Text(f"{error}; asked again", style=LEVELS["permit"].terminal)
            live.update(shown, refresh=True)
            turn += 1
            ended.wait(EVERY)
    return 0


def picture(loaded: Loaded, config: str, answer: dict[str, Any], drawn: dict[str, list[Text]]) -> RenderableType:
    """Draw the bridge in one line, then one panel a bank, the tripped ones first."""
    units = Units.of(loaded.cabin)
    banks = answer.get("banks", {})
    head = words({"bridge": answer["bridge"]})
    panels = []
    for name in sorted(banks, key=lambda name: (not banks[name]["tripped"], name)):
        one = {"bridge": answer["bridge"], "banks": {name: banks[name]}}
        lines = words(one, units.temperature, config, len(banks) > 1)[len(head) :]
        tone = LEVELS[ANSWER_LEVELS[banks[name]["safe"]]].terminal
        # Safe, where, how much; then the curves, so that a low terminal still shows them; then all the rest.
        told = [*map(Text, lines[:FIRST]), *drawn.get(name, ()), *map(Text, lines[FIRST:])]
        panels.append(Panel(Group(*told), title=name, title_align="left", style=tone))
    return Group(*map(Text, head), *panels)


def curves(loaded: Loaded, answer: dict[str, Any]) -> dict[str, list[Text]]:
    """Draw a line each for volts per cell, amps and temperature of the last day; none where the journal is busy."""
    units = Units.of(loaded.cabin)
    found: dict[str, list[Text]] = {}
    try:
        with JournalReader(loaded.cabin.journal.path) as reader:
            for name, state in answer.get("banks", {}).items():
                cells = loaded.cabin.banks[name].cells
                rows = reader.readings(name, state["at"] - BACK, state["at"] + WIDTH, WIDTH)
                volts = [(row.voltage_mean, row.voltage_min, row.voltage_max) for row in rows]
                amps = [(row.current_mean, row.current_min, row.current_max) for row in rows]
                warmth = [(row.temperature_max, row.temperature_min, row.temperature_max) for row in rows]
                found[name] = [
                    _line("V per cell", volts, state["voltage"], partial(_each, cells)),
                    _line("A", amps, state["current"], float),
                    _line(units.sign, warmth, state["temperature"], units.degrees),
                ]
    except (JournalError, sqlite3.Error):
        return {}
    return found


def _each(cells: int, volts: float) -> float:
    return volts / cells


def _line(
    title: str,
    rows: Sequence[tuple[float | None, float | None, float | None]],
    now: float | None,
    owned: Callable[[float], float],
) -> Text:
    """Draw what each stretch shows (drawn, least, most); the ends are of every reading, not of means, and of now."""
    drawn = [None if row[0] is None else owned(row[0]) for row in rows]
    known = [owned(value) for value in (*(value for row in rows for value in row), now) if value is not None]
    ends = "nothing in the last day"
    if known:
        digits = DIGITS.get(title, 1)
        least, most = (round(value, digits) + 0.0 for value in (min(known), max(known)))
        ends = f"{least:.{digits}f} to {most:.{digits}f} in the last day"
    return Text(f"  {title:>10}  {sparkline(drawn, 36)}  {ends}")
