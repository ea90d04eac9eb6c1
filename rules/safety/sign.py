"""A current with the wrong sign: the meter's wires are swapped, and a bank that is charged seems to be drained.

No limit on the current holds then, and charge is counted the wrong way. Three things show it: a current below zero at
a voltage that only a charger holds, a bank that rises while it seems to give, and a current that goes with the relay.
"""

from __future__ import annotations

from collections.abc import Sequence

from rules.bank import Bank
from rules.bank_view import View
from rules.meters import Step, charging_threshold
from rules.phase import REVERSED
from rules.safety.state import Finding, Interlock

#: Less than this below zero may be the meter's zero [A] (Hall sensors stray by half an ampere: common practice).
MORE_THAN_ZERO = 1.0
#: A bank that gives as much as before sinks; one that rises by so much in half an hour or more is being charged
#: [V per cell], [five-minute means]. The first dip of a discharge, which recovers, is passed over (assumed).
RISES, HALF_HOUR = 0.02, 7
#: A mean below this was not seen, or not in most of its minutes: no bank gives its current there [V per cell].
SEEN = 1.5
#: As much as before [1]: where a load is taken off, the voltage recovers by rights (assumed).
AS_MUCH = 0.9
#: Above this a current that reads above zero flows in, and the sign is right [V per cell].
ONLY_CHARGED = 2.25


def rises_while_giving(steps: Sequence[Step], least: float) -> bool:
    """Tell whether the bank's voltage rose while the current read as much below zero as before.

    Parameters
    ----------
    steps : sequence of Step
        Five-minute means, newest last.
    least : float
        Smallest current that counts [A].

    Examples
    --------
    >>> charged = [Step(300.0 * n, 25.0, -20.0, 2.10 + 0.005 * n) for n in range(9)]
    >>> drained = [Step(300.0 * n, 25.0, -20.0, 2.10 - 0.005 * n) for n in range(9)]
    >>> rises_while_giving(charged, 1.0), rises_while_giving(drained, 1.0)
    (True, False)
    """
    giving = 0
    for step in reversed(steps):
        if step.current > -least or step.volts < SEEN:
            break
        giving += 1
    if giving <= HALF_HOUR:
        return False
    run = steps[len(steps) - giving + 1 :]
    # Minutes in which the voltage was silent pull the first of these means down.
    before = max(run[0].volts, run[1].volts)
    return run[-1].volts - before >= RISES and run[-1].current <= AS_MUCH * run[0].current


def doubted(
    bank: Bank, lock: Interlock, reversed_seconds: float, steps: Sequence[Step], view: View, at: float
) -> Interlock:
    """Doubt the current's sign, or believe it again, at this moment [s since the epoch].

    Once doubted it stays so although the charger is off, until a person resumes or proves the relay anew, or a current
    flows in.

    Parameters
    ----------
    bank : Bank
        Its size says what is no more than a meter's zero.
    lock : Interlock
        So far.
    reversed_seconds : float
        So long has the current read below zero at a charger's voltage [s].
    steps : sequence of Step
        Five-minute means, newest last.
    view : View
        What is known now.
    at : float
        [s since the epoch].
    """
    least = max(MORE_THAN_ZERO, charging_threshold(bank.capacity))
    now = view.current
    if lock.sign_doubted:
        flows_in = now is not None and now >= least and (view.volts_per_cell or 0.0) >= ONLY_CHARGED
        return lock._replace(sign_doubted=0.0) if flows_in else lock
    if now is None or now > -least:
        return lock
    if reversed_seconds >= REVERSED or rises_while_giving(steps, least):
        return lock._replace(sign_doubted=at)
    return lock


def finding(bank: Bank, current: float | None) -> Finding:
    """Say why the current [A] is not believed, and which line of the cabin file mends it."""
    meters = bank.by_quantity.get("current", ())
    source = f" ({meters[0].source})" if meters else ""
    why = (
        f"current: sign{source}: it reads below zero while the bank is being charged, turn sign of its [[bank.meter]] "
        "or its two wires, then give revival resume"
    )
    return Finding(current, 0.0, "A", why)
