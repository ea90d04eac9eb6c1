"""Hazards that latch: seen in one reading, confirmed by a second, and those that show only over time."""

from __future__ import annotations

from statistics import median
from typing import NamedTuple

from rules.bank import Bank, Meter
from rules.bank_view import View
from rules.meters import CONFIRM_WINDOW, Thermal, Trace, charging_threshold, fresh
from rules.meters import warming as warmth
from rules.safety.interlock import Finding

#: Over-current counts from this factor over the string limit, for so long [1], [s].
OVER_CURRENT_FACTOR, OVER_CURRENT_SECONDS = 1.25, 30.0
#: A cell under the first while the others pass the second is shorted [V] (common practice, no source).
SHORTED_CELL, HEALTHY_CELL = 2.2, 2.4
#: A block, or one half of the bank against the other, so much lower under charge has lost a cell [V].
SHORTED_BLOCK = 1.5


class Pending(NamedTuple):
    """A hazard seen and waiting for its second sample, or confirmed and still there.

    Attributes
    ----------
    since : float
        First sample that showed it [s since the epoch].
    window : float
        So long without a better sample confirms it [s].
    confirmed : bool
        Whether it counts.
    finding : Finding
        What was seen last.
    """

    since: float
    window: float
    confirmed: bool
    finding: Finding


def over_limit(bank: Bank, meter: Meter, spanned: int, value: float) -> tuple[str, Finding, bool] | None:
    """Judge one believed reading against the absolute limits.

    Parameters
    ----------
    bank : Bank
        Its limits.
    meter : Meter
        What reports.
    spanned : int
        Cells that a voltage spans [1].
    value : float
        Canonical unit.

    Returns
    -------
    tuple or None
        Hazard, finding, and whether one sample is enough.

    Examples
    --------
    >>> from rules.bank.model import Block
    >>> bank = Bank("north", ((Block("N1", 12, 200.0),),))
    >>> probe = Meter("electrolyte_temperature", "electrolyte_temperature", placed="cell")
    >>> over_limit(bank, probe, 1, 43.2) is None, over_limit(bank, probe, 1, 43.4)[0]
    (True, 'over-temperature')
    """
    limits = bank.limits
    quantity = meter.quantity
    if quantity == "electrolyte_temperature":
        limit = limits.temperature_case if meter.placed == "case" else limits.temperature
        if value >= limit:
            where = "on the case" if meter.placed == "case" else "in the electrolyte"
            reason = f"{value:.1f} degC {where} ({meter.name})"
            return "over-temperature", Finding(value, limit, "degC", reason), value >= limits.temperature_absolute
    elif quantity in ("voltage", "block_voltage", "cell_voltage"):
        per_cell = value / spanned
        if per_cell > limits.cell_voltage:
            reason = f"{per_cell:.3f} V per cell ({meter.name})"
            return "over-voltage", Finding(per_cell, limits.cell_voltage, "V", reason), False
    elif quantity == "hydrogen" and value >= limits.hydrogen:
        return "gas", Finding(value, limits.hydrogen, "1", f"{100 * value:.2f} % hydrogen ({meter.name})"), False
    return None


def note(
    pending: dict[str, Pending], key: str, found: tuple[str, Finding, bool] | None, at: float
) -> dict[str, Pending]:
    """Keep or clear what one reading shows [s since the epoch]; the second sample over the limit confirms it."""
    before = pending.get(key)
    if found is None:
        if before is None:
            return pending
        return {name: entry for name, entry in pending.items() if name != key}
    _, finding, certain = found
    if before is None:
        entry = Pending(at, CONFIRM_WINDOW, certain, finding)
    else:
        entry = Pending(before.since, before.window, before.confirmed or certain or at > before.since, finding)
    return {**pending, key: entry}


