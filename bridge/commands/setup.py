"""`revival setup`: hears the broker, asks only what cannot be heard, writes one file, checks it and plays it once.

Every answer can be given as an option; with `--yes` nothing is asked. Run again on a file that is there it changes what
is answered and keeps the rest, comments included.
"""

from __future__ import annotations

import argparse
import getpass
import os
import re
import sys
from collections.abc import Callable, Iterable
from dataclasses import replace
from importlib.util import find_spec
from pathlib import Path
from typing import NamedTuple, TypeVar

from pydantic import SecretStr
from rich.console import Console

from bridge import units
from bridge.commands import check, rehearse
from bridge.commands.listen import PAGE, Heard, add_broker, broker_of, let_in, located, overhear, show
from bridge.commands.which_bank import which_bank
from bridge.config import Loaded, load
from bridge.config.edit import add_table, set_key, set_table
from bridge.config.models import AUTO_OFF, RelayTable
from bridge.config.text import read_chargers
from bridge.config.types import HOMIE_ID
from bridge.errors import BridgeError, UnsafeStateError, UsageError
from bridge.listen.banks import Found
from bridge.listen.evidence import SURE_ENOUGH
from bridge.listen.guess import Guess, told
from bridge.listen.judge import JUDGED
from bridge.listen.relays import HeardRelay, relays
from bridge.listen.write import (
    OFFERED,
    VOLTS_PER_CELL,
    Printed,
    RelayWords,
    blocks_line,
    chargers_line,
    escaped,
    relay_lines,
)
from bridge.mqtt.ear import LoginRefusedError
from bridge.settings import BrokerSettings
from rules.bank import QUANTITIES

T = TypeVar("T")

