"""`revival setup` on a file that is there: hears what has come since, and takes what its owner says is a bank's."""

from __future__ import annotations

import re
from collections import Counter
from itertools import chain, count
from pathlib import Path
from typing import NamedTuple

from bridge.commands.listen import Heard, overhear
from bridge.commands.setup_answers import Asker, proved, read_identifier, read_where, see_that_it_loads, where_of
from bridge.commands.setup_first import completed, printed_of, see_flooded
from bridge.commands.setup_heard import Taken, one_of, shown, taken, taken_and_asked, valued
from bridge.commands.setup_now import runs, tell_flows
from bridge.commands.setup_plug import called, of_its_plug
from bridge.commands.setup_probe import PROBED, TEMPERATURES, as_named, placed_by_option
from bridge.commands.setup_relay import NO_METER, taken_as_meter
from bridge.config import Loaded
from bridge.config.edit import add_bank, add_meter
from bridge.errors import BridgeError, CannotReachError, UnsafeStateError, UsageError
from bridge.listen.banks import Found
from bridge.listen.evidence import ANOTHER_KNOWN, HALF_BELIEVED, SURE_ENOUGH, TAKEN
from bridge.listen.guess import HOTTEST, Guess, told
from bridge.listen.relays import relays
from bridge.listen.vocabulary import BATTERY, ELECTROLYTE, PROBES
from bridge.listen.write import OFFERED, Printed, cabin_file, mapping_lines, placed_by_name

#: Of these one bank has one; a second is asked about and never taken unasked.
_ONE_OF_A_BANK = frozenset({"voltage", "current", "power", "ambient_temperature", "midpoint_voltage"})
#: So many are asked about; a stranger's broker may carry anything.
_ASKED_ABOUT = 12
#: What speaks so strongly against a number that nobody is asked about it [ln odds] (`bridge.listen.evidence`).
_NEVER = -3.5
#: Degrees that a number without a unit may be in, and the coldest acid that is asked about as such [degC] (assumed).
_PLAIN_DEGREES, COLDEST = frozenset({"degC", "degF"}), -15.0


class New(NamedTuple):
    """Something that was heard and is not in the file.

    Attributes
    ----------
    bank : str
        Whose it would be.
    guess : Guess
        What it probably is.
    second : bool
        Whether the file has one of the kind already, of which a bank has one.
    """

    bank: str
    guess: Guess
    second: bool


#: What is heard again for, where nobody says it otherwise.
_NEW_METERS = "for meters that are new"


def hear_again(asker: Asker, loaded: Loaded, why: str = _NEW_METERS) -> Heard | None:
    """Return what the file's broker carries now; None where nobody wants to hear it, or it cannot be heard.

    Parameters
    ----------
    why : str
        What for, in the question whether to; empty where somebody has said already that he wants it.

    Raises
    ------
    CannotReachError
        The broker does not let us in, and nobody is asked.
    """
    arguments, broker = asker.arguments, loaded.cabin.broker
    where = f"{broker.host}:{broker.port}"
    if why and asker.asks and not asker.agreed(f"Hear {where} for {arguments.seconds:g} s, {why}?"):
        return None
    # what somebody is asked about he judges himself
    judged = 0.0 if asker.asks else min(arguments.judge, arguments.seconds)
    try:
        heard = overhear(broker, arguments.topics, arguments.seconds, judged, asker.console, why=why or _NEW_METERS)
    except CannotReachError as error:
        if not asker.asks:
            raise
        asker.console.print(f"nothing new is heard: {error}; on with what the file says", markup=False)
        return None
    if not runs(loaded):
        asker.flowing = tell_flows(asker.console, _as_mapped(heard, loaded))
    return heard


