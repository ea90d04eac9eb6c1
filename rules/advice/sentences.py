"""What a person does next: one imperative line, then a list; made from what was seen, worst first.

The tables say what each flag asks for. What stands in front of it, whether the charger is off, must be switched off or
is not seen, comes from `rules.advice.charger_now`, so that no two sentences can tell different stories.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from rules.advice.charger_now import ChargerNow, evidence, held_for
from rules.events import moment
from rules.phase import CHARGING


class FlagText(NamedTuple):
    """What is said of one flag.

    Attributes
    ----------
    kind : str
        hazard (latches), permit (comes back by itself), start (blocks a start), chore (never opens the relay).
    action : str
        What a person should do, once the charger is as it must be for it.
    severity_rank : int
        0 is the worst.
    """

    kind: str
    action: str
    severity_rank: int


class Contradiction(NamedTuple):
    """Gravity of the weakest cell [1], volts per cell before the charge, and what such acid makes at rest [V]."""

    weakest: float
    rested: float
    expected: float


class Situation(NamedTuple):
    """What the words are made from.

    Attributes
    ----------
    phase : str
        A key of `PHASE_ADVICE`.
    interrupted : bool
        Charging stands still (generator off, power cut, relay open), or nobody can see that it goes on.
    woken : bool
        The bank has taken real charge in this round.
    started : bool
        A round was started; it stays ``idle`` until current flows.
    hold_complete : bool
        The hold was held to its end, and not finished early.
    hold_left : float
        Hold hours that are missing [h].
    now : ChargerNow
        What is known of the charger.
    doubt : str
        Why nothing may be turned up and nobody may be told to wait: warm, suspect, unseen, or empty.
    unseen : tuple of str
        Quantities that nobody knows now.
    gone : bool
        It tripped, and what tripped it is no longer seen: a reset would be taken.
    rest_ends, at, gravity_at : float
        From when on a resting bank tells the truth, now, and when gravity was last read [s since the epoch].
    blocks : bool
        The meters show covered plates: volts that only a charger holds, at its ceiling, and hardly any amps.
    checked : bool
        Somebody confirmed the start checklist for this round.
    seen_to : bool
        The round is over, and somebody noted something of the bank since.
    proving : str
        What a running proof test waits for: closing, opening or witness; empty where none runs.
    after_look : str
        The act that would be taken once a person has looked: reset, resume or start; empty where none would.
    full : float or None
        Gravity of the weakest cell, where rested readings of every cell show a charged bank [1].
    nearly : float or None
        The same, where they show one that is nearly charged [1].
    against : Contradiction or None
        Gravities of a charged bank that rested at volts which are not.
    blind : str
        Nothing shows volts, amps or heat of a bank whose charge may go on: ``now``, or ``just-up`` while its meters may
        still speak after the bridge came up; else empty.
    """

    phase: str
    interrupted: bool = False
    woken: bool = False
    started: bool = False
    hold_complete: bool = True
    hold_left: float = 0.0
    now: ChargerNow = ChargerNow()
    doubt: str = ""
    unseen: tuple[str, ...] = ()
    gone: bool = False
    rest_ends: float = 0.0
    at: float = 0.0
    gravity_at: float = 0.0
    blocks: bool = False
    checked: bool = False
    seen_to: bool = False
    proving: str = ""
    after_look: str = ""
    full: float | None = None
    nearly: float | None = None
    against: Contradiction | None = None
    blind: str = ""


class Steps(NamedTuple):
    """One imperative line, and what comes after it."""

    first: str
    then: tuple[str, ...] = ()


#: A charger is switched off here; in a gassed room no switch is touched.
AT_THE_WALL, OUTSIDE = "at the wall", "from outside the room at the panel"
#: Nobody goes to the posts for these before the charger is off and the room was aired for an hour.
AT_THE_POSTS = frozenset(
    {
        "over-voltage", "cell-short-suspected", "water-reserve", "polarity-reversed", "level-wrong", "hopeless",
        "imbalance", "not-reviving", "water-due", "after-round", "case-damaged", "plates-bare", "current-step",
    }
)  # fmt: skip
#: These can wait for the next time that the charger is off anyway.
_CAN_WAIT = frozenset({"imbalance", "not-reviving"})
#: In a room with gas, smoke or a cell that may burst nobody touches a switch.
_FROM_OUTSIDE = frozenset({"gas", "danger-noted"})
#: After these nobody is told to be patient, though the charger may stay on.
_NO_PATIENCE = frozenset({"string-over-limit", "hydrogen-high"})
#: The one exception that the trade knows: reading a hydrometer, or looking into a cell, while the bank gasses.
OVER_THE_CELLS = frozenset({"level-due", "gravity-due", "gravities-doubted", "look-again", "heat-unwatched"})
GOGGLES = "goggles on, no metal tool over the cells, no spark"
#: These are raised in the normal course of a round; the phase says what to do.
NORMAL_COURSE = frozenset({"not-started", "hold-complete"})
#: These wait for a person's resume.
_RESUMED = frozenset({"resume-due", "permit-exhausted", "opened-by-hand"})
#: Chores that matter while the charger must stay off.
_STILL_SAID = frozenset({"closed-while-tripped", "other-source", "relay-unconfirmed", "test-end", "charger-still-high"})
#: The same, and one that asks for no switching off now: by it a charger may come on that must stay off.
_SAID_WHILE_OFF = _STILL_SAID | {"retained-close"}
#: Nothing withdraws the permit for these, yet nobody may call the bank safe while they are up: current that nothing
#: here can stop or that nobody saw stop, gas near its limit, and how a shorted cell begins.
NOT_SAFE = frozenset(
    {
        "closed-while-tripped", "other-source", "relay-unconfirmed", "string-over-limit", "hydrogen-high",
        "current-step",
    }
)  # fmt: skip
#: Where no relay is, nothing was cut for these, and nobody need switch anything off.
_OF_THE_BRIDGE = frozenset({"journal-degraded", "storage-unproved"})
#: Longest list behind the first line; every flag is shown with its own words beside it.
MOST_LINES = 5

#: Name -> action, worst first in each table and the tables worst first: the place is the severity.
_HAZARDS = {
    "gas": "Touch nothing electric and light nothing in the room, open it from outside and stay out for an hour: find "
    "out why the air did not move before anything charges again.",
    "relay-disobeys": "Pull the charger's plug, then find the welded contact or the wrong topic, and after the reset "
    "prove the relay anew before it is trusted again: it was told to open, and the current did not go.",
    "danger-noted": "Leave the room, touch no switch in it and let nobody in, air it from outside for an hour, then "
    "look for the block that smells, sparks or is hot: it never goes back on charge.",
    "thermal-runaway": "Air the room and keep away from the cells while they cool; at a steady voltage current and "
    "heat feed each other, so turn the voltage down before another try and look for the hottest block.",
    "over-temperature": "Let the bank cool below 37.8 degC (100 degF); feel from outside for one block hotter "
    "than the rest, and go on at a lower current: warm is normal, hot destroys plates.",
    "over-voltage": "Turn the charger's volts down, and check that no block is shorted (the others then carry its "
    "volts) and that no joint has come loose.",
    "over-current": "Lower the charger's amps to the string limit before resuming: a bank that wakes takes all it "
    "is offered, and in parallel the string that wakes first takes more than its share.",
    "cell-short-suspected": "Measure every block, look for the cell that stays low, does not gas and runs warm, and "
    "take that block out of its string: a shorted cell makes the charger overcharge all the others.",
}
_PERMITS = {
    "polarity-reversed": "Check the leads with a multimeter, and if the block itself reads backwards take it out of "
    "the string before anything else: it must not be charged.",
    "case-damaged": "Look every case over for cracks and leaks and take that block out: a cracked, leaking or bulging "
    "case is replaced and never charged again, and a frozen bank first thaws slowly in a warm room; note of each "
    'block what you saw of ice, cracks and leaks, or that there are none ("A2 crack gone" once replaced or found not '
    'cracked), with `revival record seen "WHAT YOU SAW"`.',
    "plates-bare": "Cover the plates of every cell with distilled water and no higher, and note it with `revival "
    "record level`: bare plates under charge can arc inside a case full of gas.",
    "frozen-risk": "Warm the bank well above freezing before charging: weak acid freezes a little below 0 degC, and "
    "a frozen battery must never be charged; note a gravity if you think yours is stronger.",
    "water-reserve": "Look into every cell and add distilled water until the plates are covered, then note it with "
    "`revival record water`: bare plates under charge can arc inside a case full of gas.",
    "meter-silent": "Find out why the meter is silent (power, network, probe off), and charge only while it can be "
    "watched.",
    "meter-suspect": "Check the reading with a multimeter or a second thermometer; a value that cannot be true is "
    "treated as none.",
    "mapping-suspect": "Correct the cabin file: volts and amps contradict each other, so one of the two mappings named "
    "here has a wrong unit, scale or topic, or blocks a wrong number of cells; nothing computed from them is true.",
    "journal-lost": "Look at the bank, and at the disk that the journal is on: what happened before is not known.",
    "journal-degraded": "Free or replace the disk that the journal is on: it stores nothing now, and what cannot be "
    "kept, a trip or an end above all, the next start would not know.",
    "storage-unproved": "Look at the disk that the journal is on: nothing has been written since this start, and "
    "nothing charges before something has.",
    "permit-exhausted": "Find in the journal why the permit was withdrawn so often today and put it right, then "
    "give `revival resume`.",
    "opened-by-hand": "Find out what opened the relay or kept it from closing (a hand at it, a hub, its own power or "
    "network), then give `revival resume`: the bridge never closes what a person opened.",
    "relay-link-lost": "Look at broker, network and the bridge's own connection: without them the relay opens, and it "
    "closes again five minutes after they are back, four times a day at most.",
    "nobody-listens": "Compare the relay's topic in the cabin file with the relay's own settings, letter by letter, "
    "and see that the relay is on the network: the broker says that no order reaches anybody.",
    "auto-off-missing": "Give the relay an auto-off of its own (90 s suits most) and write `auto_off` into the cabin "
    'file; where it has none write "none" there, and know that a lost broker or network then leaves the charger on.',
    "resume-due": "Look at the bank and come away from the posts, then give `revival resume`: only this second act "
    "lets the relay close again, and it may do so within seconds.",
    "charge-limit": "Let the bank rest, read every cell and judge it: the hold or the days of one round are used up, "
    "or more than enough has gone in and nothing moves any more; where a cell still gains, `revival resume` gives the "
    "round a day more, but not a longer hold.",
}
_START = {
    "charging-unprepared": "Switch the charger off at the wall until plan and checklist are done, then give "
    "`revival start`: it is on and no round was started.",
    "level-wrong": "Draw the level down to between plates and mark, and keep what you drew for that cell: acid expands "
    "and spills while charging; never add acid, the sulfate on the plates already holds the acid that is missing.",
    "checklist-open": "Walk round with the start checklist, which `revival checklist --name YOU` asks line by line and "
    "the bench page shows: no start before.",
    "proof-test-missing": "Prove the relay once before the round with `revival prove`, clear of the posts: it lets "
    "the charger run for some seconds at low current, tells the relay to open, and the amps must fall.",
}
_CHORES = {
    "closed-while-tripped": "Find who or what closed the relay although it had been told to open, and stop it.",
    "retained-close": "Find at once who leaves an order to close on the relay's topic with the retain flag (a hub, a "
    "script) and take the flag away: it was cleared, but left there again while this bridge is off it closes the relay "
    "whenever the relay reconnects, and the charger comes on with nobody behind it; until it is found "
    "stop this bridge only with the charger unplugged.",
    "other-source": "Find what else feeds the bank (solar, a second charger, an inverter) and switch it off: "
    "the relay was opened and current still flows in, which nothing here can stop.",
    "bypassed": "Stay with the bank and mend the meter before the time is over: a person excused its silence, so the "
    "bank is watched half blind.",
    "test-end": "End the capacity test now: switch the load off and note the ampere-hours; every hour spent empty "
    "makes new sulfate.",
    "relay-unconfirmed": "Look whether the relay really opened: nothing has shown it.",
    "temperature-rising-fast": "Look in now, feel every block from outside, and lower the current: the bank warms "
    "faster than charging explains.",
    "temperature-high": "Give the bank more air or lower the current: above 38 degC (100 degF) the work soon has "
    "to stop.",
    "charger-still-high": "Switch the charger off at the wall, or back to its normal absorb and float volts: the "
    "work at high volts is over, and more gassing costs water and plates and gains nothing.",
    "string-over-limit": "Lower the charger's amps now until that string is within its limit: where others give "
    "nothing or feed it, a cell in it may be shorted.",
    "current-step": "Measure every block and look for the cell that stays low: a current that jumps while the volts "
    "stand is how a shorted cell begins.",
    "hydrogen-high": "Open more, and look from outside whether the fan runs: hydrogen comes near the limit at which "
    "charging stops, so no spark, no flame and no switch in the room.",
    "hopeless": "Take the block out and give the charger to the next bank: after days at the ceiling, or with a short "
    "or reversed cell, this one does not come back.",
    "heat-unwatched": "Read the acid of the warmest cell by hand now, and every hour while it charges; above "
    "38 degC (100 degF) read it every quarter of an hour, note it with `revival record temperature`, and stop charging "
    "at its limit, 43.3 degC (110 degF) at most in the acid and 40 degC (104 degF) on a case: no thermometer is in the "
    "cabin file, and nobody else watches the heat, the main way to ruin a bank.",
    "checklist-unconfirmed": "Walk round now with the start checklist, which `revival checklist --name YOU` asks line "
    "by line, touching nothing at the posts while it charges: the round began without it.",
    "imbalance": "Tighten every joint first, for a bad joint looks just like a bad cell, then read gravity and volts "
    "of each block to find the odd one out.",
    "sensors-disagree": "Check both meters against a third and mend or unmap the wrong one: two of the same thing "
    "differ.",
    "session-lost": "Look whether the broker keeps its sessions when it starts again, and who else connects under this "
    "bridge's own name: what was sent meanwhile is missing.",
    "meter-floods": "Find what that meter sends and slow it down or unmap it: it sends more than can be read, and what "
    "is beyond is left out.",
    "not-reviving": "Clean and tighten every joint, wake a smaller part (one string, one half) or warm the bank "
    "before calling it dead, after a whole day at the ceiling without growth; no acid and no additives, they only hide "
    "the sulfate.",
    "presence-due": "Look in: smell, listen, and touch each block from outside; see that it gasses evenly and the "
    'air is open, and note it with `revival record seen "all well"`, or with what you saw.',
    "string-currents-due": "Measure the amps of each string with a clip-on meter, touching nothing bare, and note "
    "them with `revival record amps`: strings in parallel never share as they should while they wake.",
    "water-due": "Top every cell up with distilled water to just over the plates and note it with `revival record "
    "water`: the mark is for the end of the round.",
    "level-due": "Look at the level in every cell and note it with `revival record level`: gassing eats water, and a "
    "rise in gravity means nothing without it.",
    "gravity-due": "Read the gravity of every cell with its temperature, also the ones too low to float, and note it "
    "with `revival record gravity`.",
    "retained-order": "Find whoever leaves an order to open on the relay's topic with the retain flag (a hub or a "
    "script) and take the flag away: nothing comes on by it, but the broker opens the relay whenever it reconnects.",
    "charger-limit-low": "Raise the charger's setting: it holds a ceiling below the equalising voltage, and there "
    "the sulfate stays where it is.",
    "look-again": "Look again into the cell you noted as sulfated, from the side, and note it with `revival record "
    "seen`: white deposits should be going.",
    "gravities-doubted": "Read the cells that seem apart once more when the bank has rested, with the temperature of "
    "their acid and no fresh water on it, before anything is made of it: what was read cannot be trusted yet.",
    "zero-due": "Hold a clip-on meter round the bank's cable, touching nothing bare, and where it shows nothing give "
    "`revival zero`: the meter's offset is no charge; where it shows the same, a load is still connected.",
    "meter-clock-wrong": "Set that meter's clock, or leave `time` out of its mapping: until then its values are dated "
    "by their arrival.",
    "proof-test-due": "Prove the relay at low current with `revival prove`, clear of the posts: a contact that has not "
    "moved for long, or was never seen to stop a current, may have welded; in a round it then stays open for five "
    "minutes.",
    "clock-untrusted": "Set the board's clock or give it a network: durations are right, dates in the journal may "
    "not be.",
    "after-round": "Retorque and grease the posts, set the charger back to normal volts, keep a monthly gravity "
    "sheet, and look again in 30 days; note it with `revival record note`.",
}
#: Permit reasons that are not faults but the normal state before and after charging; the phase says it better.
_NORMAL = {
    "not-started": "Work through the start checklist, then give `revival start`.",
    "hold-complete": "Let the bank rest with the charger off, 6 h at least and better 24 h, before reading anything: "
    "the hold is complete.",
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

#: Phase -> what to do while nothing is wrong and everything is seen. A phase is no measured movement: what amps and
#: volts do stands here as a condition, never as something seen.
PHASE_ADVICE: dict[str, str] = {
    "idle": "Make the plan (`revival plan`), lay everything out, confirm the start checklist, then give "
    "`revival start`.",
    "waking": "Leave it alone: covered plates take almost nothing for hours or days, so full volts and hardly any "
    "amps are normal now; do not raise the voltage and add no acid.",
    "reviving": "Leave it alone and be glad: it takes more than covered plates would; where amps climb and volts fall, "
    "falling volts are encouraging here, not a fault, so do not turn anything up; watch amps per string and heat.",
    "bulk": "Let it take its amps, however slowly the volts come up: look at levels and feel for a warm block once in "
    "a while.",
    "absorbing": "Raise the charger to the equalising voltage: it sits at a lower ceiling, which looks finished but "
    "leaves the hard sulfate on the plates.",
    "finishing": "Leave the volts where they are: the bank is at the equalising voltage and the hold clock starts "
    "once the current has settled; keep the air moving.",
    "holding": "Keep it at the equalising voltage until the hold is over, even though it looks done: a few flat "
    "amps and steady gassing are the work; watch heat and water, read gravity hourly near the end.",
    "resting": "Keep the charger off and the air moving for an hour, and wait 6 h at least, better 24 h: volts and "
    "gravity read too high until the surface charge has gone; after that read every cell.",
    "testing": "Stay near: note the time and volts, watch for the first cell that falls, and end at 1.75 V per cell.",
    "finished": "Retorque and grease the posts, go back to normal charger settings, and look again in 30 days: the "
    "round is over.",
}

#: In `waking` while the meters do not show covered plates.
NOT_SETTLED = (
    "Let it charge, turn nothing up and add no acid, and look at volts and amps again within the hour: whether the "
    "bank takes its charge or still blocks is not settled yet."
)
#: Phases in which a charged bank is taken for one with sulfate on its plates, until its current has told its course.
LOOKS_BLOCKED = frozenset({"waking", "absorbing"})
#: Before a round, behind what leads to its start.
NEEDS_NONE = (
    "Yet ask first whether it needs a round at all: every cell was read at {weakest:.3f} or more, which is a charged "
    "bank unless acid was ever added, and what it holds shows only under a load."
)
#: The same, where the hydrometer says otherwise.
FULL = (
    "Turn nothing up, for the hydrometer says that this bank is charged: every cell was read at {weakest:.3f} or more, "
    "and hardly any amps at full volts are then no sign of sulfate; end the round with `revival finish`, let the bank "
    "rest and test its capacity with `revival test`. Only where acid was ever added to a cell its gravity tells "
    "nothing, and the bank may still be blocked."
)
#: In `waking` where the bank may block, or may simply have little left to take.
NEARLY = (
    "Turn nothing up and add no acid: every cell was read at {weakest:.3f} or more, so hardly any amps at full volts "
    "may mean that the bank is simply nearly charged, or that sulfate still covers the rest of its plates. Let it "
    "charge on and read every cell again tomorrow: gravities that still rise are sulfate that comes back; where they "
    "stand, it is charged as far as it goes: end the round with `revival finish` and test its capacity after the rest."
)
#: The same, where volts and gravities tell two stories: what was measured, which of them counts, what to look at.
CONTRADICTED = (
    "Turn nothing up and add no acid until this is cleared up, for two readings contradict each other: every cell was "
    "read at {weakest:.3f} or more, which is a charged bank, yet before the charge it rested at {rested:.2f} V per "
    "cell, where such acid stands at {expected:.2f} V. The volts are believed, and the gravities count for nothing: by "
    "volts and amps it still blocks. See that blocks and cells in the cabin file are those of the bank, that no load "
    "pulled it down before the charge, and that the hydrometer shows 1.000 in water."
)
MEASURE_BOTH = (
    "Hold a multimeter against the bank's meter, look for a block that stands a cell lower than the others, and when "
    "the charger has been off for 6 h read every cell once more."
)

#: What tripped is no longer there, and the charger is off.
GONE = "Look at the bank and put the cause right, then give `revival reset`: what tripped it is no longer seen."
AIRED = (
    "Look from the door first, then find the block that smelled, sparked or was hot and take it out, it never goes "
    "back on charge; then give `revival reset`: the room had its hour of air."
)
#: The journal was lost: what is given once somebody has looked, for a round under way or one that begins.
LOOKED = (
    "Look at the bank, and at the disk that the journal is on, then give `revival {act}`: what happened before is not "
    "known."
)
#: While the relay is being proved: nothing else is to be typed but a person's word, where nothing else can show it.
PROVING = "Keep clear of the posts and wait: the relay is being proved, and the charger may run for some seconds."
WITNESS = (
    "Say who heard the relay and saw the charger go out, with `revival witness --name YOU`: nothing else here can show "
    "it, and after three minutes the test has failed."
)
#: A bank that has rested: what comes next, before and after its gravities were read.
RESTED = (
    "Read the gravity of every cell with its temperature, note it with `revival record gravity`, and then test the "
    f"capacity with `revival test`: the bank has rested long enough. {GOGGLES[0].upper()}{GOGGLES[1:]}."
)
READ = (
    "Test the capacity with `revival test`, or give the verdict with `revival verdict`, once every cell has been read."
)
#: A round that is over, and whose posts were seen to.
IN_SERVICE = (
    "Keep the charger at its normal settings, read the gravity of every cell once a month, and look again 30 days "
    "after the round: it is over."
)
#: With a relay, once checklist and proof are done.
START_NOW = (
    "Set the charger as the plan says (`revival plan`), see that nobody is at the posts, then give `revival start`: "
    "checklist and proof are done."
)
#: What an ammeter shows is its error only where the charger is known to be off, and that can wait until it is.
ZERO_ONCE_OFF = (
    "Hold a clip-on meter round the bank's cable, touching nothing bare, once the charger was switched off at the wall "
    "and that was noted with `revival record charger off`; where it shows nothing give `revival zero`: the meter's "
    "offset is no charge."
)
#: Between `start` and the first current.
STARTED = (
    "See that the charger is switched on at the wall and that amps show: the round is started and none are seen yet."
)
#: Between the order to close and the relay's own word that it has.
CLOSES = (
    "Wait a moment for the relay: it was told to close at {at} and still reports open; where it stays so look at its "
    "power and its network."
)

#: A bank whose charge may go on while nothing shows volts, amps or heat, and where no meter falls silent that could say
#: so.
BLIND = (
    "Go and look now, and switch the charger off at the wall where nobody stays to read volts, amps and heat: nothing "
    "shows any of them, and the charge may still go on; note it with `revival record charger off`, or what you read."
)
JUST_UP = (
    "Wait some minutes for the meters, for the bridge has just come up and none has spoken yet; where none does, go "
    "and look whether the charger is on, and switch it off at the wall until the bank can be watched."
)
#: A charger that is on too early, where no relay is.
UNPREPARED = (
    "Switch the charger off at the wall until plan and checklist are done, and confirm them with `revival checklist "
    "--name YOU`: it is on and nobody has; after that the round begins by itself with ten minutes of charging."
)
#: A bank without a thermometer, before it charges.
PUT_A_PROBE = (
    "Put a thermometer into the warmest cell and its topic into the cabin file before anything charges: without one "
    "nobody watches the heat, the main way to ruin a bank, and while it charges a person must read the acid every "
    "hour and stop at 43.3 degC (110 degF)."
)
#: Nothing is against it, and no round is known yet.
NOT_KNOWN_YET = (
    "Let it charge and stay near: the round begins by itself after ten minutes of charging, or now with "
    "`revival start`, and the phase shows within minutes of that."
)
#: The same before the charger comes on, where no relay is.
MAKE_READY = (
    "Make the plan (`revival plan`), lay everything out and confirm the start checklist with "
    "`revival checklist --name YOU` before the charger comes on: the round begins by itself after ten minutes of "
    "charging."
)
READY = "Charge when you are ready: the checklist is confirmed, and the round begins by itself after ten minutes."

#: What is left to do at a charger that is off.
TURN_IT_BACK = (
    "Set the charger back to its normal absorb and float volts before it comes on again: the work at high volts is "
    "over, and more gassing costs water and plates and gains nothing."
)
#: Said of these instead once the charger is known to be off: there is no current to be lowered.
ONCE_OFF = {
    "temperature-rising-fast": "Look in now, feel every block from outside, and keep the charger off: the bank warms "
    "although nothing charges it.",
    "temperature-high": "Give the bank more air, and keep the charger off until it is below 38 degC (100 degF).",
    "charger-still-high": TURN_IT_BACK,
}
#: A test that measures the charger.
TEST_UNDER_CHARGE = "Switch the charger off at the wall, for a test under charge measures nothing, and begin it anew."
#: Chores that ask for the charger to be off, wherever they stand in the list: then nobody is told to let it run.
_ASK_OFF = AT_THE_POSTS | _STILL_SAID | _NO_PATIENCE

#: How a quantity that nobody sees is put right by hand.
_NOTE_IT = {
    "voltage": "`revival record voltage`",
    "electrolyte_temperature": '`revival record temperature "25 degC"`',
    "current": "`revival record amps`",
}


def lines(name: str, now: ChargerNow) -> tuple[str, ...]:
    """Put one flag into words: the imperative first, then what is known and how it is ended.

    Parameters
    ----------
    name : str
        A key of `FLAGS`.
    now : ChargerNow
        What is known of the charger.

    Returns
    -------
    tuple of str
        Whole sentences for people, the imperative in front.

    Raises
    ------
    KeyError
        Unknown flag.

    Examples
    --------
    >>> lines("water-due", ChargerNow())[0][:47]
    'No relay here: switch the charger off now, at t'
    >>> lines("water-due", ChargerNow("open", "off", "relay", 1795590000.0))[0][:17]
    'Top every cell up'
    """
    kind, text, _ = FLAGS[name]
    if name in AT_THE_POSTS:
        found = [_at_the_posts(text, now, name in _CAN_WAIT)]
    elif name == "heat-unwatched" and not now.flows and now.state != "on":
        found = [PUT_A_PROBE]
    elif name in OVER_THE_CELLS:
        found = [f"{text} {GOGGLES[0].upper()}{GOGGLES[1:]}."]
    elif name == "charging-unprepared":
        found = [UNPREPARED if now.relay == "none" else text]
    elif name == "zero-due" and now.state != "off":
        found = [ZERO_ONCE_OFF]
    elif name == "checklist-open" and (now.flows or now.state == "on"):
        found = [f"{_off(now, _switch(now))}, then {_lower(text)}"]
    elif name in ONCE_OFF and now.dead:
        found = [ONCE_OFF[name]]
    elif name == "string-currents-due" and now.dead:
        found = [f"As soon as charging goes on {_lower(text)}"]
    elif (
        (name in _OF_THE_BRIDGE and now.relay == "none")
        or name in NORMAL_COURSE
        or kind not in ("hazard", "permit")
        or (kind == "permit" and now.told == "allow")
    ):
        found = [text]
    elif now.dead:
        found = [text, evidence(now)]
    else:
        where = OUTSIDE if name in _FROM_OUTSIDE else _switch(now)
        clause = _off(now, where)
        told = now.relay not in ("none", "disobeys") and now.state != "off"
        found = [f"{clause}: {_lower(evidence(now))}" if told else f"{clause}.", text]
    if kind == "hazard":
        resume = "" if now.relay == "none" else ", in a round then `revival resume`"
        buttons = "a button" if now.relay == "none" else "both are buttons"
        found.append(_ended(now).format(resume=resume, buttons=buttons))
    return tuple(found)


def _ended(now: ChargerNow) -> str:
    """Say how a trip is ended; not before the hour in which nobody goes in is over."""
    if now.out_until:
        until = moment(now.out_until, up=True)
        return (
            f"Let nobody in until {until}: from then on, once the cause is put right, `revival reset` is "
            "taken{resume}; {buttons} of the bench page."
        )
    return "When the cause is put right give `revival reset`{resume}; {buttons} of the bench page."


def action(name: str, now: ChargerNow) -> str:
    """Say everything about one flag in one text, for its own card.

    Parameters
    ----------
    name : str
        A key of `FLAGS`.
    now : ChargerNow
        What is known of the charger.

    Returns
    -------
    str
        For people.

    Examples
    --------
    >>> action("over-temperature", ChargerNow())[:43]
    'No relay here: switch the charger off now, '
    >>> action("gravity-due", ChargerNow())[:4]
    'Read'
    """
    return " ".join(lines(name, now))


def on_paper(name: str) -> str:
    """Say what to do about a flag where nobody knows when it is read, and what the charger does then."""
    return action(name, ChargerNow("unknown"))


def _switch(now: ChargerNow) -> str:
    """Say where the charger is switched off: nobody goes back for it into a room that a danger was noted in."""
    return OUTSIDE if now.out_until else AT_THE_WALL


def _off(now: ChargerNow, where: str) -> str:
    """Return how the charger is switched off, as the first half of a sentence."""
    or_not = ", or leave it on where that cannot be" if where == OUTSIDE else ""
    if now.relay == "disobeys":
        return f"The charger is STILL ON: switch it off by hand now, {where}{or_not}"
    if now.state == "off" and not now.falling:
        return (
            f"Switch off {where} whatever still feeds the bank, the charger first, for the relay is open and current "
            "still flows"
        )
    if now.relay == "none":
        return f"No relay here: switch the charger off now, {where}{or_not}"
    return f"Switch the charger off {where}{or_not}"


def _at_the_posts(text: str, now: ChargerNow, waits: bool = False) -> str:
    """Send nobody to the posts before the charger is off, for as long as hands are there, and the gas is gone."""
    if not now.dead and waits and now.relay != "disobeys" and now.state != "off":
        return f"Switch the charger off at the wall when it suits, air the room for an hour, then {_lower(text)}"
    if now.dead and now.open_until:
        again = f"for the relay may close by itself at {moment(now.open_until)}"
        return f"Keep the charger off: pull its plug, {again}, air the room for an hour, then {_lower(text)}"
    if not now.dead:
        return f"{_off(now, _switch(now))}, air the room for an hour, then {_lower(text)}"
    if now.air_until:
        return f"Keep the charger off and air the room until {moment(now.air_until, up=True)}, then {_lower(text)}"
    return text


def _lower(text: str) -> str:
    return text[0].lower() + text[1:]


def advice(situation: Situation, flags: Sequence[str]) -> Steps:
    """Say what to do next: the worst flag first, else what the phase asks for; then the rest as a list.

    While a hazard, a withheld permit or a blocked start stands, nothing is said that belongs to charging on. A chore
    is followed by the phase's sentence, so that a due hydrometer reading never hides that falling volts are a good
    sign.

    Parameters
    ----------
    situation : Situation
        What is known.
    flags : sequence of str
        Raised flags, keys of `FLAGS`, any order.

    Returns
    -------
    Steps
        For people.

    Raises
    ------
    KeyError
        Unknown phase or flag.

    Examples
    --------
    >>> on = ChargerNow("closed", "on", "current", flows=True, metered=True, told="allow")
    >>> steps = advice(Situation("reviving", woken=True, started=True, now=on), ["gravity-due"])
    >>> steps.first[:4], "falling volts are encouraging" in steps.then[-1]
    ('Read', True)

    Where current flows on after a cut nothing stands in front of how it is stopped:

    >>> advice(Situation("resting", now=ChargerNow("open", "off", "relay", told="cut", flows=True)), ["bypassed"]).first
    'Switch off at the wall whatever still feeds the bank, the charger first, for the relay is open and current still \
flows.'
    """
    steps, now = _steps(situation, flags), situation.now
    flows_on = now.told == "cut" and now.state == "off" and now.flows and not situation.proving
    if not flows_on or steps.first.startswith((_off(now, AT_THE_WALL), _off(now, OUTSIDE))):
        return steps
    return Steps(f"{_off(now, _switch(now))}.", (steps.first, *steps.then)[:MOST_LINES])


def _steps(situation: Situation, flags: Sequence[str]) -> Steps:
    """Say the same, where no current flows that was cut."""
    now = situation.now
    words = phase_words(situation)
    ordered = sorted(flags, key=lambda name: FLAGS[name].severity_rank)
    ordered = [name for name in ordered if name not in NORMAL_COURSE]
    for needed in ("proof-test-missing", "checklist-open"):
        if needed in ordered and not _RESUMED.isdisjoint(ordered):
            ordered.remove(needed)  # no resume is taken before it
            ordered.insert(min(ordered.index(name) for name in _RESUMED.intersection(ordered)), needed)
    if situation.proving and not any(FLAGS[name].kind == "hazard" for name in ordered):
        return Steps(WITNESS if situation.proving == "witness" else PROVING)
    if situation.blind == "now" and all(_charges_on(name, now) for name in ordered):
        said = [lines(name, now)[0] for name in ordered if name != "heat-unwatched"]
        return Steps(BLIND, tuple(said[:MOST_LINES]))
    if not ordered:
        return Steps(words)
    worst, *others = ordered
    first, *then = lines(worst, now)
    if situation.gone and FLAGS[worst].kind == "hazard" and now.dead:
        # Who was sent out of the room is not sent out of it again beside being sent in.
        first, then = (AIRED, then) if worst == "danger-noted" else (GONE, [first, *then])
    if worst == "journal-lost" and situation.after_look and first == FLAGS[worst].action:
        first = LOOKED.format(act=situation.after_look)
    if _charges_on(worst, now):
        then += [lines(name, now)[0] for name in others]
        runs_on = (now.dead or _ASK_OFF.isdisjoint(ordered)) and words != first
        # What a flag says of ceiling or posts the phase does not say again.
        told = {"charger-limit-low": "absorbing", "after-round": "finished"}
        runs_on = runs_on and not any(name in ordered for name, phase in told.items() if phase == situation.phase)
        return Steps(first, (*then[: MOST_LINES - 1], words) if runs_on else tuple(then[:MOST_LINES]))
    then += [lines(name, now)[-1 if name == "relay-disobeys" else 0] for name in others
             if FLAGS[name].kind != "chore" or name in _SAID_WHILE_OFF]  # fmt: skip
    return Steps(first, tuple(dict.fromkeys(line for line in then if line != first))[:MOST_LINES])


def _charges_on(name: str, now: ChargerNow) -> bool:
    """Tell whether it is charged on beside a flag: a chore, or one of the permit although the permit stands."""
    return FLAGS[name].kind == "chore" or (FLAGS[name].kind == "permit" and now.told == "allow")


def phase_words(situation: Situation) -> str:
    """Say what the phase asks for, from what is seen; nothing that speaks for more volts or for patience in doubt."""
    now, phase = situation.now, situation.phase
    words = PHASE_ADVICE[phase]
    if waits := _waits(situation):
        return waits
    if situation.blind:
        return BLIND if situation.blind == "now" else JUST_UP
    if phase == "idle":
        needless = situation.full is not None and not situation.started and now.state != "on"
        return f"{_idle(situation)} {NEEDS_NONE.format(weakest=situation.full)}" if needless else _idle(situation)
    if phase == "resting":
        return _resting(situation)
    if phase == "testing":
        return TEST_UNDER_CHARGE if now.state == "on" else words
    if phase == "finished":
        return IN_SERVICE if situation.seen_to else _at_the_posts(words, now)
    return _doubtful(situation) if situation.doubt else _on_charge(situation)


def _on_charge(situation: Situation) -> str:
    """Say what a phase of charging asks for, where nothing is in doubt."""
    phase = situation.phase
    if situation.full is not None and phase in LOOKS_BLOCKED:
        return FULL.format(weakest=situation.full)
    if situation.against is not None and phase == "waking":
        said = CONTRADICTED.format(**situation.against._asdict())
        return f"{said} {_at_the_posts(MEASURE_BOTH, situation.now, waits=True)}"
    if situation.interrupted and not situation.now.flows:
        return _standing_still(situation)
    if situation.nearly is not None and phase == "waking" and situation.blocks:
        return NEARLY.format(weakest=situation.nearly)
    return NOT_SETTLED if phase == "waking" and not situation.blocks else PHASE_ADVICE[phase]


def _waits(situation: Situation) -> str:
    """Say what the relay is waited for: the end of its five minutes, or its own word that it has closed."""
    now = situation.now
    if now.open_until and situation.started:
        until = moment(now.open_until)
        return f"Wait until {until}: the relay is told to stay open, for {held_for(now)}, and may close by itself then."
    if now.told == "allow" and now.relay == "open" and situation.phase in {"idle", *CHARGING}:
        return CLOSES.format(at=moment(now.told_at))
    return ""


def _doubtful(situation: Situation) -> str:
    if situation.doubt == "warm":
        return "Turn nothing up while the bank is warm: give it air, and lower the current if it goes on warming."
    if situation.doubt == "suspect":
        return "Turn nothing up while a meter is doubted: check it against another before anything else."
    unseen = situation.unseen[0]
    plain = unseen.replace("_", " ")
    how = f"note it with {_NOTE_IT[unseen]}"
    return f"Measure the {plain} now and {how}: nobody sees it, so turn nothing up and stay near."


def _standing_still(situation: Situation) -> str:
    if situation.phase == "holding" and situation.hold_left < 1.0:
        return (
            f"Charge on for the {60.0 * situation.hold_left:.0f} min of hold that are missing, or end the round with "
            "`revival finish`: charging stands still, and so does the hold clock."
        )
    if not situation.woken:
        return "See that charging goes on: it stands still, and a bank that has not woken yet falls back."
    return "See when charging can go on: it stands still and so do the clocks, and nothing is lost."


def _idle(situation: Situation) -> str:
    now = situation.now
    if now.state == "on" and not situation.started:
        if now.relay != "none" or not situation.checked:
            return lines("charging-unprepared", now)[0]
        return _doubtful(situation) if situation.doubt in ("warm", "suspect") else NOT_KNOWN_YET
    if not situation.started and now.relay == "none":
        return READY if situation.checked else MAKE_READY
    if not situation.started:
        # With a relay an open checklist or proof is a flag, and stands in front of this.
        return START_NOW
    if situation.doubt in ("warm", "suspect"):
        return _doubtful(situation)
    return STARTED


def _resting(situation: Situation) -> str:
    words = PHASE_ADVICE["resting"]
    if not situation.now.dead:
        off = _off(situation.now, _switch(situation.now))
        note = ", note it with `revival record charger off`" if situation.now.relay == "none" else ""
        words = f"{off}{note}, then let the bank rest 6 h at least, better 24 h, and read every cell."
    elif 0.0 < situation.rest_ends <= situation.at:
        words = READ if situation.gravity_at >= situation.rest_ends else RESTED
    if situation.hold_complete:
        return words
    return f"{words[:-1]} (the round was finished before its hold was complete)."
