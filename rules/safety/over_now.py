"""A newest value over a limit: one reading is no trip, but nothing closes the relay on it.

Objective: nobody starts, resumes, resets or proves, and no permit is given, while the newest value of a meter passes a
limit. Is: every limit that trips only on more than one reading, or only after some seconds, is asked here by its newest
value alone, the believed one, one by hand, and a startling one that nothing has borne out yet. A newer one within the
limit is enough to go on: no margin is needed, because by this alone a relay never opens, so none can chatter or use up
the closings of a day. Is not: a reason to cut a charge that runs. There one wild value does nothing but raise the flag,
and the trip keeps the evidence that it asks for (`rules.safety.evidence`).

A door or vent that reports closed is among them; a fan is not, for one that is fed with the charger stands before it.
"""

from __future__ import annotations

from rules.bank import ON_ABOVE, Bank
from rules.bank_view import View
from rules.meters import CONFIRM_WINDOW, STARTLES, SUSPECT, Trace
from rules.safety.evidence import ONLY_SAID, Pending
from rules.safety.hazards import over_limit
from rules.safety.latching import beyond
from rules.safety.state import Finding

#: Quantities with a limit of their own.
LIMITED = frozenset({"electrolyte_temperature", "voltage", "block_voltage", "cell_voltage", "hydrogen"})
#: Digits that a value and its limit are told with, by unit, and what they are multiplied by [1].
_TOLD = {"degC": (1, 1.0, " degC"), "V": (3, 1.0, " V"), "A": (1, 1.0, " A"), "1": (2, 100.0, " %")}


def over_now(
    bank: Bank, traces: dict[str, Trace], view: View, pending: dict[str, Pending], at: float, *, closing: bool
) -> tuple[str, Finding] | None:
    """Return the hazard that the newest values show before it counts, and by how much; the farthest beyond its limit.

    Parameters
    ----------
    bank : Bank
        Its limits.
    traces : dict of Trace
        The past of each meter.
    view : View
        What the meters show now.
    pending : dict of Pending
        Hazards that were seen and wait for more.
    at : float
        Now [s since the epoch].
    closing : bool
        The relay is about to be closed: what would trip only while it charges is asked as well.

    Examples
    --------
    >>> from rules.bank.model import Block
    >>> from rules.bank_view import look
    >>> from rules.meters import Counters
    >>> bank, hot = Bank("north", ((Block("N1", 12, 200.0),),)), Finding(44.0, 43.3, "degC", "44.0 degC")
    >>> view = look(bank, {}, Counters(), 1795590000.0)
    >>> for good in (0, 1):  # readings within the limit since then
    ...     waits = {"over-temperature|probe": Pending(1795590000.0, 60.0, False, hot, good=good)}
    ...     print(over_now(bank, {}, view, waits, 1795590000.0, closing=True))
    ('over-temperature', Finding(value=44.0, limit=43.3, unit='degC', reason='44.0 degC'))
    None
    """
    found: list[tuple[str, Finding]] = []
    for quantity, meters in bank.by_quantity.items():
        if quantity not in LIMITED:
            continue
        living = {meter.name: value for meter, value in view.living.get(quantity, ())}
        for meter in meters:
            trace = traces.get(meter.name)
            if trace is None:
                continue
            startles = trace.quality == SUSPECT and trace.reason in STARTLES
            if startles and at - trace.doubtful_at <= CONFIRM_WINDOW:
                value: float | None = trace.doubtful
            else:
                value = living.get(meter.name)
            over = None if value is None else over_limit(bank, meter, bank.spans[meter.name], value)
            if over is not None:
                found.append(over[:2])
    for key, entry in pending.items():
        name, metered, _ = key.partition("|")
        newest = entry.good == 0 if metered else bool(entry.marks & 1)
        if newest and not entry.confirmed and name not in ONLY_SAID:
            found.append((name, entry.finding))
    for meter, value in view.living.get("door", ()) if closing else ():
        if value < ON_ABOVE:
            found.append(("gas", Finding(reason=f"the door or vent reports closed{meter.whereabouts}")))
    return max(found, key=lambda each: beyond(each[1].value, each[1].limit), default=None)


def against_closing(finding: Finding) -> str:
    """Say why nothing closes the relay on such a value.

    Examples
    --------
    >>> against_closing(Finding(45.4, 43.3, "degC", "45.4 degC in the electrolyte"))
    '45.4 degC in the electrolyte is over the limit of 43.3 degC: wait for a newer reading within it'
    >>> against_closing(Finding(reason="the door or vent reports closed"))
    'the door or vent reports closed: open it first'
    """
    if finding.limit is None:
        return f"{finding.reason}: open it first"
    digits, scale, unit = _TOLD.get(finding.unit, (1, 1.0, f" {finding.unit}"))
    limit = f"{scale * finding.limit:.{digits}f}{unit}"
    return f"{finding.reason} is over the limit of {limit}: wait for a newer reading within it"