def _as_mapped(heard: Heard, loaded: Loaded) -> list[Found]:
    """Return the file's banks with what was heard of their own meters, as the file reads them."""
    mapped = {(one.topic, one.pointer or one.name): one for one in loaded.routes.mappings}
    own: dict[str, list[Guess]] = {}
    for found in heard.found:
        for one in found.guesses:
            mapping = mapped.get((one.source.topic, one.source.at))
            if mapping is not None:
                sign = "discharging" if mapping.sign < 0 else "charging"
                read = one._replace(quantity=mapping.quantity, sign=sign).because(TAKEN, "its owner says so")
                own.setdefault(mapping.bank, []).append(read)
    return [Found(name, tuple(guesses)) for name, guesses in own.items()]


def new_meters(heard: Heard, loaded: Loaded, bank: str | None) -> list[New]:
    """Return what was heard of the file's banks and is not mapped, the surest first.

    Parameters
    ----------
    bank : str or None
        Only of this one.
    """
    mapped = {(one.topic, one.pointer or one.name): one for one in loaded.routes.mappings}
    degrees: dict[str, set[str]] = {}
    for mapping in mapped.values():
        if mapping.quantity in TEMPERATURES:
            degrees.setdefault(mapping.bank, set()).add(mapping.unit or "")
    found: list[New] = []
    for place in heard.found:
        whose = _whose(place, loaded, heard)
        if whose is None or bank not in {None, whose}:
            continue
        has = {one.quantity for one in mapped.values() if one.bank == whose}
        for one in place.guesses:
            ours = one.sure >= HALF_BELIEVED or _called_ours(one) or _beside(one, whose, loaded)
            if (one.source.topic, one.source.at) in mapped or not ours:
                continue
            own = _in_their_degrees(one, degrees.get(whose, set()))
            found.append(New(whose, own, one.quantity in _ONE_OF_A_BANK & has))
    for whose in loaded.cabin.banks if bank is None else [bank]:
        plug = of_its_plug(loaded, whose, heard.collector)
        drawn = [one for one in plug if one.quantity == "ac_power" and (one.source.topic, one.source.at) not in mapped]
        found = [one for one in found if told(one.guess) not in {told(other) for other in drawn}]
        found += [New(whose, one, False) for one in drawn]
    return sorted(found, key=lambda one: (one.second, -one.guess.sure))


def _called_ours(one: Guess) -> bool:
    """Tell whether a thermometer is called after acid, a probe, a case or a battery, and nothing says it is not ours.

    Its number alone may leave all open, as a plain 71.6 that stands still does: where it sits is asked.
    """
    called = bool(one.words & (ELECTROLYTE | PROBES | BATTERY))
    return one.quantity in TEMPERATURES and called and _may_be_ours(one)


def _beside(one: Guess, bank: str, loaded: Loaded) -> bool:
    """Tell whether a thermometer is called as one of the bank's but for a single part, and nothing says it is not ours.

    As ``barn/second/temp`` beside ``barn/acid/temp``: where it sits is asked.
    """
    own = _parts(one.source.topic, one.source.at)
    theirs = (
        _parts(mapping.topic, mapping.pointer or mapping.name or "")
        for mapping in loaded.routes.mappings
        if mapping.bank == bank and mapping.quantity in TEMPERATURES
    )
    alike = any(
        len(own) == len(parts) and sum(a != b for a, b in zip(own, parts, strict=True)) == 1 and own[0] == parts[0]
        for parts in theirs
    )
    return alike and one.quantity in TEMPERATURES and _may_be_ours(one)


def _may_be_ours(one: Guess) -> bool:
    """Tell whether nothing forbids a thermometer; a second one may have been bought."""
    return all(e.weight > _NEVER or e.name == ANOTHER_KNOWN for e in one.evidence)


def _parts(topic: str, at: str) -> list[str]:
    return [part for part in f"{topic}/{at}".split("/") if part]


def _in_their_degrees(one: Guess, degrees: set[str]) -> Guess:
    """Return a thermometer whose number leaves its degrees open in those of the bank's others, where it can be."""
    if one.quantity not in TEMPERATURES or one.source.unit is not None or len(degrees) != 1:
        return one
    (unit,) = degrees
    as_theirs = one._replace(unit=unit) if unit in _PLAIN_DEGREES else one
    return as_theirs if COLDEST <= as_theirs.value <= HOTTEST else one


