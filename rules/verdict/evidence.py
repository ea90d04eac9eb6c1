"""From the hand log and the capacity test to what the verdict judges: per block, and for the bank as it stands."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from rules.bank import Bank
from rules.hand import REASONS, Entry, GravityReading, HandLog, latest, latest_of_each
from rules.verdict.capacity_test import CapacityTest, result
from rules.verdict.judgement import (
    ANOTHER_FELL,
    DEAD_CELL,
    FEWEST_COMPARED,
    UNWATCHED,
    CellReading,
    Evidence,
    cell_faults,
    judge,
    resting_fault,
)

#: Resting volts count after so many hours; source 16 wants more for gravity, the trade at least this [h].
RESTED = 6.0
#: Share of a test that may go unmeasured [1]; common practice, no source.
NEGLIGIBLE = 0.02


def evidence_of(
    bank: Bank,
    hand: HandLog,
    test: CapacityTest | None,
    measured: Mapping[str, float],
    previous: Mapping[str, float],
    flagged: Sequence[str] = (),
    since: float = 0.0,
    began: float = 0.0,
    equalised: bool = True,
) -> tuple[Evidence, tuple[Evidence, ...]]:
    """Return what is known of a bank and of each of its blocks when the round is over.

    Parameters
    ----------
    bank : Bank
        As joined during the test.
    hand : HandLog
        Hand readings of the round.
    test : CapacityTest or None
        Of the whole bank; a block that did not come down in it gave at least as much.
    measured : dict
        Block label or bank id -> capacity tested on its own, corrected [Ah].
    previous : dict
        The same from the round before [Ah].
    flagged : sequence of str
        Findings on the bank that nobody has put right.
    since : float
        Gravities and resting volts of before say how it was found, not how it is [s since the epoch].
    began : float
        When the round began: what was read since then and does not count is named all the same [s since the epoch].
    equalised : bool
        The hold of this round was done.

    Returns
    -------
    tuple
        The bank's evidence, and one for each block in the order of the bank.

    Raises
    ------
    ValueError
        A test that cannot be corrected, in words.

    Notes
    -----
    A test of the bank says the same share of rated capacity for every block that came down; common practice, no source.

    Examples
    --------
    >>> from rules.bank.model import Block
    >>> bank = Bank("north", ((Block("N1", 3, 200.0), Block("N2", 3, 200.0)),))
    >>> done = CapacityTest(0.0, 25.0, delivered=162.0, hours=16.2, ended_at=6e4, reason="bank", fell_first=("N2",))
    >>> whole, blocks = evidence_of(bank, HandLog(), done, {}, {})
    >>> whole.capacity, blocks[0].at_least, blocks[1].at_least
    (162.0, True, False)
    """
    share, missed = _share(bank, test), _missed(test)
    gravities, off_scale, unmixed = _gravities(hand, since)
    odd = (
        cell_faults({cell: CellReading(value) for cell, value in gravities.items()})
        if len(gravities) >= FEWEST_COMPARED
        else {}
    )
    resting, dead = _resting(hand, since), _dead_cells(hand, since)
    early = _early(hand, since, began)
    blocks = []
    strange: dict[str, list[str]] = {}
    fell = () if test is None else test.fell_first
    inside = {block.label for string in bank.strings for block in string}
    for block in (block for string in (*bank.strings, *bank.aside) for block in string):
        own = measured.get(block.label)
        # A test of the bank says nothing of a block that stood aside.
        tested = None if share is None or block.label not in inside else share * block.capacity
        mine = [f"cell {cell} {what}" for cell, what in (*odd.items(), *off_scale.items()) if _of(block.label, cell)]
        strange[block.label] = mine
        blocks.append(
            Evidence(
                block.label,
                block.cells,
                block.capacity,
                capacity=tested if own is None else own,
                at_least=own is None and tested is not None and (block.label not in fell or bool(missed)),
                previous=previous.get(block.label),
                gravities=tuple(value for cell, value in gravities.items() if _of(block.label, cell)),
                gravity_rising=hand.rising,
                resting=resting.get(block.label),
                faults=tuple([f"cell {cell} {what}" for cell, what in dead.items() if _of(block.label, cell)]),
                flagged=(*mine, *_together({cell: why for cell, why in unmixed.items() if _of(block.label, cell)})),
                because=missed or (ANOTHER_FELL if fell else UNWATCHED),
                read_early=_read_early(early, [f"{block.label}.{n}" for n in range(1, block.cells + 1)], flagged),
                equalised=equalised,
            )
        )
    own = measured.get(bank.id)
    wired = [block for block in blocks if block.label in inside]
    whole = Evidence(
        bank.id,
        bank.cells,
        bank.capacity,
        capacity=own if own is not None or share is None else share * bank.capacity,
        at_least=own is None and test is not None and (test.ended_at is None or bool(missed)),
        previous=previous.get(bank.id),
        gravities=tuple([gravity for block in wired for gravity in block.gravities]),
        gravity_rising=hand.rising,
        resting=resting.get(""),
        faults=_faults(wired),
        flagged=(
            *flagged,
            *(each for block in wired for each in strange[block.label]),
            *_together({cell: why for cell, why in unmixed.items() if cell.rpartition(".")[0] in inside}),
            *_lost(wired),
        ),
        because=missed or "until the test was stopped: test it to the end",
        read_early=_read_early(early, [cell for cell in early if cell.rpartition(".")[0] in inside], flagged),
        equalised=equalised,
    )
    return whole, tuple(blocks)


def _share(bank: Bank, test: CapacityTest | None) -> float | None:
    """Return the share of rated capacity [1], at this rate and corrected to 25 degC; none without a discharge."""
    if test is None or not (test.hours > 0.0 and test.delivered > 0.0):
        return None
    return result(test, bank.capacity).percent / 100.0


def _missed(test: CapacityTest | None) -> str:
    """Say what of a test nobody measured, if enough to condemn a sound battery; a little is inside its error."""
    if test is None or test.unknown_hours <= NEGLIGIBLE * (test.hours + test.unknown_hours):
        return ""
    return f"while {test.unknown_hours:.1f} h of the test were not measured: test it again"


def _gravities(hand: HandLog, since: float) -> tuple[dict[str, float], dict[str, str], dict[str, str]]:
    """Return trusted gravity by cell, cells whose newest reading is off the scale, and those of unmixed water."""
    log = tuple([entry for entry in hand.gravities if entry.taken_at >= since])
    trusted = latest(log, trusted_only=True)
    newest = latest_of_each(log)
    marks = {
        "low": "is too weak to float the hydrometer and left out of the spread",
        "high": "is off the top of the scale and left out of the spread",
    }
    off = {cell: marks[entry.mark] for cell, entry in newest.items() if entry.mark in marks}
    unmixed = {cell: entry.why for cell, entry in newest.items() if not entry.mixed}
    numbers = {
        cell: entry.gravity_corrected
        for cell, entry in trusted.items()
        if entry.gravity_corrected is not None and cell not in off
    }
    return numbers, off, unmixed


def _early(hand: HandLog, since: float, began: float) -> dict[str, GravityReading]:
    """Return the newest reading of each cell of the round, where it does not count, and not for unmixed water."""
    newest = latest_of_each(tuple([entry for entry in hand.gravities if entry.taken_at >= began]))
    return {
        cell: entry for cell, entry in newest.items() if entry.mixed and (not entry.trusted or entry.taken_at < since)
    }


def _read_early(early: Mapping[str, GravityReading], cells: Sequence[str], flagged: Sequence[str]) -> str:
    """Say what of some cells was read, why it is no figure for a verdict, and which cell it makes stand out."""
    read = {cell: early[cell] for cell in cells if cell in early}
    if not read:
        return ""
    # One reading may have two reasons, and another one of them: each is said once.
    parts = [part for entry in read.values() for part in (entry.why or "before the hold was complete").split(REASONS)]
    why = dict.fromkeys(parts)
    numbers = {cell: entry.gravity_corrected for cell, entry in early.items() if entry.gravity_corrected is not None}
    odd = (
        cell_faults({cell: CellReading(number) for cell, number in numbers.items()})
        if len(numbers) >= FEWEST_COMPARED
        else {}
    )
    odd.update({cell: "too weak to float the hydrometer" for cell, entry in early.items() if entry.mark == "low"})
    apart = [f"{cell} stands out ({what})" for cell, what in odd.items() if cell in read]
    mine = {cell: number for cell, number in numbers.items() if cell in read}
    if not apart and mine:
        lowest = min(mine, key=lambda cell: mine[cell])
        # A finding that names one of them says already which stands out, by more than these readings do.
        named = any(re.search(rf"(?<!\w){re.escape(cell)}(?![\w.])", what) for what in flagged for cell in mine)
        none = "" if named else "no cell of these stands out, "
        apart = [f"{none}the lowest is {lowest} at {mine[lowest]:.3f}"]
    count = f"{len(read)} cell{'s were' if len(read) > 1 else ' was'} read"
    return "; ".join([f"{count}, but {', and '.join(why)}, which is no figure for a verdict", *apart])


def _together(cells: dict[str, str]) -> list[str]:
    """Say once what is true of many cells."""
    same: dict[str, list[str]] = {}
    for cell, why in cells.items():
        same.setdefault(why, []).append(cell)
    return [f"cell{'s' if len(names) > 1 else ''} {', '.join(names)}: {why}" for why, names in same.items()]


def _by_time(hand: HandLog) -> list[Entry]:
    """Return entries as they were read: one that is typed in late does not overrule a newer one."""
    return sorted(hand.entries, key=lambda entry: entry.taken_at)


def _dead_cells(hand: HandLog, since: float) -> dict[str, str]:
    """Return cells that read backwards, or next to nothing after a rest, by the multimeter."""
    found: dict[str, str] = {}
    for entry in _by_time(hand):
        if entry.kind != "voltage" or entry.taken_at < since:
            continue
        for where, volts in entry.values.items():
            if "." not in where or isinstance(volts, str):
                continue
            found.pop(where, None)
            if volts < 0.0:
                found[where] = f"reversed: reads {volts:.2f} V"
            elif volts < DEAD_CELL and not entry.under_charge:
                found[where] = f"shorted or dead: rests at {volts:.2f} V"
    return found


def _resting(hand: HandLog, since: float) -> dict[str, float]:
    found: dict[str, float] = {}
    for entry in _by_time(hand):
        if (
            entry.kind == "voltage"
            and entry.taken_at >= since
            and not entry.under_charge
            and (entry.rested_hours or 0.0) >= RESTED
        ):
            found.update({where: float(volts) for where, volts in entry.values.items() if not isinstance(volts, str)})
    return found


def _faults(blocks: Sequence[Evidence]) -> tuple[str, ...]:
    faults = []
    for block in blocks:
        fault = None if block.resting is None else resting_fault(block.cells, block.resting, block.gravities)
        faults += [f"{block.label}: {each}" for each in (*block.faults, *([fault] if fault else []))]
    return tuple(faults)


def _lost(blocks: Sequence[Evidence]) -> list[str]:
    return [f"{block.label} has to go" for block in blocks if judge(block).word == "scrap"]


def _of(label: str, cell: str) -> bool:
    return cell.rpartition(".")[0] == label
