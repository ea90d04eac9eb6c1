"""`revival setup` on a file that is there: changes what is answered anew and keeps the rest, comments included."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import NamedTuple

from bridge.commands.listen import overhear
from bridge.commands.setup_anew import hear_again, take_bank, take_named, take_new
from bridge.commands.setup_answers import (
    ASSUMED,
    EQUALISED,
    OF_A_RELAY,
    SEALED,
    UNKNOWN,
    Asker,
    Chargers,
    doubted,
    keep,
    many,
    proved,
    read_address,
    read_block,
    read_count,
    read_identifier,
    read_probe,
    read_yes,
    see_that_it_can_be_written,
    see_that_it_loads,
    setting_words,
    small,
    whole_settings,
)
from bridge.commands.setup_broker import broker_said, moved
from bridge.commands.setup_choice import ALL, METER, what_changed
from bridge.commands.setup_heard import Taken, one_of, read_taken
from bridge.commands.setup_limits import (
    ASKED,
    MAINS,
    OPENINGS,
    OWN_LIMITS,
    limits_line,
    openings_line,
    openings_words,
    read_mains,
    read_openings,
    reads,
    with_limits,
)
from bridge.commands.setup_page import TOKEN, TOKEN_FILE, beside
from bridge.commands.setup_plug import plug_meters
from bridge.commands.setup_probe import PROBED, Probe, named_probe, place_anew, placed_anew, probes_of
from bridge.commands.setup_relay import (
    AUTO_OFF,
    ENTER_TAKES,
    POWER_ON,
    STATE,
    as_heard,
    asked_of,
    document_at,
    likely_one,
    named_wrongly,
    read_auto_off,
    read_order,
    read_place,
    read_power_on,
    read_topic,
    unheard,
)
from bridge.commands.volts_of_cells import Judged
from bridge.commands.which_bank import which_bank
from bridge.config import Loaded, load
from bridge.config.edit import (
    add_table,
    drop_key,
    drop_offered_table,
    drop_page,
    drop_table,
    set_key,
    set_table,
    take_offered,
)
from bridge.config.models import BankTable, RelayTable
from bridge.errors import CannotReachError, UnsafeStateError, UsageError
from bridge.listen.collect import Collector
from bridge.listen.guess import told
from bridge.listen.relays import HeardRelay, of_order, relays
from bridge.listen.write import VOLTS_PER_CELL, blocks_line, chargers_line, equalise_line, escaped, relay_lines
from bridge.units import near
from bridge.words.equalising import mild
from bridge.words.spoken import SIGNS
from rules.bank import Limits

#: Options that change what a file says, whatever is in it.
CHANGED = (
    *("site", "strings", "block", "blocks", "charger", "equalise", *OWN_LIMITS, MAINS),
    *("openings", "relay", "probe", "page", "token", "degrees"),
)
#: Of these an answer is the place's, not one bank's.
OF_THE_PLACE = ("site", "openings", "page", "token", "degrees")
#: Options that say something and change no line of their own.
ONLY_SAID = ("take", "flooded")


#: A state is told on every change, and often every few seconds; so long it is waited for [s] (assumed).
LISTENED = 10.0
#: A state that was named is waited for longer, and no longer than until it was heard [s] (assumed).
STATE_WAITED = 35.0


#: Answers after which the charger is asked for anew, and held against the bank as it is then.
_OF_ITS_CELLS = ("strings", "block", "blocks")
_FITS_ITS_CELLS = ("charger", "equalise")


class _Edit(NamedTuple):
    """An answer that can be given again: its question, the present answer, and the text with another one."""

    option: str
    question: str | Callable[[str], str]
    present: str
    change: Callable[[str, str], str]
    place: str = ""  # which of several thermometers
    doubt: Callable[[str, str], str] = lambda text, answer: ""  # what speaks against it
    grave: Callable[[str, str], bool] = lambda text, answer: False  # whether that rules it out
    keeps: Callable[[str], bool] = lambda answer: False  # whether what is said beside it stays true
    usual: str = ""  # what Enter takes, where that is not the present answer


def change_file(asker: Asker, file: Path) -> bool:
    """Change what is given, and ask only what that needs; where nothing is given, ask what has changed.

    Returns
    -------
    bool
        Whether all was gone through.
    """
    if asker.arguments.flooded == "no":
        raise UnsafeStateError(f"{SEALED}; {file} stays as it is, but nothing of it is for this bank")
    see_that_it_can_be_written(file)
    loaded = load(file)
    text = before = file.read_text("utf-8")
    given = changes_given(asker)
    # a page that is new takes readings, as in the first evening
    given += ["token"] if "page" in given and "token" not in given and loaded.model.page is None else []
    broker = broker_said(asker, loaded.model.broker)
    names = [bank.id for bank in loaded.model.bank]
    another = _another(asker, names)
    if not (asker.asks or given or broker or another or asker.arguments.yes):
        known = ", ".join(f"--{name}" for name in (*CHANGED, "take", "broker"))
        raise UsageError(
            f"{file} exists already and nothing is asked to change: give one of {known}, --yes to hear the broker and "
            "take what is new and surely a bank's, or another --output"
        )
    if not another:
        _see_its_relay(asker, loaded)
    if broker:
        text = moved(asker, file, loaded, text, broker)
        loaded = proved(file, text)
    heard_relays: list[HeardRelay] | None = None
    unsaid = not (given or broker or another)
    chosen = what_changed(asker) if unsaid else []
    all_of_it = ALL in chosen
    if another:
        text = take_bank(asker, loaded, file, text)
        given = [option for option in given if option in OF_THE_PLACE]
    elif given:
        text = _placed(asker, file, _taken(asker, loaded, file, text))
    else:
        text, heard_relays = _heard(asker, loaded, file, text, chosen)
    anew = [option for option in chosen if option != METER]
    if anew and asker.arguments.bank is None:
        # the questions behind it are about one bank, a new one was asked about when it was taken in
        first, several = names[0], asker.asks and len(names) > 1 and not set(anew) <= set(OF_THE_PLACE)
        asker.arguments.bank = (
            asker.asked("Which bank are the next questions about?", first, one_of(names)) if several else first
        )
    if not (another or unsaid or asker.arguments.take) and asker.arguments.topics != "#":
        asker.console.print(
            f"--topics {asker.arguments.topics}: nothing is heard for this change, so it counts for nothing",
            markup=False,
        )
    if given or anew:
        edits = list(_edits(asker, file, proved(file, text), heard_relays, anew))
        wanted = set() if all_of_it else {*given, *_with_its_own(set(anew))}
        text = _answered(asker, file, text, wanted, edits, bool(anew))
    if len(loaded.model.bank) == 1 and {"block", "blocks", "strings"} & set(given):
        text = re.sub(rf"(?m)^# {ASSUMED}.*\n", "", text)  # somebody has said it now
    if text == before:
        asker.console.print(f"{file} says so already; nothing is changed", markup=False)
        return all_of_it
    text = _in_one_scale(asker, file, text, loaded.cabin.degrees)
    keep(file, text)
    asker.console.print(f"{file} changed; everything else stays as it was", markup=False)
    return all_of_it


def _with_its_own(options: set[str]) -> set[str]:
    """Return options with what is asked beside them: a relay's own ways, and the hold that a charger can reach."""
    beside = {"relay": OF_A_RELAY, "charger": ("equalise",), "page": ("token",)}
    return options.union(*(own for option, own in beside.items() if option in options))


