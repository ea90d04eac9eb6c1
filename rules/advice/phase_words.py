"""What a phase asks for while no flag stands: from what is seen, and nothing that speaks for more volts in doubt."""

from __future__ import annotations

from rules.advice.charger_now import held_for
from rules.advice.flag_words import CAN_WAIT, GOGGLES, at_the_posts, lines, switch_off, switch_place
from rules.advice.situation import Situation
from rules.events import moment
from rules.phase import CHARGING

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
#: Nothing is against it, and no round is known yet.
NOT_KNOWN_YET = (
    "Let it charge and stay near: the round begins by itself after ten minutes of charging ({minutes} of 10 minutes so "
    "far), or now with `revival start`, and the phase shows within minutes of that."
)
#: The same after a round was given up: that charge goes on because somebody meant it.
GIVEN_UP = (
    "Let it charge and stay near: the round before was given up, so another begins by itself only after the charger "
    "was off for ten minutes, or now with `revival start`."
)
#: The same before the charger comes on, where no relay is.
MAKE_READY = (
    "Make the plan (`revival plan`), lay everything out and confirm the start checklist with "
    "`revival checklist --name YOU` before the charger comes on: the round begins by itself after ten minutes of "
    "charging."
)
READY = "Charge when you are ready: the checklist is confirmed, and the round begins by itself after ten minutes."
#: A test that measures the charger.
TEST_UNDER_CHARGE = "Switch the charger off at the wall, for a test under charge measures nothing, and begin it anew."
#: It charges, and the cabin file has no ammeter: how a person stands in, and how a meter is had.
NO_AMMETER = (
    "Measure the amps now with a clip-on meter, touching nothing bare, and note them with `revival record amps`, every "
    "two hours: no meter in the cabin file tells them; where the file names one in a comment, because nobody knew "
    'which way it counts, take it with `revival setup --take "TOPIC as charging"` if it is above zero now, "... as '
    'discharging" if below, and where it names none fit a shunt; until then turn nothing up and stay near.'
)
#: How a quantity that nobody sees is put right by hand.
_NOTE_IT = {
    "voltage": "`revival record voltage`",
    "electrolyte_temperature": '`revival record temperature "25 degC"`',
    "current": "`revival record amps`",
}


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
        return IN_SERVICE if situation.seen_to else at_the_posts(words, now)
    return _doubtful(situation) if situation.doubt else _on_charge(situation)


def _on_charge(situation: Situation) -> str:
    """Say what a phase of charging asks for, where nothing is in doubt."""
    phase = situation.phase
    if situation.full is not None and phase in LOOKS_BLOCKED:
        return FULL.format(weakest=situation.full)
    if situation.against is not None and phase == "waking":
        said = CONTRADICTED.format(**situation.against._asdict())
        return f"{said} {at_the_posts(MEASURE_BOTH, situation.now, CAN_WAIT['imbalance'])}"
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
    if unseen == "current" and situation.no_ammeter:
        return NO_AMMETER
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
        if situation.doubt in ("warm", "suspect"):
            return _doubtful(situation)
        return NO_AMMETER if situation.no_ammeter and "current" in situation.unseen else _begins(situation)
    if not situation.started and now.relay == "none":
        return READY if situation.checked else MAKE_READY
    if not situation.started:
        # With a relay an open checklist or proof is a flag, and stands in front of this.
        return (
            START_NOW.replace("proof are done.", f"proof are done, {far}.") if (far := situation.proved) else START_NOW
        )
    if situation.doubt in ("warm", "suspect"):
        return _doubtful(situation)
    return STARTED


def _begins(situation: Situation) -> str:
    """Say when the round of a bank that is charged already begins by itself, and how much of that has passed."""
    if situation.given_up:
        return GIVEN_UP
    return NOT_KNOWN_YET.format(minutes=min(9, int(situation.charged_for / 60.0)))


def _resting(situation: Situation) -> str:
    words = PHASE_ADVICE["resting"]
    if not situation.now.dead:
        off = switch_off(situation.now, switch_place(situation.now))
        note = ", note it with `revival record charger off`" if situation.now.relay == "none" else ""
        words = f"{off}{note}, then let the bank rest 6 h at least, better 24 h, and read every cell."
    elif 0.0 < situation.rest_ends <= situation.at:
        words = READ if situation.gravity_at >= situation.rest_ends else RESTED
    if situation.hold_complete:
        return words
    return f"{words[:-1]} (the round was finished before its hold was complete)."
