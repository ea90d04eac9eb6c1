"""`revival plan`: what to do with the banks before the charger is switched on."""

from __future__ import annotations

import argparse
import json
import re
import time
from collections.abc import Iterable, Sequence
from pathlib import Path
from textwrap import fill

from bridge import config, units
from bridge.commands.charged_now import charged_now
from bridge.commands.files import add_config
from bridge.config.services import OPENINGS as AREAS
from bridge.errors import CannotReachError, UsageError
from bridge.intake.hand_words import quantity
from bridge.journal.reader import JournalReader
from bridge.journal.snapshot import remembered
from bridge.report.found import of_the_part, placed
from bridge.report.owner import Units, in_scale, inputs_of
from bridge.report.plan_sheet import sheet
from bridge.report.resting import with_metered
from bridge.report.round import noted_lately
from bridge.runtime.control_socket import ask
from bridge.settings import Cabin
from bridge.words.bank_name import headed
from bridge.words.spoken import spoken
from rules.bank import Bank, arranged
from rules.laws import CORRECTED, PLAIN, parse_gravity
from rules.plan import WARM_ROOM, BankPlan, Charger, Found, Plan, PlanInput, plan
from rules.step import Memory, trip_stands

_CHARGER = re.compile(
    r"(?:(?P<name>[^:]+):)?\s*(?P<volts>\S+ ?V)\s+(?P<amps>\S+ ?A)(?:\s+from\s+(?P<start>\S+ ?V))?"
    r"(?P<plain>\s+plain)?(?P<fixed>\s+fixed)?"
)
#: An air temperature that was heard so lately is the room's of now [s] (assumed).
_NOW = 3600.0
#: Readings of so long are looked through where no state tells of air yet [s], and no more than so many [1].
_LATELY, _ROWS = 600.0, 20_000
#: A thermometer of the air that has not spoken since the bridge began is waited for so long [s], looked for so often
#: [s]; most speak every few seconds (common practice, no source).
_WAIT, _LOOK = 10.0, 0.5
_AIR = "ambient_temperature"
_UNHEARD = (
    "Warmth: the cabin file has a thermometer of the air, and nothing was heard of it in the last hour. Until it is, "
    f"the hold is planned for a warm room of {WARM_ROOM:.0f} degC: while `revival run` runs, ask for the plan again "
    'in a minute, or tell the warmest of the day with --ambient "20 degC". In a warmer room do not begin the hold by '
    "this plan."
)
_BARE = re.compile(r"[-+]?\d+(\.\d*)?")
_OUTLET = re.compile(r"(?P<amps>[\d.]+ ?A)?(?:(?:^|\s+)(?P<volts>[\d.]+ ?V))?")
#: Between these lies what can be typed at all, by option; far outside of what is usual (common practice, no source).
#: Volts of a cell, as noted by hand: `rules.hand.checks`.
_CELL = (-2.7, 3.5)
_ENDS = {
    "--ambient": (-60.0, 60.0, "degC", "10 degC"),
    "--openings": (*AREAS, "cm^2", "100 sq in"),
    "--shed": (0.1, 100000.0, "m^3", "30 m^3"),
    "--power": (0.1, 24.0, "h", "6 h"),
    "--reserve": (-100.0, 100.0, "mm", "10 mm"),
    "--charger volts": (1.0, 1000.0, "V", "28.8 V"),
    "--charger amps": (0.1, 2000.0, "A", "50 A"),
    "--charger-start": (0.1, 1000.0, "V", "20 V"),
    "--outlet amps": (1.0, 400.0, "A", "15 A"),
    "--outlet volts": (80.0, 500.0, "V", "120 V"),
}


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare what was found and what is at hand; all of it is optional and asked for where it matters."""
    add_config(parser)
    parser.add_argument("--bank", action="append", metavar="ID", help="only this bank (may be repeated)")
    found = parser.add_argument_group(
        "as found (quantities with their unit; left out: as noted with `revival record` in the last days)"
    )
    each = "; with several banks north=... (may be repeated)"
    found.add_argument(
        "--resting",
        action="append",
        default=[],
        metavar='"BLOCK=4.1 V"',
        help="resting volts of a block (may be repeated)",
    )
    found.add_argument("--resting-bank", action="append", default=[], metavar='"18 V"', help="resting volts" + each)
    found.add_argument("--gravity", action="append", default=[], metavar="1.120", help="lowest gravity" + each)
    found.add_argument(
        "--reserve", action="append", default=[], metavar='"10 mm"', help='level over the plates, also "0.5 in"' + each
    )
    found.add_argument("--sealed", action="append", default=[], metavar="ID", help="this bank is sealed, gel or AGM")
    hand = parser.add_argument_group("at hand")
    hand.add_argument(
        "--charger",
        action="append",
        default=[],
        metavar='"small: 16 V 20 A from 4 V"',
        help='highest volts, amps, lowest bank volts at which it starts; add "plain" where its AC side is not '
        'power-factor corrected and "fixed" where volts and amps cannot be set; otherwise the charger settings of the '
        "cabin file",
    )
    hand.add_argument("--charger-start", metavar='"20 V"', help="bank volts at which the cabin file's charger starts")
    hand.add_argument(
        "--outlet",
        metavar='"15 A 120 V"',
        help='breaker and mains of the AC outlet ("13 A 230 V"), or the mains alone ("230 V"); where the mains are not '
        "told, here or as ac_voltage in the cabin file, its amps are given for 120 V and for 230 V",
    )
    hand.add_argument("--power", default="24 h", metavar='"6 h"', help="how long power is there each day, default 24 h")
    hand.add_argument("--shed", metavar='"30 m^3"', help='free volume of the room, also "1000 cu ft"')
    hand.add_argument(
        "--openings",
        metavar='"100 sq in"',
        help='each of two for air, one low and one high, also "600 cm^2"; otherwise as the cabin file has them',
    )
    hand.add_argument("--ambient", metavar='"10 degC"', help='temperature of the room, also "50 degF"')
    hand.add_argument(
        "--probe", choices=("cell", "case"), help="where the temperature probe sits, if not as in the file"
    )
    parser.add_argument("--explain", action="store_true", help="print formula, inputs and source of every figure")
    parser.add_argument("--json", action="store_true", help="print everything as JSON")
    parser.add_argument("--html", type=Path, metavar="FILE", help="also write a sheet to print, with boxes to tick")


def run(arguments: argparse.Namespace) -> int:
    """Read the cabin file, make the plan, print it."""
    cabin = config.load(arguments.config).cabin
    unknown = [name for name in arguments.bank or () if name not in cabin.banks]
    if unknown:
        raise UsageError(f"no bank {unknown[0]!r} in {arguments.config}: it has {', '.join(cabin.banks)}")
    whole = {name: bank for name, bank in cabin.banks.items() if not arguments.bank or name in arguments.bank}
    memories = _remembered(cabin, whole)
    banks = {name: _joined(bank, memories.get(name)) for name, bank in whole.items()}
    trips = {name: trip_stands(memory) for name, memory in memories.items()}
    measured = not arguments.ambient and any(_AIR in one.by_quantity for one in banks.values())
    heard = None if arguments.ambient else _air(cabin, banks)
    if measured and heard is None:
        heard = _waited_for(cabin, banks)
    now = time.time()
    found = {name: with_metered(one, memories.get(name), now) for name, one in _noted(cabin, banks).items()}
    try:
        given = _given(arguments, whole, banks, {name: one for name, (one, _) in found.items()})
        if given.opening is None:
            given = given._replace(opening=cabin.openings)
        given = given._replace(found=tuple(one._replace(tripped=trips.get(one.bank.id, "")) for one in given.found))
        made = plan(given._replace(unheard=measured) if heard is None else given._replace(ambient=heard))
    except ValueError as error:  # a unit that is wrong, or a value outside what is known of batteries
        raise UsageError(spoken(str(error), cabin.degrees)) from None
    if heard is not None:
        air = f"Warmth: the air at the bank is counted as {heard:.1f} degC, as its thermometer shows it now; --ambient"
        made = made._replace(common=(f"{air} counts with another, such as the warmest of the day.", *made.common))
    elif measured:
        made = made._replace(common=(_UNHEARD, *made.common))
    taken = [f"{headed(name)}: {said}" if len(found) > 1 else said for name, (_, said) in found.items() if said]
    if not (arguments.resting or arguments.resting_bank):  # what is typed counts
        made = made._replace(common=(*taken, *made.common))
    if arguments.html is not None:
        try:
            arguments.html.write_text(sheet(made, cabin.site, whole, Units.of(cabin)), encoding="utf-8")
        except OSError as error:
            raise UsageError(f"cannot write {arguments.html}: {error.strerror}") from None
    charged = charged_now(cabin, banks)
    if arguments.json:
        print(json.dumps({"now": charged, **as_json(made)}, indent=2))
    else:
        print(as_text(made, cabin.site, arguments.explain, cabin.degrees, charged))
    return 0


def _remembered(cabin: Cabin, banks: dict[str, Bank]) -> dict[str, Memory]:
    """Return what the bridge remembers of each bank that it has watched."""
    if not cabin.journal.path.exists():
        return {}
    with JournalReader(cabin.journal.path) as journal:
        watched = journal.snapshots()
        return {name: remembered(journal, name) for name in banks if name in watched}


def _joined(bank: Bank, memory: Memory | None) -> Bank:
    """Return the bank as its blocks are joined now."""
    return bank if memory is None or memory.arrangement is None else arranged(bank, memory.arrangement)


def _noted(cabin: Cabin, banks: dict[str, Bank]) -> dict[str, Found]:
    """Return what was noted of each bank already; before the first `revival run` there is no journal."""
    if not cabin.journal.path.exists():
        return {name: Found(bank) for name, bank in banks.items()}
    with JournalReader(cabin.journal.path) as journal:
        return {name: noted_lately(journal, bank, time.time()) for name, bank in banks.items()}


def _air(cabin: Cabin, banks: dict[str, Bank]) -> float | None:
    """Return the air [degC] at the warmest of the banks, as the bridge stored it last; None where none is heard now.

    A state is made once a minute at the most: in the first minute of a run the air stands among the readings alone.
    """
    if not cabin.journal.path.exists():
        return None
    now = time.time()
    with JournalReader(cabin.journal.path) as journal:
        newest = [state for name in banks if (state := journal.latest_state(name)) is not None]
        judged = [s.ambient for s in newest if s.ambient is not None and now - s.at <= _NOW]
        rows = [] if judged else journal.between("reading", now - _LATELY, now + _LATELY, 0, _ROWS)
    heard = {
        (row.bank, name): value
        for row in rows
        if row.bank in banks
        for name, value in row.values.items()
        if name.partition(" ")[0] == _AIR
    }
    return max((*judged, *heard.values()), default=None)


def _waited_for(cabin: Cabin, banks: dict[str, Bank]) -> float | None:
    """Return the air [degC] as soon as its thermometer speaks, if a bridge hears it and it does so soon; else None."""
    until = time.monotonic() + _WAIT
    while time.monotonic() < until:
        try:
            ask(cabin.journal.path, {"ask": "status"})
        except CannotReachError:
            return None
        if (heard := _air(cabin, banks)) is not None:
            return heard
        time.sleep(_LOOK)
    return None


def _given(
    arguments: argparse.Namespace, whole: dict[str, Bank], banks: dict[str, Bank], noted: dict[str, Found]
) -> PlanInput:
    """Return what is typed, and what was noted where nothing is, of the banks as configured and as joined now."""
    resting_banks = _per_bank(arguments.resting_bank, banks, "--resting-bank")
    gravities = _per_bank(arguments.gravity, banks, "--gravity")
    reserves = _per_bank(arguments.reserve, banks, "--reserve")
    blocks = _blocks(arguments.resting, banks)
    chargers = tuple(_charger(text) for text in arguments.charger)
    for name in arguments.sealed:
        if name not in banks:
            raise UsageError(f"--sealed {name}: there is no such bank here; there is {', '.join(banks)}")
    rested = {name: _resting(text, banks[name].cells, "--resting-bank") for name, text in resting_banks.items()}
    start = arguments.charger_start
    if start is not None:
        _told("--charger-start", start)
    outlet = _match(_OUTLET, arguments.outlet, "--outlet", "15 A 120 V") if arguments.outlet else None
    return PlanInput(
        tuple(
            Found(
                bank,
                chargers or of_the_part(whole[name], bank, start),
                {**noted[name].blocks, **blocks[name]},
                rested.get(name, noted[name].volts),
                _gravity(gravities[name]) if name in gravities else noted[name].gravity,
                _told("--reserve", reserves[name]) if name in reserves else noted[name].reserve,
                name in arguments.sealed,
                arguments.probe or placed(bank),
            )
            for name, bank in banks.items()
        ),
        _told("--outlet amps", outlet["amps"]) if outlet and outlet["amps"] else None,
        _told("--outlet volts", outlet["volts"]) if outlet and outlet["volts"] else None,
        _told("--shed", arguments.shed) if arguments.shed else None,
        _told("--ambient", arguments.ambient) if arguments.ambient else None,
        _told("--power", arguments.power),
        _told("--openings", arguments.openings) if arguments.openings else None,
    )


def _told(option: str, text: str) -> float:
    """Return a quantity that was typed, if it can be at all.

    Raises
    ------
    ValueError
        It cannot be read, or cannot be; names option, value and the fix.
    """
    low, high, unit, usual = _ENDS[option]
    if unit == "degC" and _BARE.fullmatch(text.strip()):
        number = float(text)
        scales = [("degC", number), ("degF", (number - 32.0) / 1.8)]
        fitting = [f'"{text.strip()} {scale}"' for scale, degrees in scales if low <= degrees <= high]
        if fitting:
            raise ValueError(f'{option} "{text}" does not say its unit: write {" or ".join(fitting)}')
    try:
        value = quantity(text.strip(), unit) if unit == "degC" else units.parse(text.strip(), unit)
    except units.UnitError as error:
        raise ValueError(f'{option} "{text}": {error}') from None
    return _possible(option, text, value, (low, high, unit, usual))


def _possible(option: str, text: str, value: float, ends: tuple[float, float, str, str]) -> float:
    low, high, unit, usual = ends
    if not low <= value <= high:
        span = f"{low:g} and {high:g} {unit}"
        if unit == "degC":
            span = f"{low:g} degC ({low * 1.8 + 32:g} degF) and {high:g} degC ({high * 1.8 + 32:g} degF)"
        raise ValueError(f'{option} "{text}": cannot be: it lies between {span}; write it as in "{usual}"')
    return value


def _resting(text: str, cells: int, option: str) -> float:
    """Return the volts at rest of so many cells in series, if they can be."""
    try:
        value = units.parse(text.strip(), "V")
    except units.UnitError as error:
        raise ValueError(f'{option} "{text}": {error}') from None
    low, high = (end * cells for end in _CELL)
    return _possible(option, text, value, (round(low, 1), round(high, 1), f"V for {cells} cells", f"{2 * cells:g} V"))


def _per_bank(texts: Sequence[str], banks: dict[str, Bank], option: str) -> dict[str, str]:
    values: dict[str, str] = {}
    for text in texts:
        name, equals, value = text.partition("=")
        if not equals:
            if len(banks) > 1:
                raise UsageError(f'{option} "{text}": which bank? write {next(iter(banks))}={text}')
            name, value = next(iter(banks)), text
        if name.strip() not in banks:
            raise UsageError(f'{option} "{text}": there is no bank {name.strip()!r} here; there is {", ".join(banks)}')
        values[name.strip()] = value.strip()
    return values


def _a_block(banks: dict[str, Bank]) -> str:
    """Return the first block of the file, to show how one is named."""
    return next(block.label for bank in banks.values() for string in bank.strings for block in string)


def _blocks(texts: Sequence[str], banks: dict[str, Bank]) -> dict[str, dict[str, float]]:
    values: dict[str, dict[str, float]] = {name: {} for name in banks}
    for text in texts:
        label, equals, volts = text.partition("=")
        label = label.strip()
        if not equals:
            raise UsageError(f'--resting "{text}": write block and volts, as in "{_a_block(banks)}=4.1 V"')
        owners = [name for name, bank in banks.items() if label in _labels(bank)]
        if len(owners) != 1:
            where = "no bank here has it" if not owners else f"{' and '.join(owners)} have it, choose with --bank"
            raise UsageError(f'--resting "{text}": block {label}: {where}')
        cells = next(b.cells for string in banks[owners[0]].strings for b in string if b.label == label)
        values[owners[0]][label] = _resting(volts, cells, f"--resting {label}=")
    return values


def _labels(bank: Bank) -> set[str]:
    return {block.label for string in bank.strings for block in string}


def _charger(text: str) -> Charger:
    found = _match(_CHARGER, text, "--charger", "small: 16 V 20 A from 4 V")
    kind = PLAIN if found["plain"] else CORRECTED
    start = _told("--charger-start", found["start"]) if found["start"] else None
    name = (found["name"] or "the charger").strip()
    volts, amps = _told("--charger volts", found["volts"]), _told("--charger amps", found["amps"])
    return Charger(name, volts, amps, start, *kind, bool(found["fixed"]))


def _match(pattern: re.Pattern[str], text: str, option: str, example: str) -> re.Match[str]:
    found = pattern.fullmatch(text.strip())
    if found is None:
        raise UsageError(f'{option} "{text}": write it as in "{example}"')
    return found


def _gravity(text: str) -> float:
    value = parse_gravity(text)
    if isinstance(value, str):
        raise UsageError(f"--gravity {text}: leave it out where no cell floats the hydrometer; it then counts as 1.05")
    return value


def as_json(made: Plan) -> dict[str, object]:
    """Return the plan as plain values."""
    return {
        "order": list(made.order),
        "queue": list(made.queue),
        "banks": [
            {**made_bank._asdict(), "figures": [figure._asdict() for figure in made_bank.figures]}
            for made_bank in made.banks
        ],
        "common": list(made.common),
        "lay_out": list(made.lay_out),
        "checklist": [{"key": key, "text": text} for key, text in made.checklist],
        "cautions": list(made.cautions),
    }


def as_text(made: Plan, site: str, explain: bool, scale: str, now: Sequence[str] = ()) -> str:
    """Write the plan for a tired person: what stops it, what to do, the numbers, then the lists; in one scale.

    Parameters
    ----------
    now : sequence of str
        What is so at this moment, before everything else.
    """

    def items(texts: Iterable[str], mark: str) -> list[str]:
        return _items([spoken(text, scale) for text in texts], mark)

    lines = [f"Plan for {site}."]
    lines += ["", "Now", *items(now, "!")] if now else []
    lines += ["", "Cautions, before you touch anything", *items(made.cautions, "!")]
    lines += ["", "Which bank first"]
    lines += items(made.queue, "")
    for made_bank in made.banks:
        lines += ["", headed(made_bank.bank)]
        lines += items([f"STOP: {reason}" for reason in made_bank.stop], "")
        if not made_bank.steps:
            continue
        if made_bank.stop:
            lines += ["  Once that is put right:"]
        lines += items(made_bank.steps, "number")
        lines += ["", f"  Figures of {made_bank.bank}" + ("" if explain else " (add --explain for the reasons)")]
        lines += _figures(made_bank, explain, scale)
        if made_bank.missing:
            lines += ["", "  The plan could say more if you told it"]
            lines += items(made_bank.missing, "-")
    lines += ["", "The same for every bank", *items(made.common, "number")]
    lines += ["", "Lay out", *items(made.lay_out, "-")]
    lines += ["", "Start checklist", *items([text for _, text in made.checklist], "[ ]")]
    return "\n".join(lines)


def _items(texts: Sequence[str], mark: str) -> list[str]:
    lines = []
    for number, text in enumerate(texts, start=1):
        lead = f"  {number}. " if mark == "number" else f"  {mark} " if mark else "  "
        lines.append(fill(text, 100, initial_indent=lead, subsequent_indent=" " * len(lead)))
    return lines


def _figures(made: BankPlan, explain: bool, scale: str) -> list[str]:
    width = max(len(figure.name) for figure in made.figures)
    lines = []
    for figure in made.figures:
        lines.append(f"    {figure.name:<{width}}  {in_scale(figure, scale)}")
        if explain:
            for text in (figure.formula, inputs_of(figure), figure.source):
                said = spoken(text, scale)
                lines += [fill(said, 100, initial_indent=" " * 8, subsequent_indent=" " * 10)] if text else []
    return lines
