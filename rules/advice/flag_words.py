"""What is said of one flag: what to do, once the charger is as it must be for it, worst first.

The tables say what each flag asks for. What stands in front of it, whether the charger is off, must be switched off or
is not seen, comes from `rules.advice.charger_now`, so that no two sentences can tell different stories.
"""

from __future__ import annotations

from typing import NamedTuple

from rules.advice.charger_now import ChargerNow, evidence
from rules.events import moment
from rules.safety import NOTED_BY_A_PERSON, SAID_AT_ONCE


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


#: A charger is switched off here; in a gassed room no switch is touched.
AT_THE_WALL, OUTSIDE = "at the wall", "from outside the room at the panel"
#: Nobody goes to the posts for these before the charger is off and the room was aired for an hour.
AT_THE_POSTS = frozenset(
    {
        "over-voltage", "cell-short-suspected", "water-reserve", "polarity-reversed", "level-wrong", "hopeless",
        "imbalance", "not-reviving", "water-due", "after-round", "case-damaged", "connection-bad", "plates-bare",
        "current-step",
    }
)  # fmt: skip
#: These can wait: cells or strings that differ until nothing charges any more, for they are why one equalises (common
#: practice, no source), and a bank that does not revive until it suits.
CAN_WAIT = {
    "imbalance": "When nothing charges any more",
    "not-reviving": "Switch the charger off at the wall when it suits",
}
#: In a room with gas, smoke or a cell that may burst nobody touches a switch.
_FROM_OUTSIDE = frozenset({"gas", "danger-noted"})
#: Before everything else where somebody is hurt: the quarter of an hour of `rules.plan.words.CAUTIONS`; the rest is the
#: standard caution (common practice, no source).
FIRST_AID = (
    "First aid before anything else, outside the room: call the emergency service; whoever lies there, fainted or is "
    "dizzy needs fresh air, but go in after nobody where gas or smoke may be, or you fall too: open it from outside "
    "first, and where it burns wait for the fire service; rinse an eye or skin that acid reached with much clean water "
    "at once and for at least 15 minutes, an eye with its lids held open, and take off clothes that acid wetted; touch "
    "nobody who is still on the current before it is off."
)
#: The standard cautions beside a fire (common practice, no source): out, call, no air to it, and nobody goes back.
EVERYBODY_OUT = (
    "Get everybody out and call the fire service from outside: open no door or window on a fire and do not air it, "
    "shut the charger off at the panel outside the room only where that is safe, and let nobody back in until the fire "
    "service says so."
)
#: Where smoke was noted: it may be a fire, which is not aired (common practice, no source).
SMOKE = (
    "Leave the room, touch no switch in it, close its door behind you and let nobody in; where the smoke does not stop "
    "within minutes, where it grows or a flame is seen, call the fire service from outside and open nothing. Once no "
    "smoke comes any more air the room from outside for an hour, then look for the block that smoked: it never goes "
    "back on charge."
)
#: Where only a connection was hot or sparked: the block is not to blame (common practice, no source).
CONNECTION = (
    "Leave the room, touch no switch in it and let nobody in, air it from outside for an hour while the connection "
    "cools: then, with the charger off, clean and tighten it, or replace what melted, for a bad joint goes on heating "
    "under current and sparks where the gas is."
)
#: Where only the charger was hot: it is let cool like a room with gas in it, for it stands beside one (common practice,
#: no source).
HOT_CHARGER = (
    "Leave the room, touch no switch in it and let nobody in, air it from outside for an hour while the charger cools: "
    "then look from the door, and with its plug pulled see that its air holes are free and that nothing on it, its "
    "cables or its plug is melted or scorched; where something is, it never comes on again, and else it goes on at "
    "fewer amps."
)
#: Where only acid was pushed out at the vents: no case is to blame, but level or amps (common practice, no source).
PUSHED_OUT = (
    "Leave the room, touch no switch in it and let nobody in, air it from outside for an hour while the acid calms: "
    "gas lifts it out where a cell is too full or takes too many amps. Then, with goggles and gloves and the charger "
    "off, wipe the acid off the tops, read the level of every cell, add nothing where it stands at or over its mark, "
    "and go on at fewer amps."
)
#: Where what was noted was taken back: nobody here can tell which of the two words is true (common practice, no
#: source); and where that was smoke.
RETRACTED = (
    "Stay out, touch no switch in the room, and air it from outside for an hour, a false alarm or not: what was noted "
    "was taken back, but nobody here knows which of the two is true; then look from the door, and where nothing "
    "smells, smokes, sparks, hisses or is hot the trip is reset."
)
RETRACTED_SMOKE = (
    "Stay out, touch no switch in the room and keep its door closed: smoke was noted and taken back, and nobody here "
    "knows which of the two is true. Where any smoke shows call the fire service from outside and open nothing; where "
    "none does air the room from outside for an hour, then look from the door, and where nothing smells, smokes, "
    "sparks, hisses or is hot the trip is reset."
)
#: The charger is still high, and the relay does not open: nothing but switching it off is an answer to that.
STILL_HIGH_AND_ON = (
    "Set the charger back to its normal absorb and float volts only once it is off: the relay does not open, so it is "
    "switched off by hand first."
)
#: Said of everything else while a fire stands noted.
AFTER_THE_FIRE = "Leave this until the fire service lets somebody in: a fire was noted."
#: The one exception that the trade knows: reading a hydrometer, or looking into a cell, while the bank gasses.
OVER_THE_CELLS = frozenset({"level-due", "gravity-due", "gravities-doubted", "look-again", "heat-unwatched"})
GOGGLES = "goggles on, no metal tool over the cells, no spark"
#: These are raised in the normal course of a round; the phase says what to do.
NORMAL_COURSE = frozenset({"not-started", "hold-complete"})
#: Nothing withdraws the permit for these, yet nobody may call the bank safe while they are up: current that nothing
#: here can stop or that nobody saw stop, gas near its limit, and how a shorted cell begins.
NOT_SAFE = frozenset(
    {
        "closed-while-tripped", "other-source", "relay-unconfirmed", "hydrogen-high", "current-step",
    }
)  # fmt: skip
#: Where no relay is, nothing was cut for these, and nobody need switch anything off.
_OF_THE_BRIDGE = frozenset({"journal-degraded", "storage-unproved"})