FILE = Path("cabin.toml")
#: Without one of these there is little to watch, so an offered one is asked about [quantity].
ESSENTIAL = ("voltage", "current", "electrolyte_temperature")
#: So many candidates are shown for each.
SHOWN = 4
#: The answer of an owner who does not know; the file then says nothing, and `check` asks for it.
UNKNOWN = "unknown"
#: Options that belong to one relay.
OF_A_RELAY = ("relay-state", "auto-off", "power-on")
#: Blocks in a string, and strings in a bank, at most; the largest block that is sold in one case [V].
MOST_OF_A_KIND, LARGEST_BLOCK = 32, 48


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add every answer as an option."""
    parser.add_argument("--output", type=Path, default=FILE, metavar="FILE", help=f"the cabin file, default {FILE}")
    parser.add_argument("--yes", action="store_true", help="ask nothing: what is not given takes the usual answer")
    hear = parser.add_argument_group("hearing the broker")
    add_broker(hear)
    hear.add_argument("--topics", default="#", metavar="FILTER", help="what to listen to, default everything (#)")
    hear.add_argument("--seconds", type=float, default=60.0, help="how long, default 60; longer hears slow meters")
    hear.add_argument(
        "--judge", type=float, default=JUDGED, metavar="SECONDS", help="then judge on live traffic so long"
    )
    answers = parser.add_argument_group("answers that no traffic gives")
    answers.add_argument("--site", metavar="ID", help="what the place is called")
    answers.add_argument("--bank", metavar="ID", help="which bank the answers are for; not needed where there is one")
    answers.add_argument("--strings", metavar="N", help="strings in parallel")
    answers.add_argument("--block", metavar='"6 V 200 Ah"', help="what is printed on one block: volts, ampere-hours")
    answers.add_argument("--flooded", choices=("yes", "no"), help="has every cell a cap for water?")
    answers.add_argument(
        "--charger", metavar='"28.8 V 50 A from 20 V, 32 V 50 A"',
        help="its settings in the order of use, and the bank volts at which it starts; - where not known",
    )  # fmt: skip
    answers.add_argument("--probe", choices=("cell", "case"), help="temperature probe in a cell's acid, or on a case")
    answers.add_argument(
        "--take", action="append", default=[], metavar='"TOPIC [POINTER]"', help="an offered value that is the bank's"
    )
    answers.add_argument("--relay", metavar="TOPIC", help="the relay in the charger's AC feed; none for watch only")
    answers.add_argument("--relay-state", metavar="TOPIC", help="where it tells its state")
    answers.add_argument("--auto-off", metavar='"90 s"', help="it opens so long after the last allow; none, unknown")
    answers.add_argument(
        "--power-on", choices=("open", "closed", "unknown"), help="the relay when its power comes back"
    )
    answers.add_argument("--page", metavar="HOST:PORT", help=f"the live page's address, usually {PAGE}; none")
    parser.add_argument(
        "--rehearse", action=argparse.BooleanOptionalAction, help="play an overheating bank through the new file"
    )


class Asker:
    """Answers from options, else from the terminal, else the usual one.

    Parameters
    ----------
    arguments : argparse.Namespace
        What was given.
    console : Console
        Where questions and remarks are shown.
    """

    def __init__(self, arguments: argparse.Namespace, console: Console) -> None:
        self.arguments, self.console = arguments, console
        self.asks = not arguments.yes and sys.stdin.isatty()

    def answer(self, option: str, question: str, usual: str, read: Callable[[str], T]) -> T:
        """Return one answer; an option that makes no sense is refused, a typed one is asked again.

        Raises
        ------
        UsageError
            The option cannot be read.
        """
        given = getattr(self.arguments, option.replace("-", "_"))
        if given is not None:
            try:
                return read(str(given))
            except ValueError as error:
                raise UsageError(f"--{option} {given!r}: {error}") from None
        while self.asks:
            try:
                return read(self._typed(f"{question} [{usual}]: ") or usual)
            except ValueError as error:
                self.console.print(f"   {error}", markup=False)
        return read(usual)

    def choice(self, question: str, count: int) -> int | None:
        """Return a number from 1 to `count` as typed, less one; None for none of them."""
        while self.asks:
            typed = self._typed(f"{question} [0 = none]: ") or "0"
            if typed.isdecimal() and int(typed) <= count:
                return int(typed) - 1 if int(typed) else None
        return None

    def agreed(self, question: str) -> bool:
        """Tell whether somebody says yes; where nothing is asked, nobody says no."""
        return not self.asks or self._typed(f"{question} [yes]: ").lower() in ("", "y", "yes")

    def _typed(self, question: str) -> str:
        self.console.print(question, end="", markup=False)
        line = sys.stdin.readline()
        if not line:
            raise UsageError("the answers ended before the questions did: give the rest as options, or --yes")
        return line.strip()


def run(arguments: argparse.Namespace) -> int:
    """Make the file, or change it; then check, rehearse, and say what comes next."""
    console = Console(stderr=True, highlight=False)
    asker = Asker(arguments, console)
    file: Path = arguments.output
    if file.exists():
        _change(asker, file)
    else:
        _make(asker, file)
    loaded = load(file)
    print("\n".join(check.as_text(check.describe(loaded))))
    _rehearse(asker, file, loaded)
    print("\n".join(_next(file, loaded)))
    return 0


# ------------------------------------------------------------------------------------------------- the first time


def _make(asker: Asker, file: Path) -> None:
    arguments = asker.arguments
    if not asker.answer("flooded", "Has every cell of the bank a cap for water (flooded)?", "yes", _yes):
        raise UnsafeStateError(
            "sealed, gel and AGM batteries are refused: equalising voltages are for flooded cells only; others cannot "
            "be refilled with the water that the hold drives out, and may vent or burn"
        )
    settings, secret = _let_in(asker, file)
    judged = min(arguments.judge, arguments.seconds)
    heard = overhear(settings, arguments.topics, arguments.seconds, judged, asker.console)
    show(asker.console, heard)
    site = asker.answer("site", "What is this place called?", "cabin", _identifier)
    found = _wanted(asker, [_completed(asker, bank) for bank in heard.found])
    heard = heard._replace(found=found)
    printed = {bank.name: _printed(asker, bank, heard) for bank in found}
    page = asker.answer("page", "The live page: at which address (none for no page)?", PAGE, _address)
    text = heard.file(settings, secret, printed, site)
    if page:
        text = add_table(text, "[page]", [f'listen = "{page}"'])
    _written(file, text)
    asker.console.print(f"{file} written", markup=False)


def _let_in(asker: Asker, file: Path) -> tuple[BrokerSettings, str]:
    """Return broker settings that work; a login is asked for when it is refused, and kept in a file of its own."""
    settings, secret = broker_of(asker.arguments)
    settings = located(settings, asker.arguments, asker.console, asker.agreed)
    while True:
        try:
            return let_in(settings, asker.arguments.protocol, asker.console), secret
        except LoginRefusedError as error:
            if not asker.asks:
                raise LoginRefusedError(f"{error}: give --username and --password-file") from None
            asker.console.print(f"{error}", markup=False)
            user = asker.answer("username", "User name at the broker?", settings.username or "revival", str)
            password = getpass.getpass("Its password (kept in a file that only you can read): ")
            kept = file.absolute().parent / "broker-password"
            handle = os.open(kept, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
            with os.fdopen(handle, "w", encoding="utf-8") as stream:
                stream.write(password)
            settings = replace(settings, username=user, password=SecretStr(password))
            asker.arguments.username = None  # a second refusal asks again
            secret = f'password_file = "{kept.name}"'


def _wanted(asker: Asker, found: list[Found]) -> list[Found]:
    """Return the banks to watch: all, or the one that was named."""
    wanted = asker.arguments.bank
    if wanted is None or len(found) == 1:
        return [found[0]._replace(name=_identifier(wanted))] if wanted is not None else found
    chosen = [bank for bank in found if bank.name == wanted]
    if not chosen:
        raise UsageError(f"--bank {wanted}: heard are {', '.join(bank.name for bank in found)}")
    return chosen


def _completed(asker: Asker, bank: Found) -> Found:
    """Return offered values that the owner takes; asked only for what nothing live shows."""
    taken = {" ".join(place.split()) for place in asker.arguments.take}
    guesses = [_taken(one) if told(one) in taken else one for one in bank.guesses]
    unknown = taken - {told(one) for one in guesses}
    if unknown:
        raise UsageError(f"--take {sorted(unknown)[0]!r}: nothing there was heard that could be a bank's")
    for quantity in ESSENTIAL:
        live = any(one.quantity == quantity and one.sure >= SURE_ENOUGH for one in guesses)
        offered = [one for one in guesses if one.quantity == quantity and OFFERED <= one.sure < SURE_ENOUGH][:SHOWN]
        if live or not offered or not asker.asks:
            continue
        asker.console.print(f"{bank.name}: nothing is surely its {quantity}. Heard:", markup=False)
        for number, one in enumerate(offered, 1):
            unit = QUANTITIES[quantity].unit
            asker.console.print(f"  {number}  {told(one)}: {one.value:.2f} {unit}; {one.reasons[-1]}", markup=False)
        chosen = asker.choice(f"Which one is its {quantity}?", len(offered))
        if chosen is not None:
            guesses = [_taken(one) if one is offered[chosen] else one for one in guesses]
    return bank._replace(guesses=tuple(sorted(guesses, key=lambda one: -one.sure)))


def _taken(one: Guess) -> Guess:
    return one.because("taken by hand", "its owner says so")


def _printed(asker: Asker, bank: Found, heard: Heard) -> Printed:
    """Ask what is printed on the blocks, how the charger is set, where the probe sits, which relay."""
    name = bank.name if len(heard.found) > 1 else "The bank"
    volts, capacity = asker.answer("block", f"{name}: what is printed on one block?", "6 V 200 Ah", _block)
    strings = asker.answer("strings", f"{name}: strings in parallel?", str(bank.shape.strings or 1), _count)
    chargers = asker.answer("charger", f"{name}: charger settings, - where not known?", "-", read_chargers)
    placed = "case"
    if any(one.quantity == "electrolyte_temperature" for one in bank.guesses if one.sure >= SURE_ENOUGH):
        placed = asker.answer("probe", f"{name}: probe in a cell, or on the case?", "case", _placed)
    relay, words = _relay(asker, name, relays(heard.collector.sources))
    return Printed(strings, volts, capacity, chargers, placed, relay, words)


def _relay(asker: Asker, name: str, heard: list[HeardRelay]) -> tuple[HeardRelay | None, RelayWords]:
    """Ask for the relay in the charger's AC feed; usually none, since the first round is watched only."""
    shown = f" Heard: {', '.join(one.topic or one.state_topic for one in heard[:SHOWN])}." if heard else ""
    topic = asker.answer(
        "relay", f"{name}: the relay in the charger's AC feed, the topic that takes its orders?{shown}", "none", str
    )
    if topic == "none":
        return None, RelayWords()
    known = next((one for one in heard if one.topic == topic), HeardRelay(topic, "", "OFF", "ON", True))
    state = asker.answer("relay-state", "Where does it tell its state?", known.state_topic or "none", str)
    auto_off = asker.answer(
        "auto-off", "It opens by itself so long after the last order (90 s; none: it cannot)?", UNKNOWN, _auto_off
    )
    power_on = asker.answer(
        "power-on", "And when its own power comes back, is it open or closed (it must be open)?", UNKNOWN, _power_on
    )
    return known._replace(state_topic="" if state == "none" else state), RelayWords(auto_off, power_on)


