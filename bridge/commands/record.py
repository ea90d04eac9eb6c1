"""`revival record`: what a person measured or saw, told to the running bridge in one line."""

from __future__ import annotations

import argparse
import json
import re
import sys
from datetime import datetime
from typing import Any

from bridge import units
from bridge.commands.act import a_name, sure, take_back, whoever
from bridge.commands.files import add_config
from bridge.commands.noted import ACTS, LISTED, as_rows, as_text, chosen, noted
from bridge.commands.noted import request as to_take_back
from bridge.commands.which_bank import which_bank
from bridge.config import Loaded, load
from bridge.errors import UnsafeStateError, UsageError
from bridge.intake.hand_words import UNITS, blocks, moment, nowhere, quantity, string_letters, understand
from bridge.journal.reader import JournalReader
from bridge.runtime.control_socket import ask
from bridge.words.bank_status import at_place, event_words, hand_value, noted_already
from bridge.words.spoken import spoken
from rules.advice import FIRST_AID
from rules.bank import Bank
from rules.events import Event
from rules.events import moment as rounded
from rules.hand import (
    FIRE,
    HURT,
    ILL,
    REASONS,
    SMOKE,
    damages,
    dangers,
    located,
    measured_at,
    of_this_scale,
    understood,
    worries,
)

#: A temperature without its scale, with its place in front or without.
_BARE = re.compile(r"(?:[^=:]*[=:]\s*)?([+-]?\d+(?:[.,]\d+)?)")
#: A rise of gravity that rounds to none [1].
NOTHING = 0.0005
#: Kinds that people call otherwise than the bus does.
NAMED_AS = {"string_amps": "amps", "ac_amps": "amps at the charger's outlet"}