def _heard(
    asker: Asker, loaded: Loaded, file: Path, text: str, chosen: list[str]
) -> tuple[str, list[HeardRelay] | None]:
    """Return the text with what was heard anew, and the relays that were heard; None where nothing was listened to."""
    if not {METER, ALL, "relay"} & set(chosen):
        return text, None
    # a new meter was said to be there; else it is asked whether to listen
    why = "for a relay that tells its state" if chosen == ["relay"] else "for meters that are new"
    heard = hear_again(asker, loaded, "" if METER in chosen else why)
    if heard is None:
        return text, None
    heard_relays = relays(heard.collector.switches, heard.found)
    if {METER, ALL} & set(chosen):
        text = take_new(asker, loaded, file, text, heard)
    asker.heard = heard.collector
    if not {"relay", ALL} & set(chosen):
        _tell_relays(asker, loaded, heard_relays)
    return text, heard_relays


def _tell_relays(asker: Asker, loaded: Loaded, heard: list[HeardRelay]) -> None:
    """Say what was heard of relays, where it is not asked about: one nobody named, or one that is named wrongly."""
    for bank in loaded.model.bank:
        own = bank.relay.topic if bank.relay else "none"
        if own != "none" and (wrong := named_wrongly(heard, own)):
            asker.console.print(f"{bank.id}:{wrong} `revival setup` again, and then relay, corrects it", markup=False)
    if heard and all(bank.relay is None for bank in loaded.model.bank):
        first = heard[0].topic or heard[0].state_topic
        asker.console.print(
            f"a relay was heard too, at {first}: if it switches the charger's AC feed, `revival setup` again, and then "
            "relay, takes it in",
            markup=False,
        )