# ------------------------------------------------------------------------------------------------ changed again


class _Edit(NamedTuple):
    """An answer that can be given again: its question, the present answer, and the text with another one."""

    option: str
    question: str
    present: str
    change: Callable[[str, str], str]


def _change(asker: Asker, file: Path) -> None:
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
    _written(file, text)
    asker.console.print(f"{file} changed; everything else stays as it was", markup=False)


def _edits(asker: Asker, loaded: Loaded) -> Iterable[_Edit]:
    model = loaded.model
    names = [bank.id for bank in model.bank]
    place = names.index(which_bank(names, asker.arguments.bank))
    table = model.bank[place]
    cells = table.blocks.cells * table.blocks.per_string

    def blocks(text: str, answer: str) -> str:
        volts, capacity = _block(answer)
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
        words = RelayWords(_auto_off(given.auto_off or UNKNOWN), _power_on(given.power_on or UNKNOWN))
        lines = relay_lines(HeardRelay(answer, given.relay_state or "", "OFF", "ON", True), words)
        return set_table(text, place, "[bank.relay]", lines[2:])

    def page(text: str, answer: str) -> str:
        line = f'listen = "{_address(answer)}"'
        return set_key(text, "[page]", 0, line) if model.page else add_table(text, "[page]", [line])

    chargers = [(one.volts, one.amps, one.starts_at or 0.0) for one in table.chargers]
    yield _Edit(
        "site", "The place's name?", model.site.id, lambda t, a: set_key(t, "[site]", 0, f'id = "{_identifier(a)}"')
    )
    yield _Edit(
        "strings",
        "Strings in parallel?",
        str(table.strings),
        lambda t, a: set_key(t, "[[bank]]", place, f"strings = {_count(a)}"),
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
    yield _Edit("auto-off", "It opens by itself after?", auto_off, said("auto_off", _auto_off))
    yield _Edit("power-on", "When its power comes back, it is?", relay.power_on or UNKNOWN, said("power_on", _power_on))


def _setting(one: tuple[float, float, float]) -> str:
    volts, amps, start = one
    return f"{volts:g} V {amps:g} A" + (f" from {start:g} V" if start else "")


def _written(file: Path, text: str) -> None:
    """Replace the file whole or not at all, and only by one that loads."""
    beside = file.with_name(f".{file.name}.new")
    beside.write_text(text, "utf-8")
    try:
        load(beside)
    except BridgeError as error:
        beside.unlink()
        raise type(error)(str(error).replace(str(beside), str(file))) from None
    beside.replace(file)


# --------------------------------------------------------------------------------------------------------- after


def _rehearse(asker: Asker, file: Path, loaded: Loaded) -> None:
    wanted = asker.arguments.rehearse
    if wanted is None:
        wanted = asker.asks and asker.answer("rehearse", "Play an overheating bank through it now?", "yes", _yes)
    if not wanted:
        return
    for bank in loaded.cabin.banks:
        try:
            rehearse.run(argparse.Namespace(config=file, bank=bank, embedded=_embedded(), json=False))
        except BridgeError as error:
            asker.console.print(f"not rehearsed: {error}", markup=False)


def _embedded() -> bool:
    return find_spec("iotcore") is not None


def _next(file: Path, loaded: Loaded) -> Iterable[str]:
    """Say what comes next, in the order in which it is done."""
    yield "next:"
    yield f"  revival check --config {file} --connect     each topic once, through its mapping"
    yield f"  revival run --config {file}                 the service; Ctrl-C ends it"
    if loaded.model.page is not None:
        yield f"  http://{loaded.model.page.listen}/                          the live page, once it runs"
    if any(bank.relay is not None for bank in loaded.cabin.banks.values()):
        yield f"  revival prove --config {file}               the real relay, before the first round"
    yield "  as a service of this host: `revival service install` says what it does, and what root has to do"


def _identifier(text: str) -> str:
    if not re.fullmatch(HOMIE_ID, text):
        slug = re.sub(r"[^a-z0-9]+", "-", text.lower()).strip("-")
        raise ValueError(f"lower case letters, digits and hyphens, such as {slug or 'tarn-hut'}")
    return text


def _address(text: str) -> str:
    if text == "none":
        return ""
    if not re.fullmatch(r"(\[[0-9a-fA-F:.]+\]|[^:\s\[\]]+):\d{1,5}", text):
        raise ValueError(f"an address and a port, such as {PAGE}")
    return text


def _yes(text: str) -> bool:
    if text.lower() not in {"yes", "y", "no", "n"}:
        raise ValueError("yes or no, please")
    return text.lower().startswith("y")


def _count(text: str) -> int:
    if not text.isdecimal() or not 1 <= int(text) <= MOST_OF_A_KIND:
        raise ValueError(f"a whole number from 1 to {MOST_OF_A_KIND}")
    return int(text)


def _placed(text: str) -> str:
    if text not in {"cell", "case"}:
        raise ValueError("cell or case, please: it decides which temperature limit counts")
    return text


def _block(text: str) -> tuple[float, float]:
    text = re.sub(r"(?<=\d),(?=\d)", ".", text)
    found = re.fullmatch(r"\s*([\d.]+)\s*V?[\s,x]+([\d.]+)\s*(Ah)?\s*", text, re.IGNORECASE)
    if found is None:
        raise ValueError("volts and ampere-hours of one block, as in 6 V 200 Ah")
    volts, capacity = float(found[1]), float(found[2])
    if not volts or volts % VOLTS_PER_CELL or volts > LARGEST_BLOCK or not capacity:
        raise ValueError("a block has 2, 4, 6, 8, 12 ... V and some ampere-hours")
    return volts, capacity


def _auto_off(text: str) -> str:
    if text == UNKNOWN:
        return ""
    if text == "none":
        return text
    seconds = units.parse(text, "s")
    if not AUTO_OFF[0] <= seconds <= AUTO_OFF[1]:
        raise ValueError('between "15 s" and "1 h"; "90 s" suits most')
    return text


def _power_on(text: str) -> str:
    """Return what can be written: only open, since closed is mended at the relay, not in the file."""
    if text == "closed":
        raise ValueError("set the relay itself to be open when its power comes back, then answer open")
    if text not in {"open", UNKNOWN}:
        raise ValueError("open or unknown, please: it is a setting of the relay itself")
    return "" if text == UNKNOWN else text