def _whose(found: Found, loaded: Loaded, heard: Heard) -> str | None:
    """Return which of the file's banks was heard: that of which most is mapped, or the only one there is."""
    mapped = {(one.topic, one.pointer or one.name): one.bank for one in loaded.routes.mappings}
    votes = Counter(mapped[place] for one in found.guesses if (place := (one.source.topic, one.source.at)) in mapped)
    if votes:
        return votes.most_common(1)[0][0]
    alone = len(loaded.cabin.banks) == 1 and len(heard.found) == 1
    return next(iter(loaded.cabin.banks)) if alone else None


def take_new(asker: Asker, loaded: Loaded, file: Path, text: str, heard: Heard) -> str:
    """Return the text with what was heard anew and is a bank's; in a terminal each is asked about."""
    new = new_meters(heard, loaded, asker.arguments.bank)
    if not new:
        rest = _left_out(heard, loaded, asker.arguments.bank)
        also = f"; heard as well, and likely none of a bank's: {', '.join(rest[:_ASKED_ABOUT])}; --take takes one"
        asker.console.print(
            f"nothing that is new is likely a bank's{also}"
            if rest
            else "everything that was heard of a bank is in the file",
            markup=False,
        )
    several = asker.asks and len(new) > 1
    for one in _which(asker, new[:_ASKED_ABOUT], loaded) if several else new[:_ASKED_ABOUT]:
        own, placed = _asked(asker, one, loaded, chosen=several) if asker.asks else _sure(asker, one, loaded)
        if own is not None:
            text = _added(asker, file, text, one.bank, own, placed)
    for found in _strangers(loaded, heard):
        what = f"heard as well: {_named_anew(found, loaded)}, {_by_its_volts(found, loaded)}, no bank of this file"
        if not asker.asks:
            asker.console.print(
                f"{what}: revival setup --bank {_named_anew(found, loaded)} takes it in; another --output makes a "
                "file of its own",
                markup=False,
            )
            continue
        asker.console.print(what, markup=False)
        if asker.asked("Watch it as well?", "no", one_of(("yes", "no"))) == "yes":
            try:
                text = _with_bank(asker, loaded, file, text, heard, found._replace(name=_named_anew(found, loaded)))
            except UnsafeStateError as error:
                asker.console.print(f"not watched: {error}", markup=False)
    return text


def take_bank(asker: Asker, loaded: Loaded, file: Path, text: str) -> str:
    """Return the text with a bank that was named, is not in the file and is heard on its broker now.

    Raises
    ------
    UsageError
        Nothing was heard that could be it; names what was.
    """
    wanted = asker.arguments.bank
    known = ", ".join(bank.id for bank in loaded.model.bank)
    try:
        read_identifier(wanted)
        heard = hear_again(asker, loaded)
    except ValueError as error:
        raise UsageError(f"--bank {wanted!r}: {error}") from None
    except CannotReachError as error:
        raise UsageError(f"--bank {wanted}: the file has {known}, and the broker cannot be asked: {error}") from None
    strangers = [] if heard is None else _strangers(loaded, heard)
    named = [found for found in strangers if found.name == wanted] or (strangers if len(strangers) == 1 else [])
    if heard is None or not named:
        as_well = ", ".join(found.name for found in strangers)
        besides = f"another bank was heard as well: {as_well}" if as_well else "no other bank was heard on its broker"
        raise UsageError(f"--bank {wanted}: the file has {known}, and {besides}")
    return _with_bank(asker, loaded, file, text, heard, named[0]._replace(name=wanted))