def standing(
    bank: Bank,
    traces: dict[str, Trace],
    view: View,
    thermal: Thermal,
    charging_ordered: bool,
    at: float,
) -> dict[str, tuple[Finding, float]]:
    """Hazards that the bank as a whole shows now, each with how long it must last to count [s]."""
    found: dict[str, tuple[Finding, float]] = {}
    threshold = charging_threshold(bank.capacity)
    charging = view.current is not None and view.current > threshold
    over = _over_current(bank, view)
    if over is not None:
        found["over-current"] = (over, OVER_CURRENT_SECONDS)
    running = warmth.runaway(thermal)
    rate = warmth.warming_too_fast(thermal)
    if running is not None:
        mean, lowest = running
        reason = f"current {mean:.1f} A against {lowest:.1f} A at its lowest, and the electrolyte warms with it"
        found["thermal-runaway"] = (Finding(mean, warmth.RUNAWAY_GROWTH * lowest, "A", reason), 0.0)
    elif rate is not None:
        reason = f"electrolyte warms {rate:.1f} K/h"
        found["thermal-runaway"] = (Finding(rate, warmth.RATE_LIMIT, "K/h", reason), 0.0)
    if charging or charging_ordered:
        for quantity, words in (("fan", "the fan reports off"), ("door", "the door or vent reports closed")):
            for meter in bank.by_quantity.get(quantity, ()):
                trace = traces.get(meter.name)
                if trace is not None and fresh(meter, trace, at) and trace.value < 0.5:
                    found["gas"] = (Finding(reason=f"{words} while charging ({meter.name})"), CONFIRM_WINDOW / 2)
    if charging and view.volts_per_cell is not None:
        short = _shorted(bank, traces, view, at)
        if short is not None:
            found["cell-short-suspected"] = (short, CONFIRM_WINDOW)
    return found


def _over_current(bank: Bank, view: View) -> Finding | None:
    limit = OVER_CURRENT_FACTOR * bank.string_current_limit
    if view.strings:
        worst = max(view.strings)
        number = view.strings.index(worst) + 1
        return Finding(worst, limit, "A", f"string {number} takes {worst:.1f} A") if worst > limit else None
    if view.current is None:
        return None
    share = view.current / len(bank.strings)
    if share <= limit:
        return None
    estimated = " (estimated: total over strings)" if len(bank.strings) > 1 or view.estimated else ""
    return Finding(share, limit, "A", f"{share:.1f} A per string{estimated}")


def _shorted(bank: Bank, traces: dict[str, Trace], view: View, at: float) -> Finding | None:
    cells = _fresh(bank, traces, "cell_voltage", at)
    if len(cells) >= 3:
        name, lowest = min(cells, key=lambda pair: pair[1])
        others = median([value for other, value in cells if other != name])
        if lowest < SHORTED_CELL and others >= HEALTHY_CELL:
            return Finding(
                lowest, SHORTED_CELL, "V", f"cell {name} stays at {lowest:.2f} V, the others at {others:.2f} V"
            )
    blocks = _fresh(bank, traces, "block_voltage", at)
    if len(blocks) >= 3:
        name, lowest = min(blocks, key=lambda pair: pair[1])
        others = median([value for other, value in blocks if other != name])
        if others - lowest >= SHORTED_BLOCK:
            return Finding(
                lowest, others - SHORTED_BLOCK, "V", f"block {name} is {others - lowest:.1f} V under the others"
            )
    midpoints = _fresh(bank, traces, "midpoint_voltage", at)
    if midpoints and view.voltage is not None and not view.voltage_by_hand:
        name, value = midpoints[0]
        apart = abs(view.voltage - 2.0 * value)
        if apart >= SHORTED_BLOCK:
            return Finding(apart, SHORTED_BLOCK, "V", f"the halves of the bank are {apart:.1f} V apart")
    return None


def _fresh(bank: Bank, traces: dict[str, Trace], quantity: str, at: float) -> list[tuple[str, float]]:
    pairs = []
    for meter in bank.by_quantity.get(quantity, ()):
        trace = traces.get(meter.name)
        if trace is not None and fresh(meter, trace, at):
            pairs.append((meter.index or meter.name, trace.value))
    return pairs


def lasting(pending: dict[str, Pending], found: dict[str, tuple[Finding, float]], at: float) -> dict[str, Pending]:
    """Fold what stands now [s since the epoch] into what is pending; entries with a ``|`` confirm by waiting."""
    result: dict[str, Pending] = {}
    for key, entry in pending.items():
        if "|" in key:
            waited = entry.confirmed or at - entry.since >= entry.window
            result[key] = entry if waited == entry.confirmed else entry._replace(confirmed=True)
    for name, (finding, duration) in found.items():
        before = pending.get(name)
        since = at if before is None else before.since
        result[name] = Pending(since, duration, at - since >= duration, finding)
    return result


def confirmed(pending: dict[str, Pending]) -> dict[str, Finding]:
    """Hazards that count now, by name."""
    return {key.split("|", 1)[0]: entry.finding for key, entry in pending.items() if entry.confirmed}