def _in_one_scale(asker: Asker, file: Path, text: str, scale: str) -> str:
    """Return the text with the scale in which its owner read it until now, where a new thermometer counts otherwise."""
    if _given(asker, "degrees") or proved(file, text).cabin.degrees == scale:
        return text
    asker.console.print(f"temperatures stay in {SIGNS[scale]}; --degrees changes that", markup=False)
    return set_key(text, "[site]", 0, f'temperature = "{scale}"')


def _another(asker: Asker, names: list[str]) -> bool:
    """Tell whether a bank is named that the file does not have, and that may be on the broker.

    Raises
    ------
    UsageError
        The name is nearly one of the file's.
    """
    wanted = asker.arguments.bank
    if wanted is None or wanted in names:
        return False
    if near(wanted, names):
        raise UsageError(f"--bank {wanted}: no such bank in the file{near(wanted, names)}")
    return True


def _see_its_relay(asker: Asker, loaded: Loaded) -> None:
    """Refuse what is said of a relay where there is none: nothing would be done with it."""
    said = [option for option in OF_A_RELAY if _given(asker, option)]
    names = [bank.id for bank in loaded.model.bank]
    if not said:
        return
    bank = which_bank(names, asker.arguments.bank)
    there = loaded.model.bank[names.index(bank)].relay is not None
    if asker.arguments.relay == "none" or (asker.arguments.relay is None and not there):
        raise UsageError(f"--{said[0]}: {bank} has no relay then: name its order topic as well, --relay TOPIC")


def _answered(asker: Asker, file: Path, text: str, wanted: set[str], edits: list[_Edit], asked: bool) -> str:
    """Return the text with every answer that differs from the present one; where they are asked, each is tried.

    Parameters
    ----------
    wanted : set of str
        Options to go through, and no other; empty for all.
    asked : bool
        Whether the answers are asked for, and are no options.
    """
    moved = recut = False
    for edit in edits:
        if edit.option in OF_A_RELAY and moved:
            continue  # what was said of the relay before is no promise of this one
        needed = asked and recut and edit.option in _FITS_ITS_CELLS
        if wanted and edit.option not in wanted and not needed:
            continue

        def changed(
            answer: str, edit: _Edit = edit, text: str = text, fits: bool = not recut or edit.option != "charger"
        ) -> tuple[str, str]:
            try:
                same = answer == edit.present
                # what is set at the charger may no longer fit the blocks that were said just now
                now = text if same and fits else edit.change(text, answer)
                now = text if same else now
            except UsageError as error:
                raise ValueError(str(error)) from None
            if asked:
                _see(file, now, edit, asker)
            if edit.place:
                asker.instead(edit.option, "" if answer == UNKNOWN else f"{edit.place}={answer}")
            return answer, now

        question = edit.question if isinstance(edit.question, str) else edit.question(text)
        if not question:
            continue

        def doubt(said: tuple[str, str], edit: _Edit = edit, text: str = text) -> str:
            return "" if said[0] == edit.present else edit.doubt(text, said[0])

        def grave(said: tuple[str, str], edit: _Edit = edit, text: str = text) -> bool:
            return edit.grave(text, said[0])

        option = edit.option.replace("-", "_")
        read = changed if edit.place else doubted(asker, option, changed, doubt, grave=grave)
        answer, text = asker.answer(edit.option, question, edit.usual or edit.present, read)
        recut |= edit.option in _OF_ITS_CELLS and answer != edit.present
        moved |= edit.option == "relay" and answer != edit.present and not edit.keeps(answer)
    return text


def _see(file: Path, text: str, edit: _Edit, asker: Asker) -> None:
    """Try an answer; what the charger is set to is asked for after the bank that it has to fit."""
    if edit.option in _OF_ITS_CELLS:
        names = [bank["id"] for bank in tomllib.loads(text)["bank"]]
        place = names.index(which_bank(names, asker.arguments.bank))
        text = set_key(text, "[[bank]]", place, "chargers = []")
    see_that_it_loads(file, text)


