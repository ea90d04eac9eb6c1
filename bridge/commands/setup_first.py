"""`revival setup` for the first time: hears the broker, asks only what cannot be heard, and writes the file."""

from __future__ import annotations

import getpass
import os
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from itertools import chain, count
from pathlib import Path

from pydantic import SecretStr

from bridge.commands.listen import PAGE, Heard, broker_of, let_in, located, overhear, show
from bridge.commands.setup_answers import (
    ASSUMED,
    EQUALISED,
    MOST_OF_A_KIND,
    OF_A_RELAY,
    SEALED,
    Asker,
    Chargers,
    asked_settings,
    doubted,
    keep,
    many,
    read_address,
    read_block,
    read_count,
    read_identifier,
    read_probe,
    read_where,
    read_yes,
    see_that_it_can_be_written,
    see_that_it_loads,
    seen,
    small,
    where_of,
)
from bridge.commands.setup_degrees import scale_of
from bridge.commands.setup_heard import (
    Taken,
    one_of,
    read_taken,
    shown,
    taken,
    taken_and_asked,
    taken_as_strings,
    valued,
)
from bridge.commands.setup_limits import (
    MAINS,
    OPENINGS,
    ceiling,
    limits_given,
    limits_line,
    openings_line,
    read_mains,
    read_openings,
    with_limits,
)
from bridge.commands.setup_now import tell_flows
from bridge.commands.setup_page import TOKEN, TOKEN_FILE, beside
from bridge.commands.setup_plug import heard_outlet, mains, plug_meters, with_plug
from bridge.commands.setup_probe import PROBED, as_named, placed_by_option, said_of, taken_out
from bridge.commands.setup_relay import (
    ENTER_TAKES,
    NO_METER,
    Tried,
    as_heard,
    asked_of,
    likely_one,
    read_order,
    taken_as_meter,
)
from bridge.commands.volts_of_cells import against_cells, no_such_cells
from bridge.config.edit import add_table, set_key
from bridge.errors import UnsafeStateError, UsageError
from bridge.listen.banks import UNNAMED, Found, degrees_of
from bridge.listen.evidence import HALF_BELIEVED, OUTDOORS, SURE_ENOUGH
from bridge.listen.guess import Guess, in_another_unit, told
from bridge.listen.relays import HeardRelay, relays
from bridge.listen.shape import natural
from bridge.listen.vocabulary import AIR, BATTERY
from bridge.listen.write import OFFERED, VOLTS_PER_CELL, Printed, RelayWords, cells_heard, placed_by_name
from bridge.mqtt.ear import LoginRefusedError
from bridge.settings import BrokerSettings
from bridge.words.equalising import mild
from rules.bank import Bank

#: Without one of these there is little to watch, so an offered one is asked about [quantity].
ESSENTIAL = ("voltage", "current", "electrolyte_temperature")
#: Said before a wait in which nothing can be asked yet.
MEANWHILE = (
    "nothing is asked for about {seconds:.0f} s now; what is asked then, to look up meanwhile: volts and ampere-hours "
    "on a block, how many in series and in parallel, the charger's settings, and of a relay its order topic, its "
    "auto-off and how it is when its power comes back"
)
#: So many candidates are shown for each.
SHOWN = 4


