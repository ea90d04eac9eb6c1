"""What a meter can measure: name, canonical unit, and what is plausible."""

from __future__ import annotations

from typing import NamedTuple

#: Above this a contact, a fan or a door reads on: it reports 0 or 1 [1].
ON_ABOVE = 0.5


class Quantity(NamedTuple):
    """One measurable quantity.

    Attributes
    ----------
    name : str
        The trade's term, as the cabin file writes it.
    unit : str
        Canonical unit inside the bridge; ``"1"`` for a fraction, ``"boolean"`` for a contact.
    low, high : float
        Plausible range in the canonical unit: per cell where ``per_cell``, else absolute.
    per_cell : bool
        Whether the range is multiplied by the number of cells the reading spans.
    """

    name: str
    unit: str
    low: float
    high: float
    per_cell: bool = False


#: Ranges are wide on purpose: they catch wrong units and broken probes, not unusual batteries.
#: A cell may read slightly negative (reversed) and a charger may overshoot: -0.5 to 3.5 V per cell. One block or cell
#: may be joined backward and then reads as far below zero as it should above: that must be believed to be found.
QUANTITIES: dict[str, Quantity] = {
    quantity.name: quantity
    for quantity in (
        Quantity("voltage", "V", -0.5, 3.5, per_cell=True),
        Quantity("current", "A", -2000.0, 2000.0),
        Quantity("power", "W", -100_000.0, 100_000.0),
        Quantity("electrolyte_temperature", "degC", -50.0, 120.0),
        Quantity("ambient_temperature", "degC", -60.0, 80.0),
        Quantity("block_voltage", "V", -3.5, 3.5, per_cell=True),
        Quantity("cell_voltage", "V", -3.5, 3.5, per_cell=True),
        Quantity("midpoint_voltage", "V", -0.5, 3.5, per_cell=True),
        Quantity("string_current", "A", -1000.0, 1000.0),
        Quantity("ac_voltage", "V", 0.0, 300.0),
        Quantity("ac_current", "A", 0.0, 200.0),
        Quantity("ac_power", "W", 0.0, 50_000.0),
        Quantity("hydrogen", "1", 0.0, 1.0),
        Quantity("fan", "boolean", 0.0, 1.0),
        Quantity("door", "boolean", 0.0, 1.0),
        Quantity("relay_state", "boolean", 0.0, 1.0),
        Quantity("gravity", "1", 1.0, 1.4),
        Quantity("level", "mm", -200.0, 200.0),
    )
}

#: Quantities that tell the bank's current, the most direct first: where one is alive, those behind it do not count.
CURRENT_QUANTITIES = ("current", "string_current", "power", "ac_power", "ac_current")