def _edits(
    asker: Asker, file: Path, loaded: Loaded, heard: list[HeardRelay] | None, chosen: Sequence[str] = ()
) -> Iterable[_Edit]:
    """Return everything that can be said anew; `chosen` is what somebody has said by its word that he wants to."""
    model = loaded.model
    names = [bank.id for bank in model.bank]
    place = names.index(which_bank(names, asker.arguments.bank))
    table = model.bank[place]
    ordered = table.relay.topic if table.relay else "none"
    number = sum(bank.relay is not None for bank in model.bank[:place])

    def degrees(text: str, answer: str) -> str:
        if model.page is not None and model.page.temperature is not None:  # a file of an earlier version
            text = drop_key(text, "[page]", "temperature")
        return set_key(text, "[site]", 0, f'temperature = "{answer}"')

    def page(text: str, answer: str) -> str:
        if answer == "none":
            return drop_page(text)
        line = f'listen = "{read_address(answer)}"'
        return set_key(text, "[page]", 0, line) if model.page else add_table(text, "[page]", [line])

    def openings(text: str, answer: str) -> str:
        area = read_openings(answer)
        return set_key(text, "[site]", 0, openings_line(area)) if area else drop_key(text, "[site]", "openings")

    yield _Edit(
        "site", "The place's name?", model.site.id, lambda t, a: set_key(t, "[site]", 0, f'id = "{read_identifier(a)}"')
    )
    yield _Edit(
        "strings",
        "Strings in parallel?",
        str(table.strings),
        lambda t, a: set_key(t, "[[bank]]", place, f"strings = {read_count(a)}"),
        doubt=lambda t, a: many(read_count(a), VOLTS_PER_CELL * table.blocks.cells, table.blocks.capacity),
    )
    yield from _block_edits(asker, loaded, place)
    yield from _limit_edits(asker, loaded, place, chosen)
    yield _charger_edit(asker, table, place)
    yield from _equalise_edit(asker, table, place, "equalise" in chosen)
    area = model.site.openings
    asks = _given(asker, "openings") or area is not None or "openings" in chosen
    yield _Edit(
        "openings",
        OPENINGS if asks else "",
        "none" if area is None else openings_words(area, loaded.cabin.degrees),
        openings,
    )
    yield _relay_edit(asker, loaded, place, number, heard, "relay" in chosen)
    wanted = asker.arguments.relay
    if table.relay is not None and (wanted in (None, ordered) or _corrected(table.relay, wanted)):
        yield from _relay_edits(asker, loaded, table.relay, number, heard)
    if not _given(asker, "probe"):
        yield from _probe_edits(asker, loaded, place)
    yield _Edit("page", "The live page's address?", model.page.listen if model.page else "none", page)
    yield _token_edit(asker, file, loaded)
    # what follows from the thermometers alone is written where it is said: the next one may count otherwise
    said = model.site.temperature or (model.page and model.page.temperature) or not _given(asker, "degrees")
    yield _Edit("degrees", "Temperatures in?", loaded.cabin.degrees if said else "", degrees)