def make_file(asker: Asker, file: Path) -> list[Found]:
    """Hear the broker, ask for the rest, and write the cabin file; every answer is tried when it is given.

    Returns
    -------
    list of Found
        The banks that the file watches, as they were heard.
    """
    arguments = asker.arguments
    see_that_it_can_be_written(file)
    if arguments.flooded == "no":
        raise UnsafeStateError(SEALED)
    said = [option for option in OF_A_RELAY if getattr(arguments, option.replace("-", "_")) is not None]
    if said and (arguments.relay == "none" or (arguments.relay is None and not asker.asks)):
        raise UsageError(f"--{said[0]}: is said of a relay: name its order topic as well, --relay TOPIC")
    named = _see_options(asker)
    # a broker that is not there is told before anybody has answered anything
    settings, secret = _let_in(asker, file)
    judged = min(arguments.judge, arguments.seconds)
    see_flooded(asker)
    if asker.asks:
        asker.console.print(MEANWHILE.format(seconds=arguments.seconds + judged), markup=False)
    if arguments.relay is not None:
        _see_orders(asker, [])  # by its name, before anybody waits
    heard = overhear(settings, arguments.topics, arguments.seconds, judged, asker.console, named)
    if arguments.relay is not None:
        _see_orders(asker, relays(heard.collector.switches, heard.found))
    show(asker.console, heard, arguments.degrees)
    asker.flowing = tell_flows(asker.console, heard.found)
    asker.heard = heard.collector
    site = asker.answer("site", "What is this place called?", "cabin", read_identifier)
    area = "" if arguments.openings is None else asker.answer("openings", OPENINGS, "none", read_openings)
    scale = arguments.degrees or degrees_of(heard.found)
    found = _wanted(asker, [completed(asker, bank, heard, scale) for bank in heard.found])
    heard = heard._replace(found=found)
    _see_each_flooded(asker, found)
    if len(found) == 1 and not named:
        _say_name(asker, found[0].name)
    spoken_in = scale_of(asker, found, heard)
    printed: dict[str, Printed] = {}

    def written(banks: list[Found], more: dict[str, Printed], page: str = "", token: bool = False) -> str:
        text = heard._replace(found=banks).file(settings, secret, {**printed, **more}, site)
        if spoken_in:
            text = set_key(text, "[site]", 0, f'temperature = "{spoken_in}"')
        if area:
            text = set_key(text, "[site]", 0, openings_line(area))
        if not page:
            return text
        return add_table(text, "[page]", [f'listen = "{page}"', *([TOKEN_FILE] if token else [])])

    for number, bank in enumerate(found):

        def tried(said: Printed, own: Found, before: list[Found] = found[:number]) -> None:
            # without the banks behind it, of which nobody has said anything yet
            see_that_it_loads(file, written([*before, own], {own.name: said}))

        printed[bank.name], found[number] = printed_of(asker, bank, heard, tried, list(printed.values()))
    _see_probes(asker, found)
    asker.bank = ""
    page = asker.answer(
        "page",
        "The live page: at which address (none for no page)?",
        PAGE,
        seen(read_address, lambda address: see_that_it_loads(file, written(found, {}, address))),
    )
    token = bool(page) and asker.answer("token", TOKEN, "yes", read_yes)
    if token:
        beside(asker, file)  # a file that names it loads only where it is
    keep(file, written(found, {}, page, token))
    asker.console.print(f"{file} written", markup=False)
    return found


def _see_options(asker: Asker) -> str:
    """Refuse what cannot be before anybody waits; return what the bank is called, where somebody has said it."""
    named = ""
    for option in ("site", "bank"):
        if getattr(asker.arguments, option) is not None:
            named = asker.answer(option, "", "", read_identifier)
    if asker.arguments.ac_voltage is not None:
        asker.answer(MAINS, "", "", read_mains)
    if asker.arguments.openings is not None:
        asker.answer("openings", "", "", read_openings)
    return named if asker.arguments.bank is not None else ""


def see_flooded(asker: Asker, name: str = "") -> None:
    """Refuse what is not flooded; asked of the bank of this name, where there are several.

    Raises
    ------
    UnsafeStateError
        Not every cell has a cap for water.
    """
    asker.bank = name
    each = f"{name}: has every cell of it" if name else "Has every cell of the bank"
    if not asker.answer("flooded", f"{each} a cap for water (flooded)?", "yes", read_yes):
        raise UnsafeStateError(f"{name}: {SEALED}" if name else SEALED)


def _see_each_flooded(asker: Asker, found: list[Found]) -> None:
    """Ask it of every bank by its name, where more than one was heard: the first answer was of one of them."""
    if len(found) > 1:
        asker.assumed = [one for one in asker.assumed if one.option != "flooded"]
        for bank in found:
            see_flooded(asker, bank.name)


def _say_name(asker: Asker, name: str) -> None:
    told_so = f"the bank is called {name}" if name != UNNAMED else f"no topic names the bank: it is called {name}"
    asker.console.print(f"{told_so}; --bank NAME calls it otherwise", markup=False)
    if not asker.asks:
        asker.assume("bank", name)


def _see_orders(asker: Asker, heard: list[HeardRelay]) -> None:
    """Refuse a relay's topic that takes no orders, before anything is asked."""
    asker.answer("relay", "", "", read_order(asker, heard, lambda one: None))


