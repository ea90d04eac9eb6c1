"""`revival verdict`: keep, derate, repeat or scrap, from what the journal holds; given by name it ends the round."""

from __future__ import annotations

import argparse
import json

from bridge import config, units
from bridge.commands.act import sure, take_back
from bridge.commands.files import add_config
from bridge.commands.which_bank import which_bank
from bridge.errors import UnsafeStateError, UsageError
from bridge.journal.reader import JournalReader
from bridge.journal.snapshot import remembered
from bridge.report.told import ENDS, verdict_given
from bridge.runtime.control_socket import ask
from bridge.settings import Cabin
from bridge.words.bank_name import headed
from bridge.words.spoken import spoken as told
from bridge.words.verdict_words import apart, spoken
from rules.advice import on_paper
from rules.bank import Bank, arranged
from rules.events import moment
from rules.step import Memory, round_over, so_far, standing, still_to_measure, trip_stands
from rules.verdict import NOT_JUDGED, Matching, Verdict

EVER = 1e11
#: No battery gives more than so much of its rated capacity, new and cold (assumed) [1].
TOO_MUCH = 1.2


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the cabin file, and capacities that only a person knows."""
    add_config(parser)
    parser.add_argument("--bank", metavar="ID", help="which bank; may be left out where there is one")
    parser.add_argument(
        "--capacity",
        action="append",
        default=[],
        metavar='"BLOCK=162 Ah"',
        help="capacity of a block (or of the bank, by its id) tested on its own, corrected to 25 degC",
    )
    parser.add_argument(
        "--previous",
        action="append",
        default=[],
        metavar='"BLOCK=140 Ah"',
        help="the same from the round before; otherwise what was given with the last verdict",
    )
    parser.add_argument("--sure", action="store_true", help="a strange capacity is meant: take it without asking")
    parser.add_argument("--give", metavar="NAME", help="give this verdict, journaled under NAME; it ends the round")
    parser.add_argument(
        "--take-back",
        action="store_true",
        help="take the last verdict back, with the capacities that came with it; the round stays over",
    )
    parser.add_argument("--json", action="store_true", help="for machines")


def run(arguments: argparse.Namespace) -> int:
    """Judge the bank as the journal knows it; with --give tell the running bridge."""
    loaded = config.load(arguments.config)
    cabin = loaded.cabin
    name = which_bank(cabin.banks, arguments.bank)
    bank = cabin.banks[name]
    if arguments.take_back:
        if arguments.give is not None or arguments.capacity:
            raise UsageError("--take-back takes the last verdict back and gives none: leave --give and --capacity out")
        return take_back(loaded, name, "verdict", as_json=arguments.json)
    if arguments.give is not None and not arguments.give.strip():
        raise UsageError('--give "": a verdict is given by name, as in --give Ann; left out, it is only shown')
    with JournalReader(cabin.journal.path) as journal:
        memory = remembered(journal, name)
        began = memory.test.started_at if memory.test is not None else EVER
        previous = given_before(journal, name, began) | _capacities(arguments.previous, bank, "--previous")
        abandoned = "" if memory.phase.started_at is not None else abandoned_at(journal, name)
    joined = bank if memory.arrangement is None else arranged(bank, memory.arrangement)
    measured = _capacities(arguments.capacity, bank, "--capacity")
    if (much := _too_much(measured, joined)) and not arguments.sure and (arguments.json or not sure(name, much)):
        raise UnsafeStateError(f"{name}: not taken: {much}; if it is meant, say --sure")
    try:
        verdicts, proposal = standing(joined, memory, measured, previous)
    except ValueError as error:
        raise UsageError(told(str(error), cabin.degrees)) from None
    if arguments.give:
        _give(cabin, name, arguments.give, verdicts, {**_given(memory), **measured})
    tripped, early = trip_stands(memory), ""
    if not round_over(memory):
        under_way = abandoned or ("No round has begun" if memory.phase.started_at is None else "The round is under way")
        early = f"{under_way}: this is only what was seen so far, and no verdict."
        verdicts = verdicts if arguments.give else so_far(verdicts)
    text = as_text(verdicts, proposal, arguments.give or "", early=early, tripped=tripped)
    if arguments.give and memory.given is not None:
        text += f"\n\nIt stands in place of the verdict that {memory.given.by or 'somebody'} gave before."
    if not arguments.give and not tripped and (lacking := still_to_measure(memory)):
        text += f"\n\nStill to be measured: {'; '.join(lacking)}."
    print(json.dumps(as_json(verdicts, proposal), indent=2) if arguments.json else told(text, cabin.degrees))
    return 0


def abandoned_at(journal: JournalReader, bank: str) -> str:
    """Say that the last round was abandoned, and when; empty where none was, or where it ended otherwise."""
    ends = [
        each for each in journal.events(bank, 0.0, EVER, ["command"]) if each.detail.get("name") in (*ENDS, "start")
    ]
    if not ends or ends[-1].detail.get("name") != "abandon":
        return ""
    return f"The last round was abandoned at {moment(ends[-1].at)}, and none has begun since"


def given_before(journal: JournalReader, bank: str, began: float) -> dict[str, float]:
    """Return capacities [Ah] that the last verdict before this test was given with."""
    capacities = verdict_given(journal.events(bank, 0.0, began, ["command"])).get("capacities")
    return {str(label): float(value) for label, value in capacities.items()} if isinstance(capacities, dict) else {}


def _capacities(texts: list[str], bank: Bank, option: str) -> dict[str, float]:
    known = {bank.id, *(block.label for string in bank.strings for block in string)}
    values = {}
    for text in texts:
        label, equals, value = (part.strip() for part in text.partition("="))
        if not equals or label not in known:
            raise UsageError(f'{option} "{text}": write block and capacity, as in "{min(known)}=162 Ah"')
        try:
            values[label] = units.parse(value, "Ah")
        except units.UnitError as error:
            raise UsageError(f'{option} "{text}": {error}') from None
    return values


def _given(memory: Memory) -> dict[str, float]:
    """Return the capacities that the verdict on this round was given with [Ah]: who gives it anew keeps them."""
    return {} if memory.given is None else dict(memory.given.capacities)


def _too_much(measured: dict[str, float], bank: Bank) -> str:
    """Say which capacity no battery of this rating gives; empty where each may well be."""
    rated = {bank.id: bank.capacity, **{block.label: block.capacity for string in bank.strings for block in string}}
    return "; ".join(
        f"{label}: {capacity:g} Ah are {100.0 * capacity / rated[label]:.0f} % of its rated {rated[label]:g} Ah"
        for label, capacity in measured.items()
        if label in rated and not 0.0 <= capacity <= TOO_MUCH * rated[label]
    )


def _give(cabin: Cabin, bank: str, by: str, verdicts: tuple[Verdict, ...], measured: dict[str, float]) -> None:
    judged = {verdict.label: verdict.word for verdict in verdicts if verdict.word != NOT_JUDGED}
    if bank not in judged:
        raise UnsafeStateError(told(f"the verdict was not taken: {verdicts[0].reasons[0]}", cabin.degrees))
    argument = {
        "words": judged,
        # What was measured of a block that has to go is the reason why: its verdict counts on nothing of it.
        "capacities": {
            **measured,
            **{verdict.label: verdict.capacity for verdict in verdicts if verdict.capacity is not None},
        },
    }
    answer = ask(cabin.journal.path, {"ask": "act", "bank": bank, "name": "verdict", "by": by, "argument": argument})
    refused = answer.get("refused") or ([answer["error"]] if "error" in answer else [])
    if refused:
        raise UnsafeStateError(told(f"the verdict was not taken: {'; '.join(refused)}", cabin.degrees))


def as_json(verdicts: tuple[Verdict, ...], proposal: Matching) -> dict[str, object]:
    """Return plain values; the bank comes first."""
    bank, *blocks = ({**verdict._asdict(), "reasons": list(verdict.reasons)} for verdict in verdicts)
    return {"bank": bank, "blocks": blocks, "matching": proposal._asdict()}


def as_text(
    verdicts: tuple[Verdict, ...], proposal: Matching, given_by: str = "", *, early: str = "", tripped: str = ""
) -> str:
    """Say for people: a trip that stands, the bank, every block, what belongs together, what comes after.

    Nobody is sent to the posts while a trip stands.
    """
    bank, *blocks = verdicts
    stands = f"as {given_by} has judged it" if given_by else "as it stands"
    lines = [tripped, ""] if tripped else []
    lines += [early] if early else []
    lines += [f"{headed(bank.label)} {stands}: {_words(bank)}", ""]
    lines += _of_blocks(bank, blocks)
    lines += ["", beside] if (beside := apart(verdicts)) else []
    if proposal.strings:
        lines += ["", "What belongs together in one string"]
        lines += [f"  string {n}: {' '.join(string)}" for n, string in enumerate(proposal.strings, start=1)]
    if proposal.spare:
        lines.append(f"  left over: {' '.join(proposal.spare)}")
    lines += [f"  {note}" for note in proposal.notes]
    after = not (tripped or early) and bank.word != NOT_JUDGED
    return "\n".join([*lines, "", on_paper("after-round")] if after else lines)


def _of_blocks(bank: Verdict, blocks: list[Verdict]) -> list[str]:
    """Return a line for each block; of those that are not judged for one and the same reason only one."""
    width = max(len(block.label) for block in blocks)
    lines: dict[tuple[str, ...], list[Verdict]] = {}
    for block in blocks:
        alike = block.reasons if block.word == NOT_JUDGED else (block.label, "")
        lines.setdefault(alike, []).append(block)
    said = []
    for same in lines.values():
        as_whole = len(same) > 1 and (same[0].word, same[0].reasons) == (bank.word, bank.reasons)
        words = f"{spoken(NOT_JUDGED)}, for the same reason" if as_whole else _words(same[0])
        said.append(f"  {', '.join(block.label for block in same):<{width}}  {words}")
    return said


def _words(verdict: Verdict) -> str:
    return f"{spoken(verdict.word)}: {'; '.join(verdict.reasons)}"
