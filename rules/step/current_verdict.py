"""The verdict as it stands: made from the memory whenever it is asked for, with what a person gave in front."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from rules.bank import Bank
from rules.events import moment
from rules.laws import GAS_AFTER_CHARGE
from rules.safety import FIRE_NOTED, NOTED_BY_A_PERSON, confirmed, out_until
from rules.step.memory import Memory, rest_ends
from rules.verdict import NOT_JUDGED, Matching, Verdict, evidence_of, judge, matching

#: Findings that stand against keeping a bank until they are put right.
AGAINST = ("cell-short-suspected", "imbalance", "hopeless", "not-reviving")
NOTHING: Mapping[str, float] = MappingProxyType({})
#: So much longer than the least a bank is better left to rest [s]: 24 h instead of 6 (common practice, no source).
BETTER = 18 * 3600.0
#: Charge that was seen so shortly before the last look goes on [s].
GOING_ON = 120.0
#: Phases in which there is something to judge.
JUDGED = frozenset({"resting", "testing", "finished"})


def against(memory: Memory) -> list[str]:
    """Return the findings that nobody has put right, in words."""
    return [f"{flag}: {memory.flags[flag].reason}" for flag in AGAINST if flag in memory.flags]


def standing(
    bank: Bank,
    memory: Memory,
    measured: Mapping[str, float] = NOTHING,
    previous: Mapping[str, float] = NOTHING,
) -> tuple[tuple[Verdict, ...], Matching]:
    """Return the bank's verdict, then each block's, and which blocks belong together.

    Parameters
    ----------
    bank : Bank
        As joined now.
    memory : Memory
        Of the bank.
    measured, previous : dict
        Label -> capacity that a person knows better than the memory, of this round and of the one before [Ah].

    Returns
    -------
    tuple
        Verdicts, and the proposal; a word that a person gave replaces the one worked out.

    Raises
    ------
    ValueError
        A test that cannot be corrected, or a gravity that cannot be, in words.

    Examples
    --------
    >>> from rules.bank.model import Block
    >>> from rules.step.memory import initial
    >>> bank = Bank("north", ((Block("N1", 6, 200.0), Block("N2", 6, 200.0)),))
    >>> [verdict.word for verdict in standing(bank, initial())[0]]
    ['not-judged', 'not-judged', 'not-judged']
    """
    given = memory.given
    # What was read before the hold was complete says how the bank was found, or what it was on the way.
    began = memory.phase.started_at or 0.0
    since = memory.phase.hold_completed_at or began
    known = {} if given is None else given.capacities
    owned, before = {**known, **measured}, {**memory.previous, **previous}
    done = memory.phase.hold_complete
    whole, blocks = evidence_of(bank, memory.hand, memory.test, owned, before, against(memory), since, began, done)
    verdicts = tuple([judge(each) for each in (whole, *blocks)])
    if given is not None:
        verdicts = tuple([_as_given(each, given.words.get(each.label), given.by) for each in verdicts])
        # what a person has given as scrap goes into no string, whatever its numbers say
        blocks = tuple([block for block in blocks if given.words.get(block.label) != "scrap"])
    return verdicts, matching(blocks, bank.cells)


def still_to_measure(memory: Memory) -> tuple[str, ...]:
    """Say what a verdict still lacks, and from when on it counts."""
    since = memory.phase.hold_completed_at or memory.phase.started_at or 0.0
    when = "6 h after the charger was switched off at the earliest, better 24 h"
    if memory.phase.phase in JUDGED:
        rested = rest_ends(memory)
        when = f"from {moment(rested, up=True)} on, better from {moment(rested + BETTER, up=True)}"
    lacking = []
    if not any(entry.trusted and entry.taken_at >= since for entry in memory.hand.gravities):
        lacking.append(f"the gravity of every cell with its temperature, {when}")
    if memory.test is None:
        lacking.append("the capacity of the rested bank, by `revival test`")
    return tuple(lacking)


def round_over(memory: Memory) -> bool:
    """Tell whether there is something to judge: a round that is over, or a test or a verdict without any round."""
    apart = memory.phase.started_at is None and (memory.test is not None or memory.given is not None)
    return apart or memory.phase.phase in JUDGED


def so_far(verdicts: tuple[Verdict, ...]) -> tuple[Verdict, ...]:
    """Return what is said before a round is over: only what is lost for certain has its word already."""
    return tuple([each if each.word == "scrap" else each._replace(word=NOT_JUDGED) for each in verdicts])


def trip_stands(memory: Memory) -> str:
    """Say which trip stands, above what is not done before its reset; empty where none does."""
    tripped = trip_kept(memory)
    return f"{tripped}; nothing below is done before that." if tripped else ""


def trip_kept(memory: Memory) -> str:
    """Say which trip stands, why, and from when on somebody may go in; empty where none does."""
    lock = memory.interlock
    if not lock.latched:
        return ""
    why = "; ".join(f"{name}: {latch.reason}" if latch.reason else name for name, latch in lock.latched.items())
    still = sorted(set(confirmed(memory.pending)) & set(lock.latched) - set(NOTED_BY_A_PERSON))
    gone = max(out_until(lock), memory.charged_at + 3600.0 * GAS_AFTER_CHARGE if memory.charged_at else 0.0)
    ends = [f"before {moment(gone, up=True)}"] if gone else []
    if memory.charged_at and memory.observed_at - memory.charged_at < GOING_ON:
        ends = ["before an hour after charging has ended", *(ends if out_until(lock) else [])]
    ends += [f"while {', '.join(still)} {'is' if len(still) == 1 else 'are'} still there"] if still else []
    ends = ["before the fire service says so", *ends] if FIRE_NOTED in lock.latched else ends
    nobody = f" Nobody goes in {', nor '.join(ends)}." if ends else ""
    return f"TRIPPED by {why}.{nobody} It stays until a person gives `revival reset`"


def _as_given(verdict: Verdict, word: str | None, by: str) -> Verdict:
    if word is None:
        return verdict
    return verdict._replace(word=word, reasons=(f"given{' by ' + by if by else ''}", *verdict.reasons))