def _see_probes(asker: Asker, found: list[Found]) -> None:
    """Refuse a place that is said of a thermometer which no bank has, and tell where it is said of none."""
    probes = [told(one) for bank in found for one in bank.guesses if one.quantity == PROBED and one.sure >= SURE_ENOUGH]
    for place in taken_out(asker):
        raise UsageError(f'--probe "{place}=no" takes a thermometer out of a file, and there is none yet: leave it out')
    for said in said_of(asker):
        if said.place and said.place not in probes:
            known = ", ".join(probes) or "none"
            raise UsageError(
                f'--probe "{said.place}={said.placed}": no electrolyte thermometer of a bank is taken there; taken: '
                f"{known}; --take takes another"
            )
        if not probes:
            asker.console.print(
                f"--probe {said.placed} counts for nothing: no electrolyte thermometer is taken", markup=False
            )


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
            asker.remember("password-file", str(kept))
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


def completed(asker: Asker, bank: Found, heard: Heard, scale: str = "") -> Found:
    """Return offered values that the owner takes; asked only for what nothing live shows."""
    wanted = {one.place: one for one in map(_read_taken, asker.arguments.take)}
    guesses = [taken(as_named(asker, one), wanted[told(one)]) if told(one) in wanted else one for one in bank.guesses]
    unknown = wanted.keys() - {told(one) for one in guesses}
    if unknown:
        place = sorted(unknown)[0]
        switched = taken_as_meter(place, relays(heard.collector.switches, heard.found))
        raise UsageError(f"--take {place!r}: {switched or NO_METER}")
    for quantity in ESSENTIAL:
        if quantity == "current" and asker.asks:
            guesses = _as_strings(asker, bank, guesses)
        as_said = {quantity, "string_current"} if quantity == "current" else {quantity}
        live = any(one.quantity in as_said and one.sure >= SURE_ENOUGH for one in guesses)
        offered = [one for one in guesses if one.quantity == quantity and OFFERED <= one.sure < SURE_ENOUGH][:SHOWN]
        if live or not offered:
            continue
        if not asker.asks:
            best = f"{told(offered[0])}, {valued(offered[0], scale)}"
            asker.console.print(
                f"{bank.name}: nothing is surely its {quantity.replace('_', ' ')}; the likeliest is {best}: "
                f'--take "{told(offered[0])}" takes it',
                markup=False,
            )
            continue
        asker.console.print(f"{bank.name}: nothing is surely its {quantity.replace('_', ' ')}. Heard:", markup=False)
        for number, one in enumerate(offered, 1):
            asker.console.print(f"  {number}  {shown(one, scale)}", markup=False)
        chosen = asker.choice(
            f"Which one is its {quantity.replace('_', ' ')}?", [*map(told, offered)], offered[0].sure >= HALF_BELIEVED
        )
        if chosen is not None:
            own = taken_and_asked(asker, offered[chosen], may_wait=True)
            if own is offered[chosen]:
                asker.open_way[bank.name] = told(own)
            guesses = [own if one is offered[chosen] else one for one in guesses]
    guesses = _air(asker, bank, guesses, scale)
    strings = [one for one in guesses if one.quantity == "string_current" and one.sure >= SURE_ENOUGH]
    shape = bank.shape._replace(strings=len(strings) if strings else bank.shape.strings)
    return bank._replace(guesses=tuple(sorted(guesses, key=lambda one: -one.sure)), shape=shape)


def _air(asker: Asker, bank: Found, guesses: list[Guess], scale: str) -> list[Guess]:
    """Return the guesses with a thermometer that may be the air's where its owner says that it sits.

    Its name often leaves open whether it is the acid's, so that is asked as well.
    """
    air = [one for one in guesses if one.quantity == "ambient_temperature" and one.sure >= OFFERED]
    air = [one for one in air if not any(e.name == OUTDOORS for e in one.evidence)]  # a comment in the file is enough
    offered = [one for one in air if one.sure < SURE_ENOUGH][:SHOWN]
    if not offered or len(air) > len(offered):
        return guesses
    # a number of degrees that no word calls air may be anything's
    likely = offered[0].sure >= HALF_BELIEVED and bool(offered[0].words & (AIR | BATTERY))
    if not asker.asks:
        best = f"{told(offered[0])}, {valued(offered[0], scale)}"
        asker.console.print(
            f'{bank.name}: nothing is surely the air around it; the likeliest is {best}: --take "{told(offered[0])}" '
            "takes it",
            markup=False,
        )
        return guesses
    asker.console.print(f"{bank.name}: nothing is surely the air around it. Heard:", markup=False)
    for number, one in enumerate(offered, 1):
        asker.console.print(f"  {number}  {shown(one, scale)}", markup=False)
    chosen: int | None = 0
    if len(offered) > 1:
        chosen = asker.choice("Which one is at the bank?", [*map(told, offered)], likely)
    if chosen is None:
        return guesses
    one = offered[chosen]
    usual = "air" if likely or len(offered) > 1 else "no"
    where = asker.asked(where_of(bank.name, told(one)), usual, read_where)
    if where == "no":
        return guesses
    own = taken_and_asked(asker, one._replace(quantity="ambient_temperature" if where == "air" else PROBED))
    if where != "air":
        asker.arguments.probe = [*(asker.arguments.probe or []), f"{told(one)}={where}"]  # and is not asked twice
        asker.remember("probe", f"{told(one)}={where}")
    return [own if each is one else each for each in guesses]


