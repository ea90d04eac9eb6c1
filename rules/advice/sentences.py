"""The one sentence a person needs next: for every phase and every flag what to do, and why neighbours get it wrong."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple


class FlagText(NamedTuple):
    """What is said of one flag.

    Attributes
    ----------
    kind : str
        hazard (latches), permit (comes back by itself), start (blocks a start), chore (never opens the relay).
    action : str
        What a person should do.
    severity_rank : int
        0 is the worst.
    """

    kind: str
    action: str
    severity_rank: int


#: What stands before the action of a hazard or permit, where a relay has already cut and where nothing can.
CUT = {"hazard": "The charger is cut off until a person resets.", "permit": "The charger is cut off for now."}
BY_HAND = {
    "hazard": "Switch the charger off yourself, at the wall and not at the clamps: no relay can do it here.",
    "permit": "Switch the charger off yourself until this is settled: no relay can do it here.",
}

#: Where the general words would be wrong: a spark at a switch in a gassed room, or the action says it already.
_BY_HAND_OF = {
    "gas": "Switch the charger off yourself from outside the room, at the panel: no relay can do it here.",
    "relay-disobeys": "",
    "not-started": "",
}
_SAYS_IT_ITSELF = frozenset({"relay-disobeys", "not-started", "hold-complete"})

#: Name -> action, worst first in each table and the tables worst first: the place is the severity.
_HAZARDS = {
    "gas": "Touch no switch, clamp or flame in the room, open it from outside, stay out for an hour, and find out "
    "why the air did not move before anything charges again.",
    "relay-disobeys": "Switch the charger off by hand at the wall now: the relay was told to open and current still "
    "flows; a welded contact or a wrong topic must be found before the relay is trusted again.",
    "thermal-runaway": "Air the room and keep away from the cells while they cool; at a steady voltage current and "
    "heat now feed each other, so turn the voltage down before another try and look for the hottest block.",
    "over-temperature": "Let the bank cool below 37.8 degC (100 degF), feel for one block hotter than the rest, "
    "check levels, then reset and resume at a lower current: warm is normal, hot destroys plates.",
    "over-voltage": "Turn the charger down before anything else, and check that no block is shorted (the others "
    "then carry its volts) and that no string has come loose.",
    "over-current": "Lower the charger's amps to the string limit before resuming: a bank that wakes takes all it "
    "is offered, and in parallel the string that wakes first takes more than its share.",
    "cell-short-suspected": "Measure every block, look for the cell that stays low, does not gas and runs warm, and "
    "take that block out of its string: a shorted cell makes the charger overcharge all the others.",
}
_PERMITS = {
    "frozen-risk": "Warm the bank well above freezing before charging: weak acid freezes a little below 0 degC, and "
    "a frozen battery must never be charged; note a gravity if you think yours is stronger.",
    "water-reserve": "With the charger off, look into every cell and add distilled water until the plates are "
    "covered: bare plates under charge can arc inside a case full of gas.",
    "meter-silent": "Find out why the meter is silent (power, network, probe off); charging goes on only while it "
    "can be watched.",
    "meter-suspect": "Check the reading with a multimeter or a second thermometer; a value that cannot be true is "
    "treated as none.",
    "mapping-suspect": "Correct the cabin file: volts and amps contradict each other, so one of the two mappings named "
    "here has a wrong unit, scale or topic, or blocks a wrong number of cells; nothing computed from them is true.",
    "journal-lost": "Free or replace the disk that the journal is on: without it a trip could be forgotten in a "
    "power cut.",
    "permit-exhausted": "Charging was stopped and let go too often today; find the cause in the journal, put it "
    "right, then resume.",
    "resume-due": "Look at the bank, then give resume: only this second act lets the relay close again.",
    "charge-limit": "The longest hold, the days or the ampere-hours allowed for one round are used up; let it rest, "
    "read every cell, and judge it rather than charging on.",
}
_START = {
    "polarity-reversed": "Do not charge: a block reads backwards, so check the leads with a multimeter, and if it "
    "is the block itself take it out of the string.",
    "level-wrong": "Before charging bring every cell to just over the plates with distilled water and no higher: "
    "acid expands and spills while charging; never add acid, the sulfate on the plates already holds the acid that "
    "is missing.",
    "checklist-open": "Walk round with the start checklist and confirm each line by name; start stays closed until "
    "then.",
    "proof-test-missing": "Prove the relay once before the round: with the charger running at low current, order a "
    "cut and see the amps fall.",
}
_CHORES = {
    "closed-while-tripped": "The relay reports closed although it was told to open: switch the charger off at the "
    "wall and see who or what closed it.",
    "other-source": "Current still flows although the charger is cut: find what else feeds the bank (solar, a "
    "second charger, an inverter) and switch it off, since nothing here can.",
    "bypassed": "A person excused a silent meter for a while, so the charger runs half blind: stay with the bank and "
    "mend the meter before the time is over.",
    "test-end": "End the capacity test now: take the load off, note the ampere-hours, and put the bank on charge at "
    "once, because every hour spent empty makes new sulfate.",
    "relay-unconfirmed": "Look whether the relay really opened: it neither reported it nor was there enough current "
    "to tell.",
    "temperature-rising-fast": "Look in now and feel every block: the bank warms faster than charging explains; be "
    "ready to lower the current.",
    "temperature-high": "Give it more air or lower the current: above 38 degC (100 degF) the hold soon has to stop.",
    "charger-still-high": "Turn the charger off or back to its normal absorb and float volts: the hold is complete, "
    "and more gassing now costs water and plates and gains nothing.",
    "hopeless": "Stop here: after days at the ceiling, or with a short or reversed cell, this one does not come "
    "back; take the block out and give the charger to the next.",
    "imbalance": "Find the odd one out: read gravity and volts of each block and clamp each string; tighten joints "
    "first, a bad joint looks just like a bad cell.",
    "sensors-disagree": "Two meters of the same thing differ; check both with a multimeter and mend or unmap the "
    "wrong one.",
    "journal-degraded": "Look at the disk: the journal is slow or nearly full, and what it cannot keep is lost for "
    "the verdict.",
    "not-reviving": "A whole day at the ceiling and no growth: clean and tighten every joint, wake a smaller part "
    "(one string, one half) or warm the bank, before calling it dead; no acid and no additives, they only hide the "
    "sulfate.",
    "presence-due": "Look in: smell, touch each block, listen for even gassing, see that the air is open, and note "
    "that you were there.",
    "string-currents-due": "Clamp the amps of each string and note them: strings in parallel never share as they "
    "should while they wake.",
    "water-due": "Top up with distilled water to just over the plates, charger off first; leave room, the mark is "
    "for the end.",
    "level-due": "Look at the level in every cell and note it: gassing eats water, and a rise in gravity means "
    "nothing without it.",
    "gravity-due": "Read the gravity of every cell with its temperature and note it, also the ones too low to float.",
    "charger-limit-low": "The charger holds a ceiling below the equalising voltage; raise its setting, or the "
    "sulfate stays where it is.",
    "look-again": "Look again into the cell you noted as sulfated, from the side and with goggles: white deposits "
    "should be going.",
    "proof-test-due": "Prove the relay again at low current: a contact that has not moved for long may have welded.",
    "clock-untrusted": "Set the board's clock or give it a network: durations are right, dates in the journal may "
    "not be.",
    "after-round": "Retorque and grease the posts, set the charger back to normal volts, keep a monthly gravity "
    "sheet, and check again in 30 days.",
}
#: Permit reasons that are not faults but the normal state before and after charging; the phase says it better.
_NORMAL = {
    "not-started": "Work through the start checklist, then give start; nothing charges until then.",
    "hold-complete": "The hold is complete: leave it off and let it rest, 6 h at least and better 24 h, before "
    "reading anything.",
}

_KINDS = (
    (_HAZARDS, "hazard"),
    (_PERMITS, "permit"),
    (_START, "start"),
    (_CHORES, "chore"),
    (_NORMAL, "permit"),
)

#: Flag name -> what is said of it.
FLAGS: dict[str, FlagText] = {
    name: FlagText(kind, action, rank)
    for rank, (name, kind, action) in enumerate(
        (name, kind, action) for table, kind in _KINDS for name, action in table.items()
    )
}

#: Phase -> what to do while nothing is wrong.
PHASE_ADVICE: dict[str, str] = {
    "idle": "Nothing is charging: make the plan, lay everything out, confirm the start checklist, then give start.",
    "waking": "Leave it alone: covered plates take almost nothing for hours or days, so full volts and hardly any "
    "amps are normal now; do not raise the voltage and add no acid.",
    "reviving": "Leave it alone and be glad: amps climb and volts fall because the plates begin to accept charge; "
    "falling volts are encouraging here, not a fault, so do not turn anything up; watch amps per string and heat.",
    "bulk": "Let it take its amps: volts creep up slowly now; look at levels and feel for a warm block once in a "
    "while.",
    "absorbing": "Raise the charger to the equalising voltage: it sits at a lower ceiling and tapers, which looks "
    "finished but leaves the hard sulfate on the plates.",
    "finishing": "Leave the volts where they are: the bank is at the equalising voltage and the hold clock starts "
    "once the current has settled; keep the air moving.",
    "holding": "Keep it at the equalising voltage until the hold is over, even though it looks done: a few flat "
    "amps and steady gassing are the work; watch heat and water, read gravity hourly near the end.",
    "resting": "Leave the charger off, keep the air moving for an hour, and wait 6 h at least, better 24 h: volts "
    "and gravity read too high until the surface charge has gone; after that read every cell.",
    "testing": "Stay near: note the time and volts, watch for the first cell that falls, and end at 1.75 V per cell.",
    "finished": "The verdict is in: retorque, grease the posts, go back to normal charger settings, check in 30 days.",
}

#: Between `start` and the first current.
STARTED = (
    "The round is started and nothing flows yet: switch the charger on and see that its amps show, here or by hand."
)

_CHARGING = frozenset({"waking", "reviving", "bulk", "absorbing", "finishing", "holding"})


def action(name: str, watch_only: bool = False) -> str:
    """What to do about one flag, with what has been done or must be done by hand about the charger.

    Parameters
    ----------
    name : str
        A key of `FLAGS`.
    watch_only : bool
        No relay: nothing has been cut, so a person must.

    Returns
    -------
    str
        For people.

    Raises
    ------
    KeyError
        Unknown flag.

    Examples
    --------
    >>> action("over-temperature", watch_only=True)[:31]
    'Switch the charger off yourself'
    >>> action("over-temperature")[:26]
    'The charger is cut off unt'
    >>> action("gravity-due", watch_only=True)[:4]
    'Read'
    """
    text = FLAGS[name]
    if watch_only:
        before = _BY_HAND_OF.get(name, BY_HAND.get(text.kind, ""))
    else:
        before = "" if name in _SAYS_IT_ITSELF else CUT.get(text.kind, "")
    return f"{before} {text.action}".lstrip()


def advice(
    phase: str, interrupted: bool, flags: Sequence[str], woken: bool, watch_only: bool, started: bool = False
) -> str:
    """Put the next step into words: the worst flag first, else what the phase asks for.

    A hazard, a withheld permit or a blocked start is all that is said. A chore is followed by the phase's sentence,
    so that a due hydrometer reading never hides that falling volts are a good sign.

    Parameters
    ----------
    phase : str
        A key of `PHASE_ADVICE`.
    interrupted : bool
        Charging stands still (generator off, power cut, relay open).
    flags : sequence of str
        Raised flags, keys of `FLAGS`, any order.
    woken : bool
        The bank has taken real charge in this round.
    watch_only : bool
        No relay is configured.
    started : bool
        A round was started; it stays ``idle`` until current flows.

    Returns
    -------
    str
        For people.

    Raises
    ------
    KeyError
        Unknown phase or flag.

    Examples
    --------
    >>> "falling volts are encouraging" in advice("reviving", False, ["gravity-due"], True, True)
    True
    >>> advice("holding", False, ["gravity-due", "gas"], True, False).startswith("The charger is cut off")
    True
    """
    words = STARTED if started and phase == "idle" else _phase_words(phase, interrupted, woken)
    if not flags:
        return words
    worst = min(flags, key=lambda name: FLAGS[name].severity_rank)
    if worst == "not-started" or (worst == "hold-complete" and not watch_only):
        return words
    if FLAGS[worst].kind == "chore":
        return f"{FLAGS[worst].action} {words}"
    return action(worst, watch_only)


def _phase_words(phase: str, interrupted: bool, woken: bool) -> str:
    words = PHASE_ADVICE[phase]
    if not interrupted or phase not in _CHARGING:
        return words
    if not woken:
        return (
            "See that the charger comes back on: charging stands still, and a bank that has not woken yet falls back."
        )
    return "Charging stands still and so do the clocks; nothing is lost, it goes on when the charger is back."
