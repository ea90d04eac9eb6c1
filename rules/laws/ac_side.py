"""The AC side of a charger: amps seen there and at the bank, and what the circuit may carry."""

from __future__ import annotations

from typing import NamedTuple

from rules.laws.curves import finite


class ChargerKind(NamedTuple):
    """Power factor [1] and efficiency [1] of a kind of charger; common practice, no source."""

    power_factor: float
    efficiency: float


CORRECTED = ChargerKind(0.99, 0.88)
PLAIN = ChargerKind(0.65, 0.80)


def current_from_ac(
    ac_volts: float,
    ac_amps: float,
    bank_volts: float,
    power_factor: float = CORRECTED.power_factor,
    efficiency: float = CORRECTED.efficiency,
) -> float:
    """Return DC current estimated from the AC side of a charger.

    Parameters
    ----------
    ac_volts : float
        [V].
    ac_amps : float
        [A].
    bank_volts : float
        [V].
    power_factor, efficiency : float
        Over 0 to 1 [1].

    Returns
    -------
    float
        [A].

    Raises
    ------
    ValueError
        A power factor or efficiency outside 0 to 1, negative AC, or a bank without voltage.

    Notes
    -----
    Conservation of energy; the defaults are common practice, no source.

    Examples
    --------
    >>> round(current_from_ac(120.0, 12.0, 29.0), 1)
    43.3
    """
    _shares_of_one(power_factor, efficiency)
    if not (ac_volts >= 0 and ac_amps >= 0 and finite(ac_volts, ac_amps)):
        raise ValueError(f"AC of {ac_volts} V and {ac_amps} A cannot feed a charger; both must be 0 or more")
    if not (bank_volts > 0 and finite(bank_volts)):
        raise ValueError(f"a bank at {bank_volts} V tells nothing about the current of its charger")
    return ac_volts * ac_amps * power_factor * efficiency / bank_volts


def ac_current_for(
    volts: float,
    amps: float,
    ac_volts: float = 120.0,
    power_factor: float = CORRECTED.power_factor,
    efficiency: float = CORRECTED.efficiency,
) -> float:
    """Return AC current that a charger draws for what it gives.

    Parameters
    ----------
    volts, amps : float
        On the DC side [V], [A].
    ac_volts : float
        [V].
    power_factor, efficiency : float
        Over 0 to 1 [1].

    Returns
    -------
    float
        [A].

    Raises
    ------
    ValueError
        A power factor or efficiency outside 0 to 1, negative DC, or no AC voltage.

    Notes
    -----
    Inverse of `current_from_ac`.

    Examples
    --------
    >>> round(ac_current_for(31.0, 20.0, 120.0, 0.70, 0.85), 2)
    8.68
    """
    _shares_of_one(power_factor, efficiency)
    if not (volts >= 0 and amps >= 0 and finite(volts, amps)):
        raise ValueError(f"a charger cannot give {volts} V and {amps} A; both must be 0 or more")
    if not (ac_volts > 0 and finite(ac_volts)):
        raise ValueError(f"an outlet at {ac_volts} V feeds no charger")
    return volts * amps / (ac_volts * power_factor * efficiency)


def circuit_continuous_limit(amps: float) -> float:
    """Return what a circuit may carry for three hours or more.

    Parameters
    ----------
    amps : float
        Rating of the breaker or fuse [A].

    Returns
    -------
    float
        [A].

    Raises
    ------
    ValueError
        No rating.

    Notes
    -----
    80 percent: a continuous load counts at 125 percent, source 8. Local codes overrule it.

    Examples
    --------
    >>> circuit_continuous_limit(15.0)
    12.0
    """
    if not (amps > 0 and finite(amps)):
        raise ValueError(f"a circuit rated {amps} A carries nothing")
    return amps / 1.25


def _shares_of_one(power_factor: float, efficiency: float) -> None:
    if not (0.0 < power_factor <= 1.0 and 0.0 < efficiency <= 1.0):
        raise ValueError(f"power factor {power_factor} and efficiency {efficiency} must lie above 0 and up to 1")