#: What people call a kind, and mean no other.
SPOKEN = {"volts": "voltage", "gravities": "gravity", "levels": "level"}
#: Chores that are called otherwise than what notes them, and the command that does.
CHORES = {"presence": 'seen "WHAT YOU SAW"', "look": 'seen "WHAT YOU SAW"'}


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add what is recorded, where, when and by whom."""
    parser.add_argument(
        "what",
        nargs="?",
        type=_kind,
        choices=sorted(UNITS),
        help="what was measured or seen",
    )
    parser.add_argument(
        "words",
        nargs="*",
        metavar="[BANK] VALUE",
        help="in the order of the cells, blocks or strings; 1.265, 1265, 30.4 Be, low, high, none; BLOCK.2=1.265; "
        "volts and amps with or without their unit; level, water and temperature with theirs (12 mm, 0.5 in, 300 ml, "
        "12 fl oz, 2 cups, 1 qt, 0.5 gal, 84F); or words",
    )
    add_config(parser)
    parser.add_argument("--bank", metavar="ID", help="which bank; the same as its name in front of the values")
    parser.add_argument("--string", type=int, metavar="N", help="the values are those of this string, counted from 1")
    parser.add_argument("--block", metavar="LABEL", help="the values are those of this block")
    parser.add_argument(
        "--ac", action="store_true", help="amps at the charger's outlet, not at the bank; needs ac_voltage in the file"
    )
    parser.add_argument(
        "--temperature",
        metavar='"84 degF"',
        help="of the electrolyte, with a gravity; a bare number is of the place's scale, and in doubt it is asked for",
    )
    parser.add_argument("--at", metavar="WHEN", help='14:10, "20 min ago", or a date and time; left out: now')
    parser.add_argument("--by", type=a_name, metavar="NAME", help="who; left out: the user of this host")
    parser.add_argument("--note", default="", metavar="WORDS", help="anything in words")
    parser.add_argument("--sure", action="store_true", help="a strange value is meant: take it without asking")
    parser.add_argument(
        "--undo",
        action="store_true",
        help="take back the last entry of this kind, or of the places named",
    )
    parser.add_argument(
        "--list",
        nargs="?",
        type=_many,
        const=LISTED,
        metavar="N",
        help=f"show the last N entries, checklists and verdicts with their numbers (default {LISTED}); of one "
        "kind where it is named, in front of it or in place of N",
    )
    parser.add_argument(
        "--take-back",
        metavar="NUMBER",
        help="take back the entry, checklist or verdict with this number of --list, or of this time (14:10)",
    )
    parser.add_argument("--json", action="store_true", help="for machines")


def run(arguments: argparse.Namespace) -> int:
    """Tell the bridge; exit 2 for what cannot be read, 4 where no bridge runs, 5 where the rules refuse it."""
    loaded = load(arguments.config)
    cabin = loaded.cabin
    if arguments.list is not None or arguments.take_back is not None:
        return _of_what_is_noted(loaded, arguments)
    if arguments.what is None:
        raise UsageError(f"say what was measured or seen: {', '.join(sorted(UNITS))}; or --list, or --take-back NUMBER")
    banks, words = _banks(cabin.banks, arguments)
    told, failed = [], []
    for bank in banks:
        try:
            told.append(_of_one(loaded, bank, words, arguments))
        except (UnsafeStateError, UsageError) as error:  # what one bank refuses is noted at the others all the same
            failed.append(error)
    if arguments.json and told:
        print(json.dumps(told[0] if len(banks) == 1 else told, indent=2))
    elif len(banks) > 1 and told:
        print(
            f"no one bank was named: it is noted for {' and '.join(bank.id for bank in banks)}, so that no danger is "
            f"lost; where it is not so take it back: revival record {arguments.what} --bank {banks[-1].id} --undo"
        )
    if failed:
        raise failed[0]
    return 0


def _of_one(loaded: Loaded, bank: Bank, words: list[str], arguments: argparse.Namespace) -> dict[str, Any]:
    """Tell the bridge of one bank, say what follows unless a machine reads it, and return the answer."""
    cabin = loaded.cabin
    request = _request(bank, words, arguments, cabin.degrees)
    journal = cabin.journal.path
    if arguments.at:
        now = ask(journal, {"ask": "status"})["bridge"]["at"]
        request["taken_at"] = moment(arguments.at, now)
    answer = ask(journal, request)
    while "unsure" in answer:
        request = _answered(bank.id, request, answer, cabin.degrees, asks=not arguments.json)
        answer = ask(journal, request)
    _see_taken(bank.id, answer, cabin.degrees)
    state = ask(journal, {"ask": "status"})["banks"].get(bank.id, {})
    if not arguments.json:
        lines = _told(bank, request, answer, state, cabin.degrees)
        lines += _not_today(request["taken_at"], now) if arguments.at else []
        print("\n".join(lines))
    return {**answer, "bank": state}


def _answered(bank: str, request: dict[str, Any], answer: dict[str, Any], scale: str, *, asks: bool) -> dict[str, Any]:
    """Return the request as the person at this terminal means it.

    Raises
    ------
    UnsafeStateError
        Nobody can be asked, or it was not meant.
    """
    why = spoken(str(answer["unsure"]), scale)
    meant = answer.get("meant")
    if meant and asks and sys.stdin.isatty():
        words = "; ".join([str(each) for each in (*meant["values"].values(), meant["note"]) if each])
        kept = input(f'{bank}: Do you mean "{words}"? n keeps your words, and nothing follows from them. [Y/n] ')
        return {**request, "sure": True} if kept.strip().lower() in ("n", "no") else {**request, **meant}
    if meant:
        raise UnsafeStateError(f"{bank}: not taken: {why}; --sure keeps the words as they are")
    if not asks or not sure(bank, why):
        raise UnsafeStateError(f"{bank}: not taken: {why}; read it again, or say --sure")
    return {**request, "sure": True}


def _see_taken(bank: str, answer: dict[str, Any], scale: str) -> None:
    """Raise what the bridge, or the rules, have against it."""
    if "error" in answer:
        raise UsageError(spoken(str(answer["error"]), scale))
    if answer["refused"]:
        raise UnsafeStateError(spoken(f"{bank}: refused: {'; '.join(answer['refused'])}", scale))


def _kind(word: str) -> str:
    """Return what is recorded, by the word that somebody has for it."""
    if word in CHORES:
        raise argparse.ArgumentTypeError(
            f"a look is noted by what was seen: `revival record {CHORES[word]}`, or by anything else that is measured"
        )
    return SPOKEN.get(word, word)


def _many(text: str) -> int | str:
    """Return how many entries are listed, or of which kind."""
    kind = SPOKEN.get(text, text)
    if kind in UNITS or kind in ACTS:
        return kind
    if not text.isdecimal() or not int(text):
        raise argparse.ArgumentTypeError(
            f"{text!r} is no number such as {LISTED} and no kind such as gravity; a bank is named by --bank"
        )
    return int(text)


def _of_what_is_noted(loaded: Loaded, arguments: argparse.Namespace) -> int:
    """List what was noted, or take one entry of it back, whatever it is."""
    cabin = loaded.cabin
    bank = cabin.banks[which_bank(cabin.banks, arguments.bank)]
    if arguments.words or arguments.undo:
        raise UsageError("--list and --take-back stand without values and without --undo; a bank is named by --bank")
    if isinstance(arguments.list, str):
        arguments.what, arguments.list = arguments.list, LISTED
    with JournalReader(cabin.journal.path) as journal:
        entries = noted(journal, bank.id)
    if arguments.list is not None:
        if arguments.json:
            print(json.dumps({"bank": bank.id, "entries": as_rows(entries, arguments.list, arguments.what)}, indent=2))
        else:
            print(as_text(bank.id, entries, arguments.list, arguments.what, cabin.degrees))
        return 0
    now = ask(cabin.journal.path, {"ask": "status"})["bridge"]["at"]
    entry = chosen([each for each in entries if arguments.what in (None, each.what)], arguments.take_back, now)
    if entry.what in ACTS:
        return take_back(loaded, bank.id, entry.what, arguments.by or "", as_json=arguments.json)
    asked = to_take_back(entry, arguments.by or whoever())
    answer = ask(cabin.journal.path, asked)
    _see_taken(bank.id, answer, cabin.degrees)
    state = ask(cabin.journal.path, {"ask": "status"})["banks"].get(bank.id, {})
    if arguments.json:
        print(json.dumps({**answer, "number": entry.number, "bank": state}, indent=2))
    else:
        print("\n".join(_told(bank, asked, answer, state, cabin.degrees)))
    return 0


def _not_today(taken_at: float, now: float) -> list[str]:
    """Say of which day it is filed, where that is not today: a clock time that is still to come was yesterday's."""
    day, today = (datetime.fromtimestamp(at).astimezone().date() for at in (taken_at, now))
    if day == today:
        return []
    return [f"  of another day: filed under {spoken(rounded(taken_at))}; if that is wrong, take it back with --undo"]