def _block_edits(asker: Asker, loaded: Loaded, place: int) -> Iterable[_Edit]:
    """Return how the blocks are said anew; another number of cells is held against the volts that are heard now."""
    table = loaded.model.bank[place]
    cells = table.blocks.cells * table.blocks.per_string
    present = f"{VOLTS_PER_CELL * table.blocks.cells:g} V {table.blocks.capacity:g} Ah"
    judged = Judged(loaded, place, min(asker.arguments.seconds, LISTENED), asker.console)

    def made_of(per_string: int, each: int, capacity: float) -> str:
        # As many blocks as before are still called as before.
        same = per_string == table.blocks.per_string
        labels = table.blocks.labels or () if same else ()
        return blocks_line(per_string, each, capacity, labels)

    def blocks(text: str, answer: str) -> str:
        volts, capacity = read_block(answer)
        each = round(volts / VOLTS_PER_CELL)
        if _given(asker, "blocks"):
            return in_series(text, asker.arguments.blocks)
        if cells % each:
            raise ValueError(f"{cells} cells cannot be made of blocks of {each}: say how many by --blocks as well")
        return set_key(text, "[[bank]]", place, made_of(cells // each, each, capacity))

    def in_series(text: str, answer: str) -> str:
        volts, capacity = read_block(asker.arguments.block or present)
        each = round(volts / VOLTS_PER_CELL)
        count = read_count(answer)
        parts = {meter.index for meter in table.meter if meter.quantity == "block_voltage"}
        before = table.blocks.per_string
        if count != before and len(parts) == table.strings * before and each == table.blocks.cells:
            raise ValueError(
                f"the file maps meters of {before} blocks in a string, not of {count}: take their [[bank.meter]] out "
                "of the file first if it is so"
            )
        return set_key(text, "[[bank]]", place, made_of(count, each, capacity))

    def against(text: str, answer: str) -> str:
        return judged.against(in_series(text, answer)) if asker.arguments.block is None else ""  # said of the block

    yield _Edit(
        "block",
        "What is printed on one block?",
        present,
        blocks,
        doubt=lambda t, a: small(read_block(a)) or judged.against(blocks(t, a)),
        grave=lambda t, a: judged.rules_out(blocks(t, a)),
    )
    yield _Edit(
        "blocks",
        "Blocks in series in one string?",
        str(table.blocks.per_string),
        in_series,
        doubt=against,
        grave=lambda t, a: judged.rules_out(in_series(t, a)),
    )


def _charger_edit(asker: Asker, table: BankTable, place: int) -> _Edit:
    """Return how the charger is said anew; what is not said of it, volts or where it starts, stays as it was."""
    before = tuple((one.volts, one.amps, one.starts_at or 0.0) for one in table.chargers)
    present = ", ".join(map(setting_words, before)) or "-"
    settings: dict[str, tuple[tuple[float, float, float], ...]] = {}

    def change(text: str, answer: str) -> str:
        chargers = _chargers(text, place)
        if answer == present:
            settings[answer] = chargers.read(answer)
        elif answer not in settings:  # a doubt has it typed once more, and nothing is asked twice
            settings[answer] = whole_settings(asker, chargers, answer, before)
        return set_key(text, "[[bank]]", place, chargers_line(settings[answer]))

    return _Edit(
        "charger",
        lambda text: f"Its {_chargers(text, place).question}",
        present,
        change,
        doubt=lambda text, answer: _chargers(text, place).doubt(settings[answer]),
    )


def _equalise_edit(asker: Asker, table: BankTable, place: int, chosen: bool) -> Iterable[_Edit]:
    """Return how the equalising voltage is said anew; asked only where no charger setting reaches the present one."""

    def short(text: str) -> str:
        return _chargers(text, place).short(_settings(text, place), table.equalise)

    def question(text: str) -> str:
        if chosen or _given(asker, "equalise"):
            return f"{EQUALISED[0].upper()}{EQUALISED[1:]}" if chosen else EQUALISED
        why = short(text)
        if not why or not asker.asks:
            return ""  # the check that follows says it as well
        asker.console.print(why, markup=False)
        return f"{EQUALISED[0].upper()}{EQUALISED[1:]}"

    def change(text: str, answer: str) -> str:
        chargers = _chargers(text, place)
        each = chargers.read_equalise(answer)
        for words in filter(None, (mild(each), chargers.short(_settings(text, place), each))):
            asker.console.print(words, markup=False)
        return set_key(text, "[[bank]]", place, equalise_line(each))

    yield _Edit("equalise", question, f"{table.equalise:g} V", change)


def _token_edit(asker: Asker, file: Path, loaded: Loaded) -> _Edit:
    """Return how the page gets its token, or loses it; asked where there is a page that only shows."""
    before = loaded.model.page
    has = before is not None and bool(before.token_file or before.token_env)

    def question(text: str) -> str:
        if "page" not in tomllib.loads(text):
            if asker.arguments.token == "yes":
                raise UsageError("--token yes: there is no page: name its address as well, --page HOST:PORT")
            return ""
        anew = before is None or asker.asks
        return TOKEN if _given(asker, "token") or (anew and not has) else ""

    def change(text: str, answer: str) -> str:
        if not read_yes(answer):
            return drop_key(drop_key(text, "[page]", "token_file"), "[page]", "token_env")
        beside(asker, file)
        return set_key(text, "[page]", 0, TOKEN_FILE)

    return _Edit("token", question, "yes" if has else "no", change, usual="yes")


def _limit_edits(asker: Asker, loaded: Loaded, place: int, chosen: Sequence[str]) -> Iterable[_Edit]:
    """Return how its owner's limits and the mains are said anew; asked where they are his own, or by their name."""
    table = loaded.model.bank[place]
    bank = loaded.cabin.banks[table.id]
    placed = {meter.placed for meter in bank.by_quantity.get(PROBED, ())}
    sits = {"temperature-limit": not placed or "cell" in placed, "case-limit": "case" in placed}
    for option, key in OWN_LIMITS.items():

        def change(text: str, answer: str, option: str = option, key: str = key) -> str:
            before = tomllib.loads(text)["bank"][place].get("limits", {})
            now = with_limits(before, {key: reads(option, bank.cells)(answer)})
            for other in sorted(now.keys() - {key}):
                if now[other] != before.get(other):
                    asker.console.print(f"{other} goes down with it, to {now[other]}", markup=False)
            return set_key(text, "[[bank]]", place, limits_line(now))

        own = key in table.limits.model_fields_set
        asks = _given(asker, option) or own or (option in chosen and sits.get(option, True))
        yield _Edit(option, ASKED[option] if asks else "", _limit_words(loaded, table.id, key), change)

    def mains(text: str, answer: str) -> str:
        volts = read_mains(answer)
        return set_key(text, "[[bank]]", place, f'{MAINS.replace("-", "_")} = "{volts}"') if volts else text

    matters = bool(table.chargers) or not _has_amps(loaded, table.id)
    asks = _given(asker, MAINS) or table.ac_voltage is not None or MAINS in chosen or matters
    present = UNKNOWN if table.ac_voltage is None else f"{table.ac_voltage:g} V"
    yield _Edit(MAINS, ASKED[MAINS] if asks else "", present, mains)


def _limit_words(loaded: Loaded, bank: str, key: str) -> str:
    """Return a limit as it counts now, in the owner's scale, and as it can be typed."""
    if key == "string_current":
        return f"{loaded.cabin.banks[bank].string_current_limit:g} A"
    value: float = getattr(loaded.cabin.banks[bank].limits, key)
    if key == "cell_voltage":
        return f"{value:.4g} V"
    return f"{value * 1.8 + 32:.1f} degF" if loaded.cabin.degrees == "degF" else f"{value:.1f} degC"


def _has_amps(loaded: Loaded, bank: str) -> bool:
    """Tell whether a meter counts what flows into a bank, so that nobody reads it at the outlet."""
    return bool({"current", "string_current"} & loaded.cabin.banks[bank].by_quantity.keys())


def _relay_edit(
    asker: Asker, loaded: Loaded, place: int, number: int, heard: list[HeardRelay] | None, chosen: bool
) -> _Edit:
    """Return how another relay of the file's `place`-th bank is said; where it tells its state is listened for.

    Where a relay was `chosen` to be said anew and the bank has none, Enter takes the one that was heard.
    """
    table = loaded.model.bank[place]
    ordered = table.relay.topic if table.relay else "none"
    listened: list[list[HeardRelay] | None] = [] if heard is None else [heard]

    def change(text: str, answer: str) -> str:
        another = answer not in {"none", ordered} and not _corrected(table.relay, answer)
        if another and not listened and (asker.asks or _given(asker, "relay-state")):
            named = asker.arguments.relay_state or ""
            why = "for where the relay tells its state"
            listened.append(_heard_at(asker, loaded, asker.arguments.topics, why, named if named != "none" else ""))
        return _with_relay(asker, text, answer, table, place, number, listened[0] if listened else None)

    wanted = chosen and table.relay is None and any(meter.quantity == PROBED for meter in table.meter)
    usual = likely_one(heard or []) if wanted else "none"
    return _Edit(
        "relay",
        f"The relay's order topic?{as_heard(heard or [], ordered)}{'' if usual == 'none' else ENTER_TAKES}",
        ordered,
        change,
        keeps=lambda answer: _corrected(table.relay, answer),
        usual="" if usual == "none" else usual,
    )


def _with_relay(
    asker: Asker, text: str, answer: str, table: BankTable, place: int, number: int, heard: list[HeardRelay] | None
) -> str:
    """Return the text with another relay of the bank, the file's `place`-th from 0, or without one.

    Parameters
    ----------
    number : int
        Of its relay among those of the file, from 0.
    """
    if answer == "none":
        asker.console.print(f"{table.id} is only watched from now on: nothing cuts its charger", markup=False)
        return drop_table(text, place, "[bank.relay]")
    if table.relay is not None and answer == table.relay.state_topic:
        raise ValueError(f"there it tells its state; {table.relay.topic} takes its orders")
    answer = read_order(asker, heard or [], lambda one: None)(answer)
    if table.relay is not None and answer == table.relay.topic:
        return text
    if table.relay is not None and _corrected(table.relay, answer):
        asker.console.print(
            f"{answer} is taken for the same relay as {table.relay.topic}, and what was said of it stays: "
            f"{', '.join(_said_of(table.relay))}",
            markup=False,
        )
        return set_key(text, "[bank.relay]", number, f'topic = "{escaped(answer)}"')
    if table.relay is not None:
        # Another relay is another thing: what the first does by itself is no promise of this one's.
        kept = ", ".join(f"--{one}" for one in OF_A_RELAY if not _given(asker, one))
        asker.console.print(
            f"nothing that was said of {table.relay.topic} is taken for true of {answer}; "
            f"dropped: {', '.join(_said_of(table.relay))}" + (f"; not said yet: {kept}" if kept else ""),
            markup=False,
        )
    found, words = asked_of(asker, answer, heard, lambda one, said: None)
    for one in plug_meters(asker.heard, (found.topic, found.state_topic)) if asker.heard is not None else ():
        if one.quantity == "ac_power":
            asker.console.print(
                f'{told(one)} is told there as well: `revival setup --take "{told(one)}"` takes it as what the charger '
                "draws",
                markup=False,
            )
    text = drop_offered_table(text, place, "[bank.relay]")
    return set_table(text, place, "[bank.relay]", relay_lines(found, words)[2:])


def _corrected(relay: RelayTable | None, order: str) -> bool:
    """Tell whether another order topic is the same relay's: below or above the present one, or beside its state."""
    if relay is None or order in {"none", relay.topic, relay.state_topic}:
        return False
    if order.startswith(f"{relay.topic}/") or relay.topic.startswith(f"{order}/"):
        return True
    known = HeardRelay("", relay.state_topic or "", relay.cut, relay.allow, True)
    return bool(relay.state_topic) and of_order(order, [known]) is not None


def _chargers(text: str, place: int) -> Chargers:
    """Return how the charger of a bank is asked for, by what the text says of it now."""
    table = BankTable.model_validate(tomllib.loads(text)["bank"][place])
    cells = table.blocks.cells * table.blocks.per_string
    return Chargers(cells, table.blocks.capacity * table.strings, table.limits.cell_voltage or Limits().cell_voltage)


def _settings(text: str, place: int) -> tuple[tuple[float, float, float], ...]:
    """Return the charger settings of a bank as the text says them."""
    table = BankTable.model_validate(tomllib.loads(text)["bank"][place])
    return tuple((one.volts, one.amps, one.starts_at or 0.0) for one in table.chargers)


def changes_given(asker: Asker) -> list[str]:
    """Return the options that were given and say something of an existing file."""
    return [name for name in (*CHANGED, *OF_A_RELAY, *ONLY_SAID) if _given(asker, name)]


def _given(asker: Asker, option: str) -> bool:
    return getattr(asker.arguments, option.replace("-", "_")) not in (None, [])


def _said_of(relay: RelayTable) -> list[str]:
    """Return what a file says of a relay beside its order topic, in its own words."""
    told = [f'cut = "{relay.cut}"', f'allow = "{relay.allow}"']
    told += [f'state_topic = "{relay.state_topic}"'] if relay.state_topic else []
    told += [] if relay.auto_off is None else [f"auto_off = {f'{relay.auto_off:g} s' if relay.auto_off else 'none'}"]
    return told + ([f'power_on = "{relay.power_on}"'] if relay.power_on else [])


def _probe_edits(asker: Asker, loaded: Loaded, place: int) -> Iterable[_Edit]:
    """Return how it is said anew where each of a bank's thermometers sits; which limit counts hangs on it."""
    for one in probes_of(loaded, place):

        def moved(text: str, answer: str, one: Probe = one) -> str:
            return place_anew(asker, text, one, read_probe(answer))

        yield _Edit("probe", f"{one.place}: in a cell, or on the case?", one.placed or UNKNOWN, moved, one.place)


def _taken(asker: Asker, loaded: Loaded, file: Path, text: str) -> str:
    """Return the text with each value that its owner takes as a mapping of the bank that is meant.

    What the file does not offer is looked for on its broker.
    """
    names = [bank.id for bank in loaded.model.bank]
    missing: list[tuple[Taken, UsageError]] = []
    for given in asker.arguments.take:
        place = names.index(which_bank(names, asker.arguments.bank))
        try:
            said = read_taken(given)
            lines = said.lines()
            if placed := named_probe(asker, said.place):
                lines |= {"quantity": f'quantity = "{PROBED}"', "placed": f'placed = "{placed}"'}
            text = take_offered(text, place, said.place, lines)
        except ValueError as error:
            raise UsageError(f"--take {given!r}: {error}") from None
        except UsageError as error:
            missing.append((said, error))
    if not missing:
        return text
    try:
        heard = hear_again(asker, loaded)
    except CannotReachError as error:
        raise UsageError(f"{missing[0][1]}; and the broker cannot be asked for it: {error}") from None
    if heard is None:
        raise missing[0][1]
    for said, _ in missing:
        text = take_named(asker, loaded, file, text, heard, which_bank(names, asker.arguments.bank), said)
    return text


def _placed(asker: Asker, file: Path, text: str) -> str:
    """Return the text with the thermometers where `--probe` says; beside `--take` it is said of what is taken alone."""
    if not _given(asker, "probe"):
        return text
    now = proved(file, text)
    names = [bank.id for bank in now.model.bank]
    bank = which_bank(names, asker.arguments.bank)
    taken = [read_taken(given).place for given in asker.arguments.take]
    return placed_anew(asker, text, bank, probes_of(now, names.index(bank)), taken)


def _relay_edits(
    asker: Asker, loaded: Loaded, relay: RelayTable, number: int, heard: list[HeardRelay] | None
) -> Iterable[_Edit]:
    """Return what can be said anew of a relay that stays where it is, the file's `number`-th from 0."""

    def said(key: str, read: Callable[[str], str]) -> Callable[[str, str], str]:
        def change(text: str, answer: str) -> str:
            if not (value := read(answer)):
                raise ValueError(f"the file says what is known: take the line {key} out by hand")
            return set_key(text, "[bank.relay]", number, f'{key} = "{escaped(value)}"')

        return change

    auto_off = UNKNOWN if relay.auto_off is None else f"{relay.auto_off:g} s" if relay.auto_off else "none"
    state = relay.state_topic or "none"

    def told(text: str, answer: str) -> str:
        text = said("state_topic", _state)(text, answer.partition(" ")[0])
        return _read_at(asker, text, read_place(answer), relay, number, heard if heard is not None else around(answer))

    def around(state: str) -> list[HeardRelay]:
        state = state.partition(" ")[0]
        above = state.rpartition("/")[0]
        why = "for where the state stands in it"
        return _heard_at(asker, loaded, f"{above}/#" if above else state, why, state) or []

    # said once more of a state that nobody has found in its document, it is looked for there
    known = relay.state_pointer is not None or not _given(asker, "relay-state")
    yield _Edit(
        "relay-state",
        STATE,
        state if known else "",
        told,
        doubt=lambda text, answer: unheard(asker, answer, relay.topic),
    )
    yield _Edit("auto-off", AUTO_OFF, auto_off, said("auto_off", read_auto_off))
    yield _Edit("power-on", POWER_ON, relay.power_on or UNKNOWN, said("power_on", read_power_on))


def _heard_at(asker: Asker, loaded: Loaded, topics: str, why: str, state: str = "") -> list[HeardRelay] | None:
    """Return the relays that tell their state there while it is listened to; None where nobody can listen.

    Parameters
    ----------
    state : str
        Where a state was said to be told: once it was heard nobody listens any longer.
    """
    seconds = min(asker.arguments.seconds, STATE_WAITED if state else LISTENED)

    def told_it(collector: Collector) -> bool:
        return state in collector.topics

    try:
        heard = overhear(loaded.cabin.broker, topics, seconds, 0.0, asker.console, why=why, enough=told_it)
    except CannotReachError as error:
        asker.console.print(f"not heard, so its state is taken for the whole payload: {error}", markup=False)
        return None
    asker.heard = heard.collector
    return relays(heard.collector.switches, heard.found)


def _read_at(asker: Asker, text: str, place: str, relay: RelayTable, number: int, heard: Sequence[HeardRelay]) -> str:
    """Return the text with the state where it was heard to stand in its document, and in the words heard there."""
    topic, _, pointer = place.partition(" ")
    found = next((one for one in heard if one.state_topic == topic and pointer in {"", one.state_pointer}), None)
    found = found or document_at(asker, place)
    if found is None and pointer:
        text = set_key(text, "[bank.relay]", number, f'state_pointer = "{escaped(pointer)}"')
    if found is None:
        return text
    for key in ("state_pointer", "state_open", "state_closed"):
        text = drop_key(text, "[bank.relay]", key, number)
    if found.state_pointer:
        text = set_key(text, "[bank.relay]", number, f'state_pointer = "{escaped(found.state_pointer)}"')
    open_, closed = found.state_open or found.cut, found.state_closed or found.allow
    if (open_.lower(), closed.lower()) != (relay.cut.lower(), relay.allow.lower()):
        text = set_key(text, "[bank.relay]", number, f'state_open = "{escaped(open_)}"')
        text = set_key(text, "[bank.relay]", number, f'state_closed = "{escaped(closed)}"')
    return text


def _state(answer: str) -> str:
    return "" if read_topic(answer) == "none" else answer
