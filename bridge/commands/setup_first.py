"""`revival setup` for the first time: hears the broker, asks only what cannot be heard, and writes the file."""

from __future__ import annotations

import getpass
import os
from dataclasses import replace
from itertools import chain, count
from pathlib import Path

from pydantic import SecretStr

from bridge.commands.listen import PAGE, Heard, broker_of, let_in, located, overhear, show
from bridge.commands.setup_answers import (
    ASSUMED,
    AUTO_OFF,
    CHARGER,
    POWER_ON,
    SEALED,
    STATE,
    UNKNOWN,
    Asker,
    keep,
    read_address,
    read_auto_off,
    read_block,
    read_count,
    read_identifier,
    read_power_on,
    read_probe,
    read_topic,
    read_yes,
    say_words,
)
from bridge.config.edit import add_table
from bridge.config.text import read_chargers
from bridge.errors import UnsafeStateError, UsageError
from bridge.listen.banks import FAHRENHEIT, Found
from bridge.listen.evidence import SURE_ENOUGH, TAKEN
from bridge.listen.guess import Guess, told
from bridge.listen.relays import HeardRelay, relays
from bridge.listen.write import OFFERED, VOLTS_PER_CELL, Printed, RelayWords, cells_heard
from bridge.mqtt.ear import LoginRefusedError
from bridge.settings import BrokerSettings
from rules.bank import QUANTITIES

#: Without one of these there is little to watch, so an offered one is asked about [quantity].
ESSENTIAL = ("voltage", "current", "electrolyte_temperature")
#: So many candidates are shown for each.
SHOWN = 4


def make_file(asker: Asker, file: Path) -> None:
    """Hear the broker, ask for the rest, and write the cabin file."""
    arguments = asker.arguments
    if not asker.answer("flooded", "Has every cell of the bank a cap for water (flooded)?", "yes", read_yes):
        raise UnsafeStateError(SEALED)
    settings, secret = _let_in(asker, file)
    judged = min(arguments.judge, arguments.seconds)
    named = "" if arguments.bank is None else read_identifier(arguments.bank)
    heard = overhear(settings, arguments.topics, arguments.seconds, judged, asker.console, named)
    show(asker.console, heard)
    site = asker.answer("site", "What is this place called?", "cabin", read_identifier)
    found = _wanted(asker, [_completed(asker, bank) for bank in heard.found])
    heard = heard._replace(found=found)
    printed = {bank.name: _printed(asker, bank, heard) for bank in found}
    page = asker.answer("page", "The live page: at which address (none for no page)?", PAGE, read_address)
    text = heard.file(settings, secret, printed, site)
    if page:
        scale = _degrees(asker, found)
        text = add_table(text, "[page]", [f'listen = "{page}"', *([f'temperature = "{scale}"'] if scale else [])])
    keep(file, text)
    asker.console.print(f"{file} written", markup=False)


def _degrees(asker: Asker, found: list[Found]) -> str:
    """Return the scale of page and paper: as it was asked for, else that of every thermometer; empty = the usual."""
    given: str | None = asker.arguments.degrees
    if given is not None:
        return given
    live = [one for bank in found for one in bank.guesses if one.sure >= SURE_ENOUGH]
    said = {one.unit or one.source.unit for one in live if QUANTITIES[one.quantity].unit == "degC"}
    if not said or not said <= FAHRENHEIT:
        return ""
    asker.console.print(
        "every thermometer says Fahrenheit, so page, plan and paper will; --degrees degC changes that", markup=False
    )
    return "degF"