def _as_strings(asker: Asker, bank: Found, guesses: list[Guess]) -> list[Guess]:
    """Return the guesses with currents that are one string's each, where somebody says so and no whole was heard."""
    amps = [one for one in guesses if one.quantity in {"current", "string_current"}]
    asked = {"which of several", "a second one", "a share"}
    some = [one for one in amps if one.sure >= HALF_BELIEVED and any(e.name in asked for e in one.evidence)]
    if len(some) <= 1 or any(one.sure >= SURE_ENOUGH for one in amps):
        return guesses
    some.sort(key=lambda one: natural(one.source))
    asker.console.print(
        f"{bank.name}: no current of the whole was heard, but of what may be its strings:", markup=False
    )
    for number, one in enumerate(some, 1):
        asker.console.print(f"  {number}  {shown(one)}", markup=False)
    if asker.asked("Is each one string's, in this order?", "no", one_of(("yes", "no"))) == "no":
        return guesses
    own = {id(one): each for one, each in zip(some, taken_as_strings(asker, some), strict=True)}
    return [own.get(id(one), one) for one in guesses]


def _read_taken(text: str) -> Taken:
    try:
        return read_taken(text)
    except ValueError as error:
        raise UsageError(f"--take {text!r}: {error}") from None


def printed_of(
    asker: Asker,
    bank: Found,
    heard: Heard,
    tried: Callable[[Printed, Found], None],
    before: Sequence[Printed] = (),
    one_more: bool = False,
) -> tuple[Printed, Found]:
    """Ask what is printed on the blocks, how the charger is set, where the probe sits, which relay.

    The file is tried with every answer at its own question: none is asked again for what another one got wrong.

    Parameters
    ----------
    tried : callable
        Raises a `ValueError` where the file would not load with what was said so far.
    before : sequence of Printed
        What was answered of the banks before it.
    one_more : bool
        Whether the file has a bank already, so that this one is called by its name.

    Returns
    -------
    tuple
        What was answered, and the bank without the parts that it has not by that.
    """
    name = bank.name if one_more or len(heard.found) > 1 else "The bank"
    asker.bank = bank.name
    volts, capacity = asker.answer(
        "block", f"{name}: what is printed on one block?", "6 V 200 Ah", doubted(asker, "block", read_block, small)
    )
    parts = bank.shape.strings
    strings = asker.answer(
        "strings",
        f"{name}: strings in parallel?",
        str(parts or 1),
        doubted(
            asker,
            "strings",
            read_count,
            lambda n: f"meters of {parts} strings were heard" if parts not in {None, n} else many(n, volts, capacity),
            str(parts or 1),
        ),
    )
    per_string = _per_string(asker, name, bank, volts)
    bank = _without_parts(bank, strings, per_string, round(volts / VOLTS_PER_CELL))
    bank = _in_its_unit(asker, bank, per_string * round(volts / VOLTS_PER_CELL))
    assumed = _assumed(asker, bank, strings, volts, capacity, per_string)
    if _KILLS in assumed:
        asker.console.print(f"{name}: {assumed}", markup=False)
    cells = per_string * round(volts / VOLTS_PER_CELL)
    limits = limits_given(asker, cells)
    chargers = Chargers(cells, capacity * strings, ceiling(limits))
    said = Printed(strings, volts, capacity, per_string=per_string, assumed=assumed)
    if limits:
        said = said._replace(limits=limits_line(with_limits({}, limits)))
    _see_so_far(said, bank, tried)
    settings = asker.answer(
        "charger",
        f"{name}: {chargers.question}",
        "-",
        seen(asked_settings(asker, chargers), lambda answer: tried(said._replace(chargers=answer), bank)),
    )
    said = said._replace(chargers=settings)
    said = said._replace(
        equalise=_equalise(asker, name, chargers, settings, lambda each: tried(said._replace(equalise=each), bank))
    )
    said = said._replace(placed=_placed(asker, name, bank))
    _see_so_far(said, bank, tried)
    heard_relays = relays(heard.collector.switches, heard.found)

    def able(one: HeardRelay, words: RelayWords) -> None:
        if not said.placed:
            raise ValueError(NO_PROBE)
        tried(said._replace(relay=one, words=words), bank)

    described = {one.relay.topic: (one.relay, one.words) for one in before if one.relay is not None}
    relay, words = _relay(asker, name, heard_relays, able, bool(said.placed), described)
    said = said._replace(relay=relay, words=words)
    plug = [] if relay is None else plug_meters(heard.collector, (relay.topic, relay.state_topic))
    bank = with_plug(asker, name, bank, plug)
    _see_so_far(said, bank, tried)
    beside = heard_outlet(heard.collector, heard_relays) if relay is None else None

    def with_mains(volts: str, own: Found = bank) -> None:
        tried(said._replace(ac_voltage=volts), own)

    return said._replace(ac_voltage=mains(asker, name, bank, plug, bool(settings), with_mains, beside)), bank