def _left_out(heard: Heard, loaded: Loaded, bank: str | None) -> list[str]:
    """Return what stands where a bank's meters stand and could be one, but is likely none and not in the file."""
    mapped = {(one.topic, one.pointer or one.name) for one in loaded.routes.mappings}
    first = {one.topic.partition("/")[0] for one in loaded.routes.mappings if bank in {None, one.bank}}
    return [
        told(one)
        for found in heard.found
        for one in found.guesses
        if (one.source.topic, one.source.at) not in mapped
        and one.sure >= OFFERED
        and one.source.topic.partition("/")[0] in first
        and (whose := _whose(found, loaded, heard)) is not None
        and bank in {None, whose}
    ]


def _strangers(loaded: Loaded, heard: Heard) -> list[Found]:
    """Return banks that were heard and are none of the file's."""
    return [found for found in heard.found if found.voltage and _whose(found, loaded, heard) is None]


def _named_anew(found: Found, loaded: Loaded) -> str:
    """Return a name that no bank of the file has."""
    taken_names = {bank.id for bank in loaded.model.bank}
    numbered = (f"{found.name}-{number}" for number in count(2))
    return next(name for name in chain([found.name], numbered) if name not in taken_names)


def _by_its_volts(found: Found, loaded: Loaded) -> str:
    one = found.voltage
    return "" if one is None else f"{valued(one, loaded.cabin.degrees)} on {told(one)}"


def _with_bank(asker: Asker, loaded: Loaded, file: Path, text: str, heard: Heard, found: Found) -> str:
    """Return the text with one more bank, as it was heard and as its owner answers.

    Raises
    ------
    UnsafeStateError
        It is not flooded.
    """
    see_flooded(asker, found.name)
    alone = heard._replace(found=[completed(asker, found, heard, loaded.cabin.degrees)])

    def with_it(bank: Found, said: Printed) -> str:
        block = cabin_file([bank], loaded.cabin.broker, printed={bank.name: said})
        return add_bank(text, block[block.index("[[bank]]") :].splitlines())

    def tried(said: Printed, own: Found) -> None:
        see_that_it_loads(file, with_it(own, said))

    said, bank = printed_of(asker, alone.found[0], alone, tried, one_more=True)
    asker.added.append(bank)
    text = with_it(bank, said)
    asker.console.print(f"{bank.name} is watched as well, with its own [[bank]] in the file", markup=False)
    return text


def take_named(asker: Asker, loaded: Loaded, file: Path, text: str, heard: Heard, bank: str, said: Taken) -> str:
    """Return the text with a value that was named by `--take` and is not in the file yet.

    Raises
    ------
    UsageError
        Nothing there was heard that could be a bank's; names what was.
    """
    plug = {told(one): one for one in of_its_plug(loaded, bank, heard.collector)}
    guesses = [plug.pop(told(one), one) for found in heard.found for one in found.guesses] + list(plug.values())
    mapped = {(one.topic, one.pointer or one.name) for one in loaded.routes.mappings}
    one = next((one for one in guesses if told(one) == said.place), None)
    if one is None:
        relay = loaded.model.bank[[each.id for each in loaded.model.bank].index(bank)].relay
        order = "" if relay is None else relay.topic
        if switched := taken_as_meter(said.place, relays(heard.collector.switches, heard.found), order):
            raise UsageError(f"--take {said.place!r}: {switched}")
        able = ", ".join(sorted({told(one) for one in guesses if (one.source.topic, one.source.at) not in mapped}))
        raise UsageError(f"--take {said.place!r}: {NO_METER}; heard: {able or '-'}")
    if asker.asks and one.quantity in TEMPERATURES and not placed_by_option(asker, said.place):
        usual = placed_by_name(one) if one.quantity == PROBED else "air"
        question = f"Where of {bank} does {said.place} sit: cell, case, or air (around it)?"
        where = asker.asked(question, usual, read_where)
        one = one._replace(quantity=PROBED if where in {"cell", "case"} else "ambient_temperature")
        return _added(asker, file, text, bank, taken(one, said), where)
    own = taken(as_named(asker, one), said)
    return _added(asker, file, text, bank, own, placed_by_option(asker, said.place) or placed_by_name(own))