def _let_in(asker: Asker, file: Path) -> tuple[BrokerSettings, str]:
    """Return broker settings that work; a login is asked for when it is refused, and kept in a file of its own."""
    settings, secret = broker_of(asker.arguments)
    settings = located(settings, asker.arguments, asker.console, asker.agreed)
    written: list[Path] = []
    while True:
        try:
            return let_in(settings, asker.arguments.protocol, asker.console), secret
        except LoginRefusedError as error:
            if not asker.asks:
                raise LoginRefusedError(f"{error}: give --username and --password-file") from None
            asker.console.print(f"{error}", markup=False)
            user = asker.answer("username", "User name at the broker?", settings.username or "revival", str)
            password = getpass.getpass("Its password (kept in a file that only you can read): ")
            kept = free(file.absolute().parent / "broker-password", written)
            written.append(kept)
            handle = os.open(kept, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
            with os.fdopen(handle, "w", encoding="utf-8") as stream:
                stream.write(password)
            settings = replace(settings, username=user, password=SecretStr(password))
            asker.arguments.username = None  # a second refusal asks again
            secret = f'password_file = "{kept.name}"'
            asker.console.print(f"kept in {kept}", markup=False)


def free(kept: Path, ours: list[Path]) -> Path:
    """Return a name that no other secret has: what somebody else keeps beside the file is never written over."""
    numbered = (kept.with_name(f"{kept.name}-{number}") for number in count(2))
    return next(path for path in chain([kept], numbered) if path in ours or not path.exists())


def _wanted(asker: Asker, found: list[Found]) -> list[Found]:
    """Return the banks to watch: all, or the one that was named."""
    wanted = asker.arguments.bank
    if wanted is None or len(found) == 1:
        return found
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
        if live or not offered:
            continue
        if not asker.asks:
            best = f"{told(offered[0])}, {offered[0].value:.2f} {QUANTITIES[quantity].unit}"
            asker.console.print(
                f"{bank.name}: nothing is surely its {quantity.replace('_', ' ')}; the likeliest is {best}: "
                f'--take "{told(offered[0])}" takes it',
                markup=False,
            )
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
    return one.because(TAKEN, "its owner says so")


def _printed(asker: Asker, bank: Found, heard: Heard) -> Printed:
    """Ask what is printed on the blocks, how the charger is set, where the probe sits, which relay."""
    name = bank.name if len(heard.found) > 1 else "The bank"
    volts, capacity = asker.answer("block", f"{name}: what is printed on one block?", "6 V 200 Ah", read_block)
    strings = asker.answer("strings", f"{name}: strings in parallel?", str(bank.shape.strings or 1), read_count)
    per_string = _per_string(asker, name, bank, volts)
    assumed = _assumed(asker, bank, strings, volts, capacity, per_string)
    if assumed:
        asker.console.print(f"{name}: {assumed}", markup=False)
    chargers = asker.answer("charger", f"{name}: {CHARGER}", "-", read_chargers)
    placed = "case"
    if any(one.quantity == "electrolyte_temperature" for one in bank.guesses if one.sure >= SURE_ENOUGH):
        placed = asker.answer("probe", f"{name}: probe in a cell, or on the case?", "case", read_probe)
    relay, words = _relay(asker, name, relays(heard.collector.sources))
    return Printed(strings, volts, capacity, chargers, placed, relay, words, per_string, assumed)


def _per_string(asker: Asker, name: str, bank: Found, volts: float) -> int:
    """Ask how many blocks of so many volts stand in series: every voltage of the round hangs on it.

    Raises
    ------
    UsageError
        Nobody is asked, and what was heard leaves more than one answer or none.
    """
    each, heard = round(volts / VOLTS_PER_CELL), cells_heard(bank)
    by = f" ({bank.voltage.value:.1f} V was heard)" if bank.voltage is not None else ""
    usual = str(heard[0] // each) if heard and heard[0] % each == 0 else ""
    if not asker.asks and asker.arguments.blocks is None and (len(heard) != 1 or not usual):
        raise UsageError(
            f"{name}: how many blocks of {volts:g} V stand in series in one string is not certain{by}, and every "
            "voltage of the round hangs on it: give --blocks N"
        )
    return asker.answer("blocks", f"{name}: blocks in series in one string?{by}", usual, read_count)


def _assumed(asker: Asker, bank: Found, strings: int, volts: float, capacity: float, per_string: int) -> str:
    """Say what of the bank nobody answered, where nobody is asked: the voltages and amps of the round hang on it."""
    if asker.asks:
        return ""
    cells = per_string * round(volts / VOLTS_PER_CELL)
    heard = "" if bank.voltage is None else f" by the {bank.voltage.value:.1f} V that was heard"
    said = {
        "block": f"blocks of {volts:g} V {capacity:g} Ah",
        "blocks": f"{per_string} of them in series{heard}, so {cells} cells",
        "strings": f"{strings} string{'s' if strings > 1 else ''} in parallel",
    }
    open_ = [f"{words} (--{option})" for option, words in said.items() if getattr(asker.arguments, option) is None]
    return f"{ASSUMED}: {', '.join(open_)}; setup again with the option corrects it" if open_ else ""


def _relay(asker: Asker, name: str, heard: list[HeardRelay]) -> tuple[HeardRelay | None, RelayWords]:
    """Ask for the relay in the charger's AC feed; usually none, since the first round is watched only."""
    orders = [one.topic for one in heard if one.topic][:SHOWN]
    shown = f" Heard as taking orders: {', '.join(orders)}." if orders else ""

    def order(text: str) -> str:
        for one in heard:
            if one.state_topic == text != one.topic:
                takes = f"{one.topic} takes its orders" if one.topic else "where it takes its orders was not heard"
                raise ValueError(f"{text} is where a relay tells its state; {takes}")
        return read_topic(text)

    topic = asker.answer(
        "relay", f"{name}: the relay in the charger's AC feed, the topic that takes its orders?{shown}", "none", order
    )
    if topic == "none":
        return None, RelayWords()
    known = next((one for one in heard if one.topic == topic), HeardRelay(topic, "", "OFF", "ON", True))
    say_words(asker, known, heard=known in heard)
    state = asker.answer("relay-state", STATE, known.state_topic or "none", read_topic)
    auto_off = asker.answer("auto-off", AUTO_OFF, UNKNOWN, read_auto_off)
    power_on = asker.answer("power-on", POWER_ON, UNKNOWN, read_power_on)
    return known._replace(state_topic="" if state == "none" else state), RelayWords(auto_off, power_on)