#: A string over its limit, and to how many amps at most.
LOWER_AMPS = (
    "Lower the charger's amps now{most} until that string is within its limit: where others give nothing or feed it, "
    "a cell in it may be shorted."
)

#: Name -> action, worst first in each table and the tables worst first: the place is the severity.
_HAZARDS = {
    "fire-noted": EVERYBODY_OUT,
    "gas": "Touch nothing electric and light nothing in the room, open it from outside and stay out for an hour: find "
    "out why the air did not move before anything charges again.",
    "relay-disobeys": "Pull the charger's plug, then find the welded contact or the wrong topic, and after the reset "
    "prove the relay anew before it is trusted again: it was told to open, and the current did not go.",
    "danger-noted": "Leave the room, touch no switch in it and let nobody in, air it from outside for an hour, then "
    "look for the block that smells, sparks or is hot: it never goes back on charge, but where only a connection was "
    "hot or sparked no block is to blame.",
    "thermal-runaway": "Air the room and keep away from the cells while they cool; at a steady voltage current and "
    "heat feed each other, so turn the voltage down before another try and look for the hottest block.",
    "over-temperature": "Let the bank cool below 37.8 degC (100 degF) before anything charges again: a reset is taken "
    "as soon as it is under its limit, but warmer than that it soon trips anew; feel from outside for one block hotter "
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
    "connection-bad": "Let the connection cool, then clean and tighten it, and replace a cable, lug or post that is "
    "cracked or burnt: a bad joint heats under current and sparks where the gas is; once that is done note it "
    '("A2 post tightened") with `revival record seen "WHAT YOU DID"`.',
    "plates-bare": "Cover the plates of every cell with distilled water and no higher, and note it with `revival "
    "record level`: bare plates under charge can arc inside a case full of gas.",
    "reading-over-limit": "Check it from outside with a second meter, and let the bank come back within its limit: the "
    "newest reading passes it, so nothing starts before one within it has come; where the next ones pass it too, or "
    "none better comes for a minute, it is a trip.",
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
    "relay-link-lost": "Look at broker, network and the bridge's own connection: without them no order reaches the "
    "relay, and only an auto-off of its own opens it, so where it has none pull the plug of the charger; what may "
    "charge goes on five minutes after they are back, four times a day at most.",
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
    "proof-test-missing": "Prove the relay with `revival prove`, clear of the posts: nothing charges through a relay "
    "that has not passed; the test lets the charger run for some seconds, tells the relay to open, and the amps must "
    "fall.",
}
_CHORES = {
    "closed-while-tripped": "Find who or what closed the relay although it had been told to open, and stop it.",
    "retained-close": "Find at once who leaves an order to close on the relay's topic with the retain flag (a hub, a "
    "script) and take the flag away: it was cleared, but left there again while this bridge is off it closes the relay "
    "whenever the relay reconnects, and the charger comes on with nobody behind it; until it is found "
    "stop this bridge only with the charger unplugged.",
    "other-source": "Find what else feeds the bank (solar, a second charger, an inverter) and switch it off: "
    "the relay was opened and current still flows in, which nothing here can stop.",
    "bypassed": "Stay with the bank and mend the meter before the time is over, or end the bypass where it speaks "
    "again (`revival bypass NAME 0`): a person excused its silence, so the "
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
    "string-over-limit": LOWER_AMPS.format(most=""),
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
    "proof-test-due": "Prove the relay again with `revival prove`, clear of the posts: a contact that has not moved "
    "for long, or was never seen to stop a current, may have welded; a round goes on once the test has passed, and "
    "where it fails it waits for another test and `revival resume`.",
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
#: What an ammeter shows is its error only where the charger is known to be off, and that can wait until it is.
ZERO_ONCE_OFF = (
    "Hold a clip-on meter round the bank's cable, touching nothing bare, once the charger was switched off at the wall "
    "and that was noted with `revival record charger off`; where it shows nothing give `revival zero`: the meter's "
    "offset is no charge."
)
#: A charger that is on too early, where no relay is.
UNPREPARED = (
    "Switch the charger off at the wall until plan and checklist are done, and confirm them with `revival checklist "
    "--name YOU`: it is on and nobody has; after that the round begins by itself with ten minutes of charging."
)
#: The same, and a checklist that is open, while nobody goes in: how the charger goes off is said by the danger alone.
UNPREPARED_OUT = {
    "charging-unprepared": "see to plan and checklist: the charger was on before they were done, and no charge begins "
    "until they are.",
    "checklist-open": "walk round with the start checklist, which `revival checklist --name YOU` asks line by line and "
    "the bench page shows: no start before.",
}
#: A bank without a thermometer, before it charges.
PUT_A_PROBE = (
    "Put a thermometer into the warmest cell and its topic into the cabin file before anything charges: without one "
    "nobody watches the heat, the main way to ruin a bank, and while it charges a person must read the acid every "
    "hour and stop at 43.3 degC (110 degF)."
)
#: What is left to do at a charger that is off.
TURN_IT_BACK = (
    "Set the charger back to its normal absorb and float volts before it comes on again: the work at high volts is "
    "over, and more gassing costs water and plates and gains nothing."
)

#: The same, where the charger goes off first for something else.
LESS_AMPS = "Set the charger's amps lower{most} before it comes on again: a string took more than its limit."

#: Said of these instead once the charger is known to be off: there is no current to be lowered.
ONCE_OFF = {
    "temperature-rising-fast": "Look in now, feel every block from outside, and keep the charger off: the bank warms "
    "although nothing charges it.",
    "temperature-high": "Give the bank more air, and keep the charger off until it is below 38 degC (100 degF).",
    "charger-still-high": TURN_IT_BACK,
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
    kind = FLAGS[name].kind
    if now.burning == "fire":
        found = [EVERYBODY_OUT, evidence(now)] if name == "fire-noted" else [AFTER_THE_FIRE]
    elif name in UNPREPARED_OUT and now.out_until:
        found = [f"From {moment(now.out_until, up=True)} on, and not before, {UNPREPARED_OUT[name]}"]
    else:
        found = _found(name, now)
    if kind == "hazard":
        resume = "" if now.relay == "none" else ", in a round then `revival resume`"
        buttons = "a button" if now.relay == "none" else "both are buttons"
        found.append(_ended(now).format(resume=resume, buttons=buttons))
    if name == "danger-noted" and len(now.noted) > SAID_AT_ONCE:
        found.append(f"Noted and not reset, the gravest first: {'; '.join(now.noted)}.")
    return tuple(found)


def _found(name: str, now: ChargerNow) -> list[str]:
    """Say what one flag asks for and what is known of the charger, where no fire was noted."""
    kind, text = FLAGS[name].kind, _asked(name, now)
    if name in AT_THE_POSTS:
        found = [at_the_posts(text, now, CAN_WAIT.get(name, ""))]
    elif name == "heat-unwatched" and not now.flows and now.state != "on":
        found = [PUT_A_PROBE]
    elif name in OVER_THE_CELLS:
        found = [f"{text} {GOGGLES[0].upper()}{GOGGLES[1:]}."]
    elif name == "charger-still-high" and now.relay == "disobeys":
        found = [STILL_HIGH_AND_ON]
    elif name == "charging-unprepared":
        found = [UNPREPARED if now.relay == "none" else text]
    elif name == "zero-due" and now.state != "off":
        found = [ZERO_ONCE_OFF]
    elif name == "checklist-open" and (now.flows or now.state == "on"):
        found = [f"{switch_off(now, switch_place(now))}, then {_lower(text)}"]
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
        where = OUTSIDE if name in _FROM_OUTSIDE else switch_place(now)
        clause = switch_off(now, where)
        told = now.relay not in ("none", "disobeys") and now.state != "off"
        found = [f"{clause}: {_lower(evidence(now))}" if told else f"{clause}.", text]
    return found


def _asked(name: str, now: ChargerNow) -> str:
    """Say what a flag asks for, of a danger that was noted by what it was."""
    if name == "danger-noted" and now.taken_back:
        return RETRACTED_SMOKE if now.burning == "smoke" else RETRACTED
    if name == "danger-noted" and now.burning == "smoke":
        return SMOKE
    if name == "string-over-limit":
        return LOWER_AMPS.format(most=f", to {now.most:g} A or less," if now.most else "")
    outside = {"connection": CONNECTION, "charger": HOT_CHARGER, "vents": PUSHED_OUT}
    return outside[now.outside] if name == "danger-noted" and now.outside else FLAGS[name].action


def less_amps(now: ChargerNow) -> str:
    """Say of a string over its limit what comes after the charger is off."""
    return LESS_AMPS.format(most=f", to {now.most:g} A at most," if now.most else "")


def _ended(now: ChargerNow) -> str:
    """Say how a trip is ended; not before the hour in which nobody goes in is over."""
    if now.burning == "fire":
        until = f", from {moment(now.out_until, up=True)} on," if now.out_until else ""
        return (
            "Once the fire service has let you in and the cause is put right `revival reset`{resume} is taken"
            + until.removesuffix(",")
            + "; {buttons} of the bench page."
        )
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
    aid = (FIRST_AID,) if now.hurt and name in NOTED_BY_A_PERSON else ()
    return " ".join((*aid, *lines(name, now)))


def on_paper(name: str) -> str:
    """Say what to do about a flag where nobody knows when it is read, and what the charger does then."""
    return action(name, ChargerNow("unknown"))


def switch_place(now: ChargerNow) -> str:
    """Say where the charger is switched off: nobody goes back for it into a room that a danger was noted in."""
    return OUTSIDE if now.out_until else AT_THE_WALL


def switch_off(now: ChargerNow, where: str) -> str:
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


def may_wait(name: str, now: ChargerNow) -> bool:
    """Tell whether a flag asks for nothing while it charges."""
    return name == "imbalance" and not now.dead and now.relay != "disobeys" and now.state != "off"


def at_the_posts(text: str, now: ChargerNow, waits: str = "") -> str:
    """Send nobody to the posts before the charger is off, for as long as hands are there, and the gas is gone.

    `waits` says until when it can wait, where it can.
    """
    if not now.dead and waits and now.relay != "disobeys" and now.state != "off":
        return f"{waits}, air the room for an hour, then {_lower(text)}"
    if now.dead and now.open_until:
        again = f"for the relay may close by itself at {moment(now.open_until)}"
        return f"Keep the charger off: pull its plug, {again}, air the room for an hour, then {_lower(text)}"
    if not now.dead:
        return f"{switch_off(now, switch_place(now))}, air the room for an hour, then {_lower(text)}"
    if now.air_until:
        return f"Keep the charger off and air the room until {moment(now.air_until, up=True)}, then {_lower(text)}"
    return text


def _lower(text: str) -> str:
    return text[0].lower() + text[1:]