#: Said where a relay is named for a bank of which no thermometer was heard.
NO_PROBE = (
    "a relay never closes without a thermometer at the bank, and none is taken: none for now, and `revival setup` "
    "again once one is heard"
)


def _see_so_far(said: Printed, bank: Found, tried: Callable[[Printed, Found], None]) -> None:
    """End where the file would not load with what is known so far: at the next question nobody could mend it.

    Raises
    ------
    UsageError
        In the words in which the file is refused.
    """
    try:
        tried(said, bank)
    except ValueError as error:
        raise UsageError(str(error)) from None


def _equalise(
    asker: Asker,
    name: str,
    chargers: Chargers,
    settings: tuple[tuple[float, float, float], ...],
    tried: Callable[[float], None],
) -> float:
    """Return to which voltage the bank is equalised [V per cell], asked where no setting reaches the usual; else 0."""
    short = chargers.short(settings, Bank.equalise)
    if asker.arguments.equalise is None and not (short and asker.asks):
        return 0.0  # the check that follows says it as well
    if asker.arguments.equalise is None:
        asker.console.print(f"{name}: {short}", markup=False)
    each: float = asker.answer(
        "equalise",
        f"{name}: {EQUALISED}",
        chargers.own(settings, Bank.equalise),
        seen(chargers.read_equalise, tried),
    )
    for words in filter(None, (mild(each), chargers.short(settings, each))):
        asker.console.print(f"{name}: {words}", markup=False)
    return each if each != Bank.equalise else 0.0


def _in_its_unit(asker: Asker, bank: Found, cells: int) -> Found:
    """Return the bank with its volts in the unit that its cells say, where a bare count may be of several.

    12700 is 12.7 V in thousandths and 127 V in hundredths: both are banks, and only its owner knows which.
    """
    one = bank.voltage
    scaled = None if one is None else in_another_unit(one, cells)
    if one is None or scaled is None:
        return bank
    asker.console.print(
        f"{bank.name}: {told(one)} counts {scaled.unit}: {scaled.value:.2f} V, by its {cells} cells", markup=False
    )
    return bank._replace(guesses=tuple(scaled if each is one else each for each in bank.guesses))


def _placed(asker: Asker, name: str, bank: Found) -> dict[str, str]:
    """Ask of each thermometer of the bank where it sits; its name says what is usual."""
    probes = [one for one in bank.guesses if one.quantity == "electrolyte_temperature" and one.sure >= SURE_ENOUGH]
    return {told(one): _place(asker, name, one) for one in probes}


def _place(asker: Asker, name: str, one: Guess) -> str:
    if given := placed_by_option(asker, told(one)):
        asker.placed.add(told(one))
        return given
    question = f"{name}: {told(one)}: in a cell's acid, or on the case?"
    placed = asker.asked(question, placed_by_name(one), read_probe)
    asker.remember("probe", f"{told(one)}={placed}")
    return placed


