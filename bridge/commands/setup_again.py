"""`revival setup` on a file that is there: changes what is answered anew and keeps the rest, comments included."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from pathlib import Path
from typing import NamedTuple

from bridge.commands.setup_answers import (
    UNKNOWN,
    Asker,
    keep,
    read_address,
    read_auto_off,
    read_block,
    read_count,
    read_identifier,
    read_power_on,
)
from bridge.commands.which_bank import which_bank
from bridge.config import Loaded, load
from bridge.config.edit import add_table, set_key, set_table
from bridge.config.models import RelayTable
from bridge.config.text import read_chargers
from bridge.errors import UsageError
from bridge.listen.relays import HeardRelay
from bridge.listen.write import VOLTS_PER_CELL, RelayWords, blocks_line, chargers_line, escaped, relay_lines

#: Options that belong to one relay.
OF_A_RELAY = ("relay-state", "auto-off", "power-on")


class _Edit(NamedTuple):
    """An answer that can be given again: its question, the present answer, and the text with another one."""

    option: str
    question: str
    present: str
    change: Callable[[str, str], str]


def change_file(asker: Asker, file: Path) -> None:
    """Ask for what the file says now; only another answer changes it."""
    loaded = load(file)
    text = before = file.read_text("utf-8")
    edits = list(_edits(asker, loaded))
    if not asker.asks and all(getattr(asker.arguments, edit.option.replace("-", "_")) is None for edit in edits):
        known = ", ".join(f"--{edit.option}" for edit in edits)
        raise UsageError(
            f"{file} exists already and nothing is asked to change: give one of {known}, or another --output"
        )
    for edit in edits:
        answer = asker.answer(edit.option, edit.question, edit.present, str)
        if answer != edit.present:
            try:
                text = edit.change(text, answer)
            except ValueError as error:
                raise UsageError(f"--{edit.option} {answer!r}: {error}") from None
    if text == before:
        asker.console.print(f"{file} says so already; nothing is changed", markup=False)
        return
    keep(file, text)
    asker.console.print(f"{file} changed; everything else stays as it was", markup=False)


def _edits(asker: Asker, loaded: Loaded) -> Iterable[_Edit]:
    model = loaded.model
    names = [bank.id for bank in model.bank]
    place = names.index(which_bank(names, asker.arguments.bank))
    table = model.bank[place]
    cells = table.blocks.cells * table.blocks.per_string

    def blocks(text: str, answer: str) -> str:
        volts, capacity = read_block(answer)
        each = round(volts / VOLTS_PER_CELL)
        if cells % each:
            raise ValueError(f"{cells} cells cannot be made of blocks of {each}")
        return set_key(text, "[[bank]]", place, blocks_line(cells // each, each, capacity))

    def relay(text: str, answer: str) -> str:
        given = asker.arguments
        if table.relay is not None:
            # Another relay is another thing: what the first does by itself is no promise of this one's.
            kept = ", ".join(f"--{one}" for one in OF_A_RELAY if getattr(given, one.replace("-", "_")) is None)
            asker.console.print(
                f"nothing that was said of {table.relay.topic} is taken for true of {answer}"
                + (f"; not said yet: {kept}" if kept else ""),
                markup=False,
            )
        words = RelayWords(read_auto_off(given.auto_off or UNKNOWN), read_power_on(given.power_on or UNKNOWN))
        lines = relay_lines(HeardRelay(answer, given.relay_state or "", "OFF", "ON", True), words)
        return set_table(text, place, "[bank.relay]", lines[2:])

    def page(text: str, answer: str) -> str:
        line = f'listen = "{read_address(answer)}"'
        return set_key(text, "[page]", 0, line) if model.page else add_table(text, "[page]", [line])

    chargers = [(one.volts, one.amps, one.starts_at or 0.0) for one in table.chargers]
    yield _Edit(
        "site", "The place's name?", model.site.id, lambda t, a: set_key(t, "[site]", 0, f'id = "{read_identifier(a)}"')
    )
    yield _Edit(
        "strings",
        "Strings in parallel?",
        str(table.strings),
        lambda t, a: set_key(t, "[[bank]]", place, f"strings = {read_count(a)}"),
    )
    present = f"{VOLTS_PER_CELL * table.blocks.cells:g} V {table.blocks.capacity:g} Ah"
    yield _Edit("block", "What is printed on one block?", present, blocks)
    yield _Edit(
        "charger", "Charger settings?", ", ".join(map(_setting, chargers)) or "-",
        lambda t, a: set_key(t, "[[bank]]", place, chargers_line(read_chargers(a))),
    )  # fmt: skip
    yield _Edit("relay", "The relay's order topic?", table.relay.topic if table.relay else "none", relay)
    if table.relay is not None and asker.arguments.relay in (None, table.relay.topic):
        number = sum(bank.relay is not None for bank in model.bank[:place])
        yield from _relay_edits(table.relay, number)
    yield _Edit("page", "The live page's address?", model.page.listen if model.page else "none", page)


def _relay_edits(relay: RelayTable, number: int) -> Iterable[_Edit]:
    """Return what can be said anew of a relay that stays where it is, the file's `number`-th from 0."""

    def said(key: str, read: Callable[[str], str]) -> Callable[[str, str], str]:
        def change(text: str, answer: str) -> str:
            if not (value := read(answer)):
                raise ValueError(f"the file says what is known: take the line {key} out by hand")
            return set_key(text, "[bank.relay]", number, f'{key} = "{escaped(value)}"')

        return change

    auto_off = UNKNOWN if relay.auto_off is None else f"{relay.auto_off:g} s" if relay.auto_off else "none"
    state = relay.state_topic or "none"
    yield _Edit(
        "relay-state", "Where does it tell its state?", state, said("state_topic", lambda a: "" if a == "none" else a)
    )
    yield _Edit("auto-off", "It opens by itself after?", auto_off, said("auto_off", read_auto_off))
    yield _Edit(
        "power-on", "When its power comes back, it is?", relay.power_on or UNKNOWN, said("power_on", read_power_on)
    )


def _setting(one: tuple[float, float, float]) -> str:
    volts, amps, start = one
    return f"{volts:g} V {amps:g} A" + (f" from {start:g} V" if start else "")
