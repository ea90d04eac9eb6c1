"""Hazards that latch: what one reading shows, and what the bank as a whole shows; `evidence` says how much counts."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from statistics import median
from typing import NamedTuple

from rules.bank import ON_ABOVE, Bank, Meter
from rules.bank_view import View, charges
from rules.meters import CONFIRM_WINDOW, Thermal
from rules.meters import warming as warmth
from rules.phase import HELD, PhaseMemory
from rules.safety.interlock import Finding
from rules.verdict import FEWEST_COMPARED

#: Over-current counts from this factor over the string limit, for so long [1], [s].
OVER_CURRENT_FACTOR, OVER_CURRENT_SECONDS = 1.25, 30.0
#: A cell under the first while the others pass the second is shorted [V] (common practice, no source).
SHORTED_CELL, HEALTHY_CELL = 2.2, 2.4
#: A block, or one half of the bank against the other, so much lower under charge has lost a cell [V].
SHORTED_BLOCK = 1.5
#: Mates above this are under charge, and not merely flat [V per cell].
CHARGED = 2.15
#: A block that loses so much against its own past while its mates stand, to within so much, has lost a cell or is
#: losing one [V] (common practice, no source); a look so often, kept so long [s].
FALLEN_BLOCK, MATES_STAND = 0.5, 0.1
#: One that falls to the level of its mates has woken; one that loses a cell falls below them, and by more than sound
#: blocks differ [V per cell] (assumed).
BELOW_MATES = 0.1
#: As long as a bank wakes its blocks share the volts unevenly, by 0.35 V per cell in models of sealed plates, and those
#: that have woken hang behind the others: only a mean below this is no sound cell's on charge [V per cell] (common
#: practice, no source).
SOUND_CELL = 2.1
BLOCKS_EVERY, BLOCKS_KEPT = 600.0, 7200.0


class Blocks(NamedTuple):
    """Volts of the blocks under charge at one moment [s since the epoch], by label [V]."""

    at: float
    volts: dict[str, float]


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
            reason = f"{value:.1f} degC {where}{meter.whereabouts}"
            return "over-temperature", Finding(value, limit, "degC", reason), value >= limits.temperature_absolute
    elif quantity in ("voltage", "block_voltage", "cell_voltage"):
        per_cell = value / spanned
        if per_cell > limits.cell_voltage:
            reason = f"{per_cell:.3f} V per cell{meter.whereabouts}"
            return "over-voltage", Finding(per_cell, limits.cell_voltage, "V", reason), False
    elif quantity == "hydrogen" and value >= limits.hydrogen:
        return "gas", Finding(value, limits.hydrogen, "1", f"{100 * value:.2f} % hydrogen{meter.whereabouts}"), False
    return None


def standing(
    bank: Bank,
    view: View,
    thermal: Thermal,
    charging_ordered: bool,
    phase: PhaseMemory,
    past: Sequence[Blocks] = (),
) -> dict[str, tuple[Finding, float]]:
    """Return hazards that the bank as a whole shows now, each with how long it must last to count [s]."""
    found: dict[str, tuple[Finding, float]] = {}
    charging = charges(bank, view)
    over = _over_current(bank, view)
    if over is not None:
        found["over-current"] = (over, OVER_CURRENT_SECONDS)
    running = warmth.runaway(thermal, phase.track.past_peak, phase.phase in HELD)
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
            for meter, value in view.living.get(quantity, ()):
                if value < ON_ABOVE:
                    found["gas"] = (Finding(reason=f"{words} while charging{meter.whereabouts}"), CONFIRM_WINDOW / 2)
    if charging and view.volts_per_cell is not None:
        short = _shorted(bank, view, phase.woken, past)
        if short is not None:
            found["cell-short-suspected"] = (short, CONFIRM_WINDOW)
    return found


def _over_current(bank: Bank, view: View) -> Finding | None:
    limit = OVER_CURRENT_FACTOR * bank.string_current_limit
    if view.strings:
        return hogging(bank, view.strings)
    if view.current is None:
        return None
    share = view.current / len(bank.strings)
    if share <= limit:
        return None
    estimated = " (estimated: total over strings)" if len(bank.strings) > 1 or view.estimated else ""
    return Finding(share, limit, "A", f"{share:.1f} A per string{estimated}")


def lowest_block(bank: Bank, volts: Mapping[str, float]) -> Finding | None:
    """Find blocks under charge that lie a cell below their mates of the same size, in one string or over all.

    Parameters
    ----------
    bank : Bank
        As joined now.
    volts : dict
        Block label -> volts under charge [V]; other places are passed over.

    Examples
    --------
    >>> from rules.bank.model import Block
    >>> bank = Bank("north", (tuple(Block(f"N{n}", 3, 200.0) for n in range(1, 5)),))
    >>> lowest_block(bank, {"N1": 6.9, "N2": 6.9, "N3": 6.8, "N4": 4.6}).reason
    'block N4 stands at 4.60 V and the others at 6.90 V'
    """
    every = [block for string in bank.strings for block in string if block.label in volts]
    for string in (*bank.strings, every):
        for cells in {block.cells for block in string}:
            known = {
                block.label: volts[block.label] for block in string if block.cells == cells and block.label in volts
            }
            if len(known) <= 1:
                continue
            label = min(known, key=lambda name: known[name])
            others = median([value for name, value in known.items() if name != label])
            if others - known[label] >= SHORTED_BLOCK and others >= CHARGED * cells:
                low = {name: value for name, value in known.items() if others - value >= SHORTED_BLOCK}
                why = f"block{'s' * (len(low) > 1)} {_listed(list(low))} stand{'s' * (len(low) == 1)} at "
                why += f"{_listed([f'{value:.2f} V' for value in low.values()])} and the others at {others:.2f} V"
                return Finding(known[label], others - SHORTED_BLOCK, "V", why)
    return None


def _listed(names: Sequence[str]) -> str:
    """Return names in one phrase.

    Examples
    --------
    >>> _listed(["N1"]), _listed(["N1", "N2", "N4"])
    ('N1', 'N1, N2 and N4')
    """
    return f"{', '.join(names[:-1])} and {names[-1]}" if len(names) > 1 else names[0]


def fallen_block(bank: Bank, volts: Mapping[str, float], past: Sequence[Blocks]) -> Finding | None:
    """Find a block that has lost volts against its own last two hours while its mates in the string have not.

    Parameters
    ----------
    bank : Bank
        As joined now.
    volts : dict
        Block label -> volts under charge now [V].
    past : sequence of Blocks
        The same, every ten minutes of the charge since.
    """
    for string in bank.strings:
        sizes = {block.label: block.cells for block in string if block.label in volts}
        for label, size in sizes.items() if len(sizes) > 1 else ():
            level = size * median([volts[mate] / cells for mate, cells in sizes.items() if mate != label])
            if level - volts[label] < BELOW_MATES * size:
                continue
            for then in past:
                mates = [volts[mate] - then.volts[mate] for mate in sizes if mate != label and mate in then.volts]
                fall = then.volts.get(label, volts[label]) - volts[label]
                if mates and fall >= FALLEN_BLOCK and median(mates) >= -MATES_STAND:
                    why = f"block {label} fell by {fall:.2f} V within two hours while its mates did not"
                    return Finding(volts[label], volts[label] + fall - FALLEN_BLOCK, "V", why)
    return None


def hogging(bank: Bank, amps: Sequence[float]) -> Finding | None:
    """Find the string that takes more than its limit by so much that it trips [A]."""
    limit = OVER_CURRENT_FACTOR * bank.string_current_limit
    worst = max(amps, default=0.0)
    if worst <= limit:
        return None
    return Finding(worst, limit, "A", f"string {list(amps).index(worst) + 1} takes {worst:.1f} A")


def remember_blocks(past: tuple[Blocks, ...], volts: Mapping[str, float], at: float) -> tuple[Blocks, ...]:
    """Return two hours of block volts [V] under charge, a look every ten minutes, the newest now [s since the epoch].

    Nothing of a charge that was interrupted.
    """
    if not volts:
        return ()
    if past and at - past[-1].at < BLOCKS_EVERY:
        return past
    return (*[then for then in past if at - then.at < BLOCKS_KEPT], Blocks(at, dict(volts)))


def _shorted(bank: Bank, view: View, woken: bool, past: Sequence[Blocks]) -> Finding | None:
    cells = _placed(view, "cell_voltage")
    if len(cells) >= FEWEST_COMPARED:
        name, lowest = min(cells, key=lambda pair: pair[1])
        others = median([value for other, value in cells if other != name])
        if lowest < SHORTED_CELL and others >= HEALTHY_CELL:
            return Finding(
                lowest, SHORTED_CELL, "V", f"cell {name} stays at {lowest:.2f} V, the others at {others:.2f} V"
            )
    blocks = dict(_placed(view, "block_voltage"))
    sizes = {block.label: block.cells for string in bank.strings for block in string}
    no_sound_cell = any(volts < SOUND_CELL * sizes[label] for label, volts in blocks.items() if label in sizes)
    found = lowest_block(bank, blocks) if woken or no_sound_cell else None
    found = found or fallen_block(bank, blocks, past)
    if found is not None:
        return found
    midpoints = view.values("midpoint_voltage")
    if midpoints and view.voltage is not None and not view.voltage_by_hand:
        apart = max(abs(view.voltage - 2.0 * midpoint) for midpoint in midpoints)
        low = min(min(midpoint, view.voltage - midpoint) for midpoint in midpoints) < 0.5 * SOUND_CELL * bank.cells
        if apart >= SHORTED_BLOCK and (woken or low):
            return Finding(apart, SHORTED_BLOCK, "V", f"the halves of the bank are {apart:.1f} V apart")
    return None


def _placed(view: View, quantity: str) -> list[tuple[str, float]]:
    """Return where each living meter of a quantity sits, and what it shows [V]."""
    return [(meter.index or meter.name, value) for meter, value in view.living.get(quantity, ())]