def _banks(banks: dict[str, Bank], arguments: argparse.Namespace) -> tuple[list[Bank], list[str]]:
    """Return the bank that is meant, or of a danger every one that may be, and the words behind its name."""
    words, named = arguments.words, arguments.bank
    in_front = [words[0]] if words and words[0] in banks else []
    if named is not None:
        which_bank(banks, named)
    meant = list(dict.fromkeys([*in_front, *([named] if named is not None else [])]))
    words = words[len(in_front) :]
    if len(meant) == 1 or len(banks) == 1:
        return [banks[which_bank(banks, meant[0] if meant else None)]], words
    said = " ".join(words)
    dangerous = dangers(said)
    alarms = bool(dangerous) or worries(said) or True in damages(said).values()
    if arguments.undo or arguments.what not in ("seen", "note") or not alarms:
        if meant:
            raise UsageError(f"{meant[0]!r} in front of the values and --bank {named} are two banks: name one")
        which_bank(banks, None, "say which bank first")
    choice = meant or sorted(banks)
    if sys.stdin.isatty() and not arguments.json:
        if dangerous:
            print(_out([f"{what} at {said}" for what in dangerous]), flush=True)
        answer = input(f"At which bank: {', '.join(choice)}? Enter notes it for all of them: ").strip()
        choice = [answer] if answer in banks else choice
    return [banks[each] for each in choice], words


