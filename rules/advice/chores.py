"""When each chore falls due, judged by what was noted last: looking in, string amps, gravities, levels, water."""

from __future__ import annotations

from typing import NamedTuple

from rules.bank import Bank
from rules.events import moment
from rules.hand import HandLog, reserve
from rules.meters import Counters
from rules.phase import CHARGING, PhaseMemory
from rules.safety import TOP_UP_AT, Finding, water_used

#: Looking in: after a quarter of an hour, after one hour [s] (common practice, no source), then as the owner set it.
PRESENCE_FIRST, PRESENCE_SECOND = 900.0, 3600.0
#: String currents by clamp: while waking, after 1 h and after 12 h of charging [s].
CLAMP_TIMES = (60.0, 3600.0, 12 * 3600.0)
#: Gravity in the hold, level while charging, and another look at a sulfated cell [s].
GRAVITY_EVERY, LEVEL_EVERY, LOOK_AGAIN = 4 * 3600.0, 24 * 3600.0, 24 * 3600.0
#: Where no thermometer is, a person reads the acid so often, and when it was warm [s]: at 5 K/h, which warns, it takes
#: an hour from the warning to the limit; common practice, no source.
HEAT_EVERY, HEAT_EVERY_WARM = 3600.0, 900.0
#: After the round a bank is looked at again [s]; common practice, no source.
RECHECK = 30 * 86400.0


class Chore(NamedTuple):
    """When something is to be done [s since the epoch], and what is found if nobody has by now."""

    due_at: float
    finding: Finding


def due(bank: Bank, counters: Counters, phase: PhaseMemory, hand: HandLog, at: float) -> dict[str, Finding]:
    """Return chores whose time has come [s since the epoch], by flag name."""
    chores = schedule(bank, counters, phase, hand, at)
    return {name: chore.finding for name, chore in chores.items() if chore.due_at <= at}


def schedule(bank: Bank, counters: Counters, phase: PhaseMemory, hand: HandLog, at: float) -> dict[str, Chore]:
    """Return the next of each chore, by the name of the flag that it raises when nobody does it.

    Parameters
    ----------
    bank : Bank
        As joined now.
    counters : Counters
        Charging time and gassing charge so far.
    phase : PhaseMemory
        Chores belong to charging, and to the time after the round.
    hand : HandLog
        What was noted last.
    at : float
        Now [s since the epoch].

    Returns
    -------
    dict
        Flag name -> chore; water only once it is due, `rules.step.derived_state` foretells it.
    """
    if phase.phase == "finished":
        return _after_round(phase.since, hand, at)
    began = phase.started_at
    heat = _heat(bank, hand, at) if phase.phase == "idle" or phase.phase in CHARGING else {}
    if began is None or phase.phase not in CHARGING:
        return heat
    chores = {
        **heat,
        "presence-due": _presence(bank, began, hand.last_at, at),
        "level-due": _every(LEVEL_EVERY, max(hand.level_at, began), at, _unnoted("the levels", LEVEL_EVERY)),
    }
    if len(bank.strings) > 1 and "string_current" not in bank.by_quantity:
        clamp = _clamp(counters.charging_seconds, began, hand, at)
        if clamp is not None:
            chores["string-currents-due"] = clamp
    if phase.phase == "holding":
        chores["gravity-due"] = _every(GRAVITY_EVERY, max(hand.gravity_at, phase.since), at, "in the hold")
    used, limit = water_used(counters, hand.topped_up), TOP_UP_AT * reserve(bank)
    if used >= limit:
        chores["water-due"] = Chore(at, Finding(used, limit, "g", "computed from the gassing current"))
    if hand.sulfated_at:
        chores["look-again"] = _every(LOOK_AGAIN, hand.sulfated_at, at, hand.sulfated_where)
    return chores


def _unnoted(what: str, period: float) -> str:
    return f"nobody has noted {what} for {period / 3600.0:g} h"


def _every(period: float, last: float, at: float, reason: str) -> Chore:
    return Chore(last + period, Finding((at - last) / 3600.0, period / 3600.0, "h", reason))


def _presence(bank: Bank, began: float, seen: float, at: float) -> Chore:
    """Return the next look that is due: one counts as the first or second if it was not much too early for it."""
    usual = _every(3600.0 * bank.presence, max(seen, began), at, _unnoted("a look", 3600.0 * bank.presence))
    for which, after in (("first", PRESENCE_FIRST), ("second", PRESENCE_SECOND)):
        if seen < began + 0.5 * after:
            look = Chore(began + after, Finding((at - began) / 60.0, after / 60.0, "min", f"{which} look"))
            return min(look, usual, key=lambda chore: chore.due_at)
    return usual


def _heat(bank: Bank, hand: HandLog, at: float) -> dict[str, Chore]:
    """Return when somebody reads the acid next, where no meter does."""
    if "electrolyte_temperature" in bank.by_quantity:
        return {}
    read_at = max(hand.temperature_at, hand.case_at)
    warmest = max([each for each in (hand.temperature_now(at), hand.case_now(at)) if each is not None], default=None)
    every = HEAT_EVERY_WARM if warmest is not None and warmest >= bank.limits.temperature_warning else HEAT_EVERY
    why = "no thermometer, and nobody reads the acid by hand"
    if warmest is not None:
        why = f"no thermometer; last read by hand {moment(read_at)}"
    due_at = read_at + every if read_at else at - at % 60.0
    return {"heat-unwatched": Chore(due_at, Finding(warmest, None, "degC", why))}


def _clamp(charging: float, began: float, hand: HandLog, at: float) -> Chore | None:
    """Return when strings are clamped next, by charging time; what comes is foretold as if charging went on."""
    passed = [when for when in CLAMP_TIMES if when <= charging]
    coming = [when for when in CLAMP_TIMES if when > charging]
    # At the very beginning any reading of this round will do, later one that was not much too early.
    enough = 0.5 * passed[-1] if len(passed) > 1 else 0.0
    if passed and (hand.string_amps_at < began or hand.string_amps_after < enough):
        when = passed[-1]
    elif coming:
        when = coming[0]
    else:
        return None
    return Chore(at + when - charging, Finding(charging / 3600.0, when / 3600.0, "h", "strings are not measured"))


def _after_round(ended: float, hand: HandLog, at: float) -> dict[str, Chore]:
    """Return what is due at once, until somebody notes that it was done, and gravities again after a month."""
    days = (at - ended) / 86400.0
    if hand.last_at <= ended:
        why = "the round is over: nobody noted that the posts were seen to"
        return {"after-round": Chore(ended, Finding(days, None, "d", why))}
    if hand.gravity_at < ended + RECHECK:
        again = Finding(days, RECHECK / 86400.0, "d", "time for another look and gravities")
        return {"after-round": Chore(ended + RECHECK, again)}
    return {}
