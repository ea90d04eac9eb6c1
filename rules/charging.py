"""What a charger may and can give: limits, temperature, strings side by side, the AC side."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple


class ChargerKind(NamedTuple):
    """Power factor [1] and efficiency [1] of a kind of charger; common practice, no source."""

    power_factor: float
    efficiency: float


CORRECTED = ChargerKind(0.99, 0.88)
PLAIN = ChargerKind(0.65, 0.80)


def string_current_limit(capacity: float) -> float:
    """Bulk current that one string may take where its owner knows no better.

    Parameters
    ----------
    capacity : float
        Rated at the 20-hour rate, of the string's smallest block [Ah].

    Returns
    -------
    float
        [A].

    Raises
    ------
    ValueError
        No capacity.

    Notes
    -----
    The smaller of 30 A and 0.13 x C20; common practice, no source.

    Examples
    --------
    >>> string_current_limit(225.0)
    29.25
    >>> string_current_limit(370.0)
    30.0
    """
    return min(30.0, 0.13 * _capacity(capacity))


def finishing_current(capacity: float) -> float:
    """Current that is enough above 2.40 V per cell.

    Parameters
    ----------
    capacity : float
        Rated at the 20-hour rate, of one string [Ah].

    Returns
    -------
    float
        Per string [A].

    Raises
    ------
    ValueError
        No capacity.

    Notes
    -----
    0.06 x C20; common practice, no source.

    Examples
    --------
    >>> finishing_current(200.0)
    12.0
    """
    return 0.06 * _capacity(capacity)


def compensated_voltage(volts_per_cell: float, temperature: float, coefficient: float, ceiling: float = 2.72) -> float:
    """Voltage that a temperature-compensated charger regulates to.

    Parameters
    ----------
    volts_per_cell : float
        Setting at 25 degC [V].
    temperature : float
        Of the electrolyte, -40 to 60 [degC].
    coefficient : float
        Per cell, -0.01 to 0; -0.005 is usual, 0 is no compensation [V/K].
    ceiling : float
        Highest that cold may raise it to; a setting that is higher already stays [V].

    Returns
    -------
    float
        Per cell [V].

    Raises
    ------
    ValueError
        A temperature no charger compensates for, or a coefficient with the wrong sign or unit (mV).

    Notes
    -----
    Slope of 0.028 V per 10 degF, that is -5 mV/K: common practice, no source.

    Examples
    --------
    >>> round(compensated_voltage(2.58, 10.0, -0.005), 3)
    2.655
    >>> round(compensated_voltage(2.58, 40.0, -0.005), 3)
    2.505
    """
    if not -40.0 <= temperature <= 60.0:
        raise ValueError(f"electrolyte at {temperature:g} degC is outside temperature compensation, -40 to 60 degC")
    if not -0.01 <= coefficient <= 0.0:
        raise ValueError(f"compensation of {coefficient:g} V/K per cell cannot be; it lies between -0.010 and 0")
    return min(volts_per_cell + coefficient * (temperature - 25.0), max(ceiling, volts_per_cell))


class StringShares(NamedTuple):
    """Common voltage [V] and the current of each string, positive = charging [A]."""

    volts: float
    currents: tuple[float, ...]


def shares_at_voltage(volts: float, emfs: Sequence[float], resistances: Sequence[float]) -> StringShares:
    """Current of each parallel string where the charger holds the voltage.

    Parameters
    ----------
    volts : float
        Common voltage [V].
    emfs : sequence of float
        Rest voltage of each string [V].
    resistances : sequence of float
        Of each string [ohm].

    Returns
    -------
    StringShares
        Common voltage [V] and string currents [A].

    Raises
    ------
    ValueError
        A resistance that is not positive, or lists of different length.

    Notes
    -----
    Ohm's law.

    Examples
    --------
    >>> shares = shares_at_voltage(28.8, (26.4, 27.6), (0.060, 0.120))
    >>> [round(amps, 1) for amps in shares.currents]
    [40.0, 10.0]
    """
    _strings(emfs, resistances)
    return StringShares(volts, tuple((volts - emf) / ohms for emf, ohms in zip(emfs, resistances, strict=True)))


def string_shares(current: float, emfs: Sequence[float], resistances: Sequence[float]) -> StringShares:
    """How a charger's current divides between parallel strings.

    Parameters
    ----------
    current : float
        Of the bank, positive = charging [A].
    emfs : sequence of float
        Rest voltage of each string [V].
    resistances : sequence of float
        Of each string [ohm].

    Returns
    -------
    StringShares
        Common voltage [V] and string currents [A].

    Raises
    ------
    ValueError
        A resistance that is not positive, or lists of different length.

    Notes
    -----
    Kirchhoff's and Ohm's laws. One shorted cell makes its string take more than the charger gives.

    Examples
    --------
    >>> shares = string_shares(30.0, (25.2, 25.2, 23.2), (0.060, 0.060, 0.060))
    >>> round(shares.volts, 2), [round(amps, 1) for amps in shares.currents]
    (25.13, [-1.1, -1.1, 32.2])
    """
    _strings(emfs, resistances)
    driven = sum(emf / ohms for emf, ohms in zip(emfs, resistances, strict=True))
    volts = (current + driven) / sum(1.0 / ohms for ohms in resistances)
    return shares_at_voltage(volts, emfs, resistances)


def current_from_ac(
    ac_volts: float,
    ac_amps: float,
    bank_volts: float,
    power_factor: float = CORRECTED.power_factor,
    efficiency: float = CORRECTED.efficiency,
) -> float:
    """DC current estimated from the AC side of a charger.

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
    if not (ac_volts >= 0 and ac_amps >= 0):
        raise ValueError(f"AC of {ac_volts} V and {ac_amps} A cannot feed a charger; both must be 0 or more")
    if not bank_volts > 0:
        raise ValueError(f"a bank at {bank_volts} V tells nothing about the current of its charger")
    return ac_volts * ac_amps * power_factor * efficiency / bank_volts


def ac_current_for(
    volts: float,
    amps: float,
    ac_volts: float = 120.0,
    power_factor: float = CORRECTED.power_factor,
    efficiency: float = CORRECTED.efficiency,
) -> float:
    """AC current that a charger draws for what it gives.

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
    if not (volts >= 0 and amps >= 0):
        raise ValueError(f"a charger cannot give {volts} V and {amps} A; both must be 0 or more")
    if not ac_volts > 0:
        raise ValueError(f"an outlet at {ac_volts} V feeds no charger")
    return volts * amps / (ac_volts * power_factor * efficiency)


def circuit_continuous_limit(amps: float) -> float:
    """What a circuit may carry for three hours or more.

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
    if not amps > 0:
        raise ValueError(f"a circuit rated {amps} A carries nothing")
    return amps / 1.25


def _capacity(capacity: float) -> float:
    if not capacity > 0:
        raise ValueError(f"a battery of {capacity} Ah has no capacity to charge")
    return capacity


def _strings(emfs: Sequence[float], resistances: Sequence[float]) -> None:
    if not emfs or len(emfs) != len(resistances):
        raise ValueError(f"{len(emfs)} rest voltages and {len(resistances)} resistances do not describe the strings")
    if not all(ohms > 0 for ohms in resistances):
        raise ValueError("every string has a resistance above 0 ohm")


def _shares_of_one(power_factor: float, efficiency: float) -> None:
    if not (0.0 < power_factor <= 1.0 and 0.0 < efficiency <= 1.0):
        raise ValueError(f"power factor {power_factor} and efficiency {efficiency} must lie above 0 and up to 1")