def _in_scale(words: list[str], scale: str) -> list[str]:
    """Write the place's scale behind each bare temperature that is one in it and in no other.

    Examples
    --------
    >>> _in_scale(["N1=17", "N2=31", "degC"], "degC"), _in_scale(["17"], "degF"), _in_scale(["77"], "degF")
    (['N1=17 degC', 'N2=31', 'degC'], ['17'], ['77 degF'])
    """
    made = []
    for word, behind in zip(words, [*words[1:], "0"], strict=True):
        found = _BARE.fullmatch(word.strip())
        alone = found is not None and re.search(r"\d", behind) is not None
        own = found is not None and alone and of_this_scale(float(found[1].replace(",", ".")), scale)
        made.append(f"{word.strip()} {scale}" if own else word)
    return made


def _request(bank: Bank, words: list[str], arguments: argparse.Namespace, scale: str) -> dict[str, Any]:
    temperature = arguments.temperature
    request: dict[str, Any] = {"ask": "record", "bank": bank.id, "by": arguments.by or whoever()}
    if arguments.sure:
        request["sure"] = True
    if arguments.undo:
        if not set(words) <= bank.places.keys() - {""}:
            raise UsageError(
                f"--undo takes back the last {arguments.what} entry as a whole, or what was last read at named places: "
                f"leave the values out; {blocks(bank)}"
            )
        strings = arguments.what == "amps" and arguments.string is not None
        kind = "ac_amps" if arguments.ac else "string_amps" if strings else arguments.what
        return {**request, "kind": kind, "undo": True, **({"values": dict.fromkeys(words, "")} if words else {})}
    if not words:
        raise UsageError(f"{arguments.what}: give a value")
    if arguments.what == "temperature":
        words = _in_scale(words, scale)
    understood = understand(
        bank, arguments.what, words, string=arguments.string, block=arguments.block, ac=arguments.ac
    )
    if temperature is not None:
        try:
            request["temperature"] = quantity(_in_scale([temperature], scale)[0], "degC")
        except units.UnitError as error:
            raise UsageError(f"--temperature: {error}") from None
    note = " ".join(part for part in (understood.note, arguments.note) if part)
    return {**request, "kind": understood.kind, "values": understood.values, "note": note}


def _told(bank: Bank, request: dict[str, Any], answer: dict[str, Any], state: dict[str, Any], scale: str) -> list[str]:
    """Say what was taken down in the owner's scale, and for gravities what they say together."""
    if request.get("undo"):
        lines = _taken_back(bank, request, answer, scale)
    elif again := next((event for event in answer["events"] if "noted_at" in event), None):
        return [f"{bank.id}: {spoken(noted_already(again))}"]
    else:
        values = ", ".join(_echo(bank, request["kind"], where, value, scale) for where, value in _placed(bank, request))
        kind = NAMED_AS.get(request["kind"], request["kind"])
        off = "charger off noted" if (kind, values) == ("charger", "off") else ""
        lines = [f"{bank.id}: {off or kind + ' noted' + (': ' + values if values else '')}"]
        lines += _nowhere(bank, request)
    told = [Event(bank.id, str(event["kind"]), 0.0, event) for event in answer["events"]]
    grave = [event for event in told if event.kind in ("trip", "flag-raised")]
    lines += [f"  {words}" for event in grave if (words := event_words(event, scale)) is not None]
    lines += [f"  {words}" for event in told if event.kind == "flag-cleared" and (words := event_words(event, scale))]
    # What was noted before trips no second time: that it is a danger is said all the same.
    noted = _grave(bank, request)
    if noted:
        aid = [FIRST_AID] if any(what.startswith((f"{HURT} at ", f"{ILL} at ")) for what in noted) else []
        lines[1:1] = [f"  {words}" for words in (*aid, _out(noted))]
    lines += [spoken(f"  {event['beside']}", scale) for event in answer["events"] if "beside" in event]
    lines += [spoken(f"  {said}", scale) for event in answer["events"] for said in event.get("cautions", ())]
    if unread := _only_kept(request):
        lines.append(f"  kept as words: {unread}")
    seen = [] if any(event.kind == "trip" for event in grave) else noted
    lines += [f"  a danger is noted: {what}" for what in seen]
    if (grave or seen) and state.get("next_step"):
        lines.append(f"  next: {spoken(state['next_step'], scale)}")
    lines += _hot(bank, request, scale)
    if request["kind"] != "gravity":
        return lines
    if request.get("undo"):
        pass
    else:
        if request.get("temperature") is not None:
            made_for = spoken(f"{bank.hydrometer_reference:.1f} degC", scale)
            lines.append(
                f"  corrected to {made_for}, what the hydrometer is taken to be made for: hydrometer_reference in the "
                "cabin file"
            )
        said = "\n".join(line for line in lines if _NO_FIGURE in line)
        lines += [f"  {_NO_FIGURE}: {why}" for why in _why_not(request, state) if why not in said]
    if state.get("lowest_gravity") is not None:
        corrected = all(row.get("corrected", True) for row in state.get("cells", ()))
        lines.append(
            f"  {'corrected' if corrected else 'not all corrected'}: lowest {lowest_words(state)}"
            + _more(", spread {:.3f}", state.get("gravity_spread"))
            + _more(", {:+.4f} per hour", state.get("gravity_trend"))
            + (", at a plateau" if state.get("gravity_plateau") else "")
            + "".join(f"; {words}" for words in off_scale_words(state))
        )
    lines += [f"  {words}"] if (words := unmixed_words(state)) else []
    rise = rise_words(state)
    return [*lines, f"  {rise} since the first reading"] if rise else lines


