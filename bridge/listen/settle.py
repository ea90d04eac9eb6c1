"""Which way a current counts, and whether a midpoint is one, from the voltage beside it."""

from __future__ import annotations

from bridge.listen.guess import Guess
from bridge.listen.shape import cells_by_parts

#: No lead-acid cell stands above this while it is discharged, and hardly any below the other while it takes a charge
#: [V] (common practice, no source).
CHARGING_ABOVE, _HARDLY_BELOW = 2.13, 2.0
#: Less than this is nothing [A].
_FLOWS = 0.3
#: A midpoint stands near half of the bank [share].
_HALF = 0.05


def settle_sign(current: Guess, voltage: Guess | None, blocks: int = 1) -> Guess:
    """Return the current with the sign that the volts allow.

    A flooded cell above 2.13 V is being charged, whatever the meter's sign says; between 2.0 and 2.13 V both ways are
    possible, and it is asked.
    """
    amps = current.value
    cells = 0 if voltage is None else cells_by_parts(voltage, blocks)
    if voltage is None or not cells:
        return current.because("sign not known", "sign not known: no voltage beside it")
    per_cell = voltage.value / cells
    if abs(amps) < _FLOWS:
        return current.because("sign not known", "nothing flowed: see that charging shows as positive")
    if per_cell > CHARGING_ABOVE:
        if amps > 0:
            return current.because("sign shown", f"positive at {per_cell:.2f} V per cell: charging")
        why = f"{amps:.1f} A at {per_cell:.2f} V per cell can only be charging: the meter counts discharge as positive"
        return current._replace(sign="discharging").because("sign turned", why)
    if amps > 0 and per_cell < _HARDLY_BELOW:
        why = f"{amps:.1f} A at {per_cell:.2f} V per cell: charging a dead bank, or discharging with the sign turned?"
        return current.because("sign in doubt", why)
    way = "charging, or discharging with the sign turned" if amps > 0 else "discharging, or a turned sign"
    why = f"{amps:.1f} A at {per_cell:.2f} V per cell: {way}? look again under charge"
    return current.because("sign not known", why)


def settle_midpoint(midpoint: Guess, voltage: Guess | None) -> Guess:
    """Return the midpoint with what its place between nothing and the bank's volts says."""
    if voltage is None:
        return midpoint
    if abs(midpoint.value - voltage.value / 2.0) <= _HALF * voltage.value:
        return midpoint.because("half of the bank", f"half of {voltage.value:g} V")
    return midpoint.because("not half of the bank", f"{midpoint.value:g} V is not near half of {voltage.value:g} V")