def _which(asker: Asker, new: list[New], loaded: Loaded) -> list[New]:
    """Ask once which of several are a bank's, instead of asking about each."""
    asker.console.print("new:")
    for number, one in enumerate(new, 1):
        kind = called(one.guess)
        asker.console.print(f"  {number}  {kind} of {one.bank}? {shown(one.guess, loaded.cabin.degrees)}", markup=False)
    usual = " ".join(str(number) for number, one in enumerate(new, 1) if _surely(one)) or "none"

    def read(text: str) -> list[New]:
        words = re.findall(r"\w+", text.lower().replace("and", " "))
        if words in (["none"], ["no"], ["0"]):
            return []
        if words in (["all"], ["both"]):
            return new
        if not words or not all(word.isdecimal() and 1 <= int(word) <= len(new) for word in words):
            raise ValueError(f"numbers from 1 to {len(new)}, such as 1 {len(new)}; or none")
        return [new[number - 1] for number in sorted({int(word) for word in words})]

    return asker.asked("Which of these are a bank's: their numbers, or none?", usual, read)


def _surely(new: New) -> bool:
    """Tell whether a number is surely a bank's, and not the second of which a bank has one."""
    return new.guess.sure >= SURE_ENOUGH and not new.second


def _asked(asker: Asker, new: New, loaded: Loaded, chosen: bool) -> tuple[Guess | None, str]:
    """Ask whether a number is the bank's, unless that is `chosen`; of a thermometer where it sits."""
    one, kind = new.guess, called(new.guess)
    if not chosen:
        asker.console.print(f"new: {shown(one, loaded.cabin.degrees)}", markup=False)
    sure = chosen or _surely(new)
    if chosen and one.quantity not in TEMPERATURES:
        return taken_and_asked(asker, one), ""
    if one.quantity not in TEMPERATURES:
        again = ", of which the file has one" if new.second else ""
        answer = asker.asked(f"Is it the {kind} of {new.bank}{again}?", "yes" if sure else "no", one_of(("yes", "no")))
        return (taken_and_asked(asker, one), "") if answer == "yes" else (None, "")
    usual = placed_by_name(one) if one.quantity == "electrolyte_temperature" else "air"
    where = asker.asked(
        where_of(new.bank, told(one) if chosen else "it"),
        usual if sure else "no",
        read_where,
    )
    if where == "no":
        return None, ""
    quantity = "ambient_temperature" if where == "air" else "electrolyte_temperature"
    return taken_and_asked(asker, one._replace(quantity=quantity)), where


def _sure(asker: Asker, new: New, loaded: Loaded) -> tuple[Guess | None, str]:
    """Take what is surely the bank's; say by which option the rest is taken."""
    one = new.guess
    if _surely(new):
        return one, placed_by_name(one)
    asker.console.print(f"not taken: {shown(one, loaded.cabin.degrees)}: {_by_option(one)}", markup=False)
    return None, ""


def _by_option(one: Guess) -> str:
    """Return the option that takes a value, with what its number leaves open."""
    place = told(one)
    if one.quantity != "electrolyte_temperature":
        return f'--take "{place}" takes it'
    degrees = "" if one.source.unit else f" as {one.unit}"
    return f'--take "{place}{degrees}" --probe "{place}={placed_by_name(one)}" takes it, if it sits there'


def _added(asker: Asker, file: Path, text: str, bank: str, one: Guess, placed: str) -> str:
    """Return the text with one more mapping, if it loads with it; else say which lines were meant."""
    lines = mapping_lines(one, {told(one): placed})
    names = [each.id for each in proved(file, text).model.bank]
    try:
        changed = add_meter(text, names.index(bank), told(one), lines)
        proved(file, changed)
    except BridgeError as error:
        asker.console.print(f"{told(one)} is not added: {error}", markup=False)
        asker.console.print("\n".join(lines), markup=False)
        return text
    where = f", {placed}" if one.quantity == "electrolyte_temperature" else ""
    asker.console.print(f"{told(one)} is now the {called(one)} of {bank}{where}", markup=False)
    return changed