def _placed(bank: Bank, request: dict[str, Any]) -> list[tuple[str, Any]]:
    """Return what was noted by place; words by the places that they themselves name."""
    if request["kind"] != "seen":
        return list(request["values"].items())
    return [each for where, words in request["values"].items() for each in located(where, str(words), bank.places)]


def _echo(bank: Bank, kind: str, where: str, value: float | str, scale: str) -> str:
    """Write one value as it was understood, and where."""
    if kind == "string_amps":
        letters = string_letters(bank)
        where = f"string {letters[int(where) - 1] if letters else where}"
    return at_place(where or "bank", hand_value(kind, where, value, scale))


def _nowhere(bank: Bank, request: dict[str, Any]) -> list[str]:
    """Say which labels in what was seen are none of this bank: nothing said of them is lost, and nobody is misled."""
    if request["kind"] not in ("seen", "note"):
        return []
    said = " ".join(str(words) for words in (*request["values"].values(), request.get("note", "")))
    gone = nowhere(bank, said)
    return [f"  there is no {', '.join(gone)}: {blocks(bank)}; it is kept for the whole bank"] if gone else []


def _taken_back(bank: Bank, request: dict[str, Any], answer: dict[str, Any], scale: str) -> list[str]:
    """Say which entry is gone; what stands all the same is said beside it, by the rules."""
    kind = request["kind"]
    gone = next((event["gone"] for event in answer["events"] if "gone" in event), None)
    which = ""
    if gone is not None:
        values = [at_place(where, hand_value(kind, where, value, scale)) for where, value in gone["values"].items()]
        said = ", ".join([*values, *([gone["note"]] if gone["note"] else [])])
        which = f", of {spoken(rounded(gone['taken_at']), scale)}: {said}"
    what = f"{kind} of {', '.join(request['values'])}" if request.get("values") else f"the last {kind} entry"
    if request.get("entry"):
        what = f"the {kind} entry"
    return [f"{bank.id}: {what} is taken back{which}"]


def _hot(bank: Bank, request: dict[str, Any], scale: str) -> list[str]:
    """Say at once which temperature stands at its limit: the trip itself waits for a second reading, or a minute."""
    if request.get("undo"):
        return []
    warmths = dict(request["values"]) if request["kind"] == "temperature" else {"": request.get("temperature")}
    lines = []
    for where, value in warmths.items():
        limit = bank.limits.temperature_case if measured_at(where) == "case" else bank.limits.temperature
        if isinstance(value, float) and value >= limit:
            what = f"{where or 'the acid'} at {value:.1f} degC, limit {limit:.1f} degC"
            lines.append(spoken(f"  TOO HOT: {what}: switch the charger off, then read it again", scale))
    return lines


def _grave(bank: Bank, request: dict[str, Any]) -> list[str]:
    """Return what of the words that were just noted is a danger now, and where."""
    if request.get("undo") or request["kind"] not in ("seen", "note"):
        return []
    said = [*request["values"].items(), ("", request.get("note", ""))]
    placed = [each for where, words in said for each in located(where, str(words), bank.places)]
    return [f"{what} at {where or 'the bank'}" for where, words in placed for what in dangers(words)]