def _without_parts(bank: Found, strings: int, per_string: int, each: int) -> Found:
    """Doubt meters of parts that the bank has not, or has others of, by its owner's count."""
    shape, wrong = bank.shape, set[str]()
    if shape.strings not in {None, strings}:
        wrong |= {"string_current"}
    if shape.per_string not in {None, per_string} or shape.cells not in {None, each}:
        wrong |= {"block_voltage", "cell_voltage"}
    why = "of another part than its owner counts? write its index"
    return bank._replace(
        guesses=tuple(one.because("which of several", why) if one.quantity in wrong else one for one in bank.guesses)
    )


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
    return asker.answer(
        "blocks",
        f"{name}: blocks in series in one string?{by}",
        usual,
        doubted(
            asker,
            "blocks",
            read_count,
            lambda count: _against(bank, count, each),
            usual,
            lambda count: _cannot_be(bank, count, each),
        ),
    )


def _against(bank: Found, count: int, each: int) -> str:
    """Return what was heard that speaks against so many blocks of so many cells each in a string."""
    parts = bank.shape.per_string
    if _metered_otherwise(bank, count, each):
        return f"{count} blocks in a string, but meters of {parts} blocks were heard"
    if bank.voltage is None or in_another_unit(bank.voltage, count * each):
        return ""
    said = against_cells(bank.voltage.value, count * each)
    return f"{count} blocks are {said}" if said else ""


def _metered_otherwise(bank: Found, count: int, each: int) -> bool:
    """Tell whether block meters were heard of another number of such blocks."""
    return bank.shape.per_string not in {None, count} and bank.shape.cells in {None, each}


def _cannot_be(bank: Found, count: int, each: int) -> bool:
    """Tell whether what was heard rules so many blocks out: by their meters, or by volts that no cell has."""
    if _metered_otherwise(bank, count, each):
        return True
    if bank.voltage is None or not _against(bank, count, each):
        return False
    return no_such_cells(bank.voltage.value, count * each)


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
    if not open_:
        return ""
    other = _counted_otherwise(bank, round(volts / VOLTS_PER_CELL)) if asker.arguments.blocks is None else ""
    return f"{ASSUMED}: {', '.join(open_)}; setup again with the option corrects it{other}"


#: What is said at once of a bank that may be one of a much higher voltage.
_KILLS = "which can kill"


def _counted_otherwise(bank: Found, each: int) -> str:
    """Say which bank it is instead where a bare count, such as 12700, is no thousandths but hundredths.

    Thousandths are what most meters count, and 127 V taken for 12.7 V is told nowhere else.
    """
    one = bank.voltage
    for cells in range(each, each * MOST_OF_A_KIND + 1, each) if one is not None else ():
        if one is not None and (scaled := in_another_unit(one, cells)) is not None:
            return (
                f"; but should {told(one)} count {scaled.unit}, it is {scaled.value:.1f} V of {cells} cells, {_KILLS}: "
                f"measure it, and then make a new file with --blocks {cells // each}"
            )
    return ""


def _relay(
    asker: Asker,
    name: str,
    heard: list[HeardRelay],
    tried: Tried,
    probed: bool,
    described: Mapping[str, tuple[HeardRelay, RelayWords]],
) -> tuple[HeardRelay | None, RelayWords]:
    """Ask for the relay in the charger's AC feed; where one was heard, Enter takes it.

    Parameters
    ----------
    probed : bool
        Whether a thermometer is taken: without one no relay is.
    described : mapping
        Order topic -> what was said of a relay that is in the feed of a bank before as well.
    """
    usual = likely_one(heard) if probed and asker.asks else "none"
    topic = asker.answer(
        "relay",
        f"{name}: the relay in the charger's AC feed, the topic that takes its orders?{as_heard(heard)}"
        f"{'' if usual == 'none' else ENTER_TAKES}",
        usual,
        read_order(asker, heard, lambda one: tried(*described.get(one.topic, (one, RelayWords())))),
    )
    if topic in described:
        asker.console.print(f"{topic} is the relay of a bank before as well: what was said of it counts", markup=False)
        return described[topic]
    if topic != "none":
        return asked_of(asker, topic, heard, tried)
    for option in OF_A_RELAY:
        if getattr(asker.arguments, option.replace("-", "_")) is not None:
            asker.console.print(f"--{option} counts for nothing: there is no relay", markup=False)
    return None, RelayWords()
