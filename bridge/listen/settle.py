"""What one value says about another: which way a current counts, and whose a power or a midpoint is."""

from __future__ import annotations

from bridge.listen.guess import SURE_ENOUGH, Guess, nominal_cells


def settle_sign(current: Guess, voltage: Guess | None) -> Guess:
    """Which way a current counts, from what the voltage does beside it.

    No lead-acid cell stands above 2.13 V while it is being discharged (at rest a full one shows less), and hardly any
    below 2.0 V while it takes a charge (common practice, no source).
    """
    amps = current.value
    cells = None if voltage is None else nominal_cells(voltage.value)
    if voltage is None or cells is None:
        return current._replace(
            sure=current.sure - 0.1, reasons=(*current.reasons, "sign not known: no voltage beside it")
        )
    per_cell = voltage.value / cells
    if abs(amps) < 0.5:
        why = "nothing flowed: see that charging shows as positive"
        return current._replace(sure=min(current.sure, 0.65), reasons=(*current.reasons, why))
    if amps < 0 and per_cell > 2.13:
        why = f"{amps:.1f} A at {per_cell:.2f} V per cell can only be charging: the meter counts discharge as positive"
        return current._replace(sign="discharging", sure=max(0.7, current.sure - 0.1), reasons=(*current.reasons, why))
    if amps > 0 and per_cell < 2.0:
        why = f"{amps:.1f} A at {per_cell:.2f} V per cell: charging a dead bank, or discharging with the sign turned?"
        return current._replace(sure=0.5, reasons=(*current.reasons, why))
    if amps < 0:
        why = f"{amps:.1f} A at {per_cell:.2f} V per cell: discharging, or a turned sign? look again under charge"
        return current._replace(sure=min(current.sure, 0.65), reasons=(*current.reasons, why))
    return current._replace(reasons=(*current.reasons, f"positive at {per_cell:.2f} V per cell: charging"))


def settle_power(power: Guess, voltage: Guess, current: Guess) -> Guess:
    """Whether a power is that of the bank: volts times amps, within a tenth."""
    product = abs(voltage.value * current.value)
    if product < 10.0:
        return power
    if abs(abs(power.value) - product) < 0.1 * product:
        turned = power.value < 0 and settle_sign(current, voltage).sign == "discharging"
        sign = "discharging" if turned else "charging"
        sure = max(0.9, power.sure) if power.sure >= SURE_ENOUGH else power.sure
        return power._replace(sure=sure, sign=sign, reasons=(*power.reasons, "volts times amps agree"))
    if power.unit == "W" and power.source.unit is None and abs(abs(power.value) - product / 1000.0) < 1e-4 * product:
        return power._replace(unit="kW", reasons=(*power.reasons[:-1], "volts times amps agree if it is kW"))
    why = f"volts times amps are {product:.0f} W, this says {power.value:.0f} W: another circuit's?"
    return power._replace(sure=min(0.5, power.sure), reasons=(*power.reasons, why))


def settle_midpoint(midpoint: Guess, voltage: Guess | None) -> Guess:
    """Whether a midpoint stands near half of the bank."""
    if voltage is None or abs(midpoint.value - voltage.value / 2.0) < 0.1 * voltage.value:
        return midpoint
    why = f"{midpoint.value:g} V is not near half of {voltage.value:g} V"
    return midpoint._replace(sure=min(0.5, midpoint.sure), reasons=(*midpoint.reasons, why))