def _out(noted: list[str]) -> str:
    """Say what whoever has just noted these dangers does first."""
    if any(what.startswith(f"{FIRE} at ") for what in noted):
        return FIRE_OUT
    return SMOKE_OUT if any(what.startswith(f"{SMOKE} at ") for what in noted) else LEAVE


def _only_kept(request: dict[str, Any]) -> str:
    """Say that nothing follows from the words that were noted, and how a danger is said; empty where something does."""
    if request.get("undo") or request["kind"] not in ("seen", "note"):
        return ""
    said = [str(words) for words in (*request["values"].values(), request.get("note", "")) if words]
    if any(understood(words) for words in said):
        return ""
    return (
        "nothing in it is understood as danger, damage, deposits or gassing, so nothing follows from it; a danger is "
        "said in plain words: stinks, rotten eggs, hot, sparks, fire, smoke, a bang, hissing, acid sprays, cracked, "
        "leaking, bulging, frozen, plates bare"
    )


def _why_not(request: dict[str, Any], state: dict[str, Any]) -> list[str]:
    """Return why what was just read cannot count, each reason once; nothing of a cell that was read again since."""
    of = request.get("taken_at")
    rows = {row["cell"]: row for row in state.get("cells", ()) if of is None or row["taken_at"] <= of}
    told = [str(rows[cell]["why"]) for cell in request["values"] if cell in rows and rows[cell].get("why")]
    return sorted({reason for why in told for reason in why.split(REASONS)})


def unmixed_words(state: dict[str, Any]) -> str:
    """Return which cells are left out of lowest and spread, because water lies on their acid; empty where none is."""
    cells = [str(row["cell"]) for row in state.get("cells", ()) if not row.get("mixed", True)]
    more = f" and {len(cells) - NAMED} more" if len(cells) > NAMED else ""
    return f"no lowest and no spread of {', '.join(cells[:NAMED])}{more}: the water is not mixed yet" if cells else ""


#: In front of why a gravity does not count; a flag that it raises says so too.
_NO_FIGURE = "not for a verdict"
#: Said before anything else to whoever has just noted a danger.
LEAVE = "Leave the room now: touch no switch in it, let nobody in, and air it from outside."
#: The same where it burns, and where it may (common practice, no source).
FIRE_OUT = (
    "Get everybody out now and call the fire service from outside: open no door or window on a fire and do not air it."
)
SMOKE_OUT = (
    "Leave the room now: touch no switch in it, close its door and let nobody in; where the smoke goes on or grows, or "
    "a flame is seen, call the fire service from outside and open nothing."
)
#: So many cells are named.
NAMED = 6
#: Marks of a hydrometer that show no number, in words.
OFF_SCALE = {"low": "too weak to float it", "high": "above its scale"}


def off_scale_words(state: dict[str, Any]) -> list[str]:
    """Return which cells show no number on the hydrometer, weakest first; they stand beside the lowest number."""
    cells: dict[str, list[str]] = {}
    for row in state.get("cells", ()):
        cells.setdefault(row.get("mark", ""), []).append(str(row["cell"]))
    return [f"{', '.join(cells[mark])} {words}" for mark, words in OFF_SCALE.items() if mark in cells]


def lowest_words(state: dict[str, Any]) -> str:
    """Return the weakest cell's gravity; a cell that does not float the hydrometer has at most so much."""
    at_most = "at most " if any(row.get("mark") == "low" for row in state.get("cells", ())) else ""
    return f"{at_most}{state['lowest_gravity']:.3f}"


def rise_words(state: dict[str, Any]) -> str:
    """Return how far gravity rose or fell, and what of a rise is lost water only; empty where it stands."""
    rise, by_water = state.get("gravity_rise") or 0.0, state.get("gravity_rise_by_water") or 0.0
    if abs(rise) < NOTHING:
        return ""
    if rise < 0.0:
        return f"fallen by {-rise:.3f}"
    water = f", of which {by_water:.3f} is lost water and no recovery," if by_water >= NOTHING else ""
    return f"risen by {rise:.3f}{water}"


def _more(words: str, value: float | None) -> str:
    return "" if value is None else words.format(value)
